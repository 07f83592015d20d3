"""Signing in, and proving again who somebody is."""

from django import forms
from django.contrib.auth import forms as auth
from django.http import HttpRequest

from jobs.people.models import Person
from shopledger.signin import second
from shopledger.signin.throttle import guess
from shopledger.signin.ways_in import may_sign_in

WRONG_CODE = (
    "This sign-in has a second factor. Type the six digits that your device shows now, or one of the codes on paper; "
    "after several wrong ones it waits before it takes another."
)
KEY_NEXT = "The password is right. Now use your passkey, or type the password again with one of your codes on paper."
KEY_HEADING = "Now your passkey, or a code on paper:"
CODE_HEADING = "Now a code of your second factor:"


class SecondFactor(forms.Form):
    """What a password is not enough for, where its person has set up a second factor."""

    code = forms.CharField(
        label="Code of the second factor",
        required=False,
        max_length=16,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )

    half_way: Person | None = None  # who gave the right password, and must use a second factor next

    def ask_second(self, person: Person) -> bool:
        """Whether the person of the right password has a second factor, and its code fits; where it does not, the form
        says so. A wrong one counts as at sign-in."""
        if not second.has_second_factor(person):
            return False
        code = "".join(self.cleaned_data.get("code", "").split())
        if not code:  # left out, which guesses nothing
            self.half_way = person if second.has_passkey(person) else None
            self.errors_heading = KEY_HEADING if self.half_way else CODE_HEADING
            self.add_error("code", KEY_NEXT if self.half_way else WRONG_CODE)
        elif guess(self.request, person.username, lambda: second.fits(person, code)):
            return True
        else:
            self.add_error("code", WRONG_CODE)
        return False


class SignInForm(SecondFactor, auth.AuthenticationForm):
    # One sentence for an unknown name, a wrong password and a person who left, so that it tells nobody
    # which names exist.
    error_messages = {
        **auth.AuthenticationForm.error_messages,
        "invalid_login": (
            "This username and password do not belong together. Check both; capitals count in a password."
        ),
    }
    errors_heading = "Not signed in. Please put this right:"

    def __init__(self, *args: object, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Username"
        self.fields["username"].error_messages["required"] = "Enter your username."
        self.fields["password"].error_messages["required"] = "Enter your password."
        self.fields["code"].help_text = "Only where you have set one up."

    def confirm_login_allowed(self, user: Person) -> None:
        """An inspector's access that has ended is told like a wrong password: it says nothing about who exists."""
        super().confirm_login_allowed(user)
        if not may_sign_in(user):
            raise self.get_invalid_login_error()

    def clean(self) -> dict:
        said = super().clean()
        user = self.get_user()
        if user is not None and self.ask_second(user):
            self.request.signed_in_by = "password and code"
        return said


class CodeForm(forms.Form):
    code = forms.CharField(
        label="The six digits that it shows now",
        max_length=16,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
        error_messages={"required": "Type the six digits that the device shows."},
    )

    def clean_code(self) -> str:
        return "".join(self.cleaned_data["code"].split())


class PasswordAgainForm(forms.Form):
    """The password of who is signed in: a wrong one counts as at sign-in."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Enter your password."},
    )

    def __init__(self, *args, request: HttpRequest, **kwargs):
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_password(self) -> str:
        password, person = self.cleaned_data["password"], self.request.user
        if not guess(self.request, person.username, lambda: person.check_password(password)):
            raise forms.ValidationError("This is not your password.")
        return password


class AgainForm(SecondFactor, PasswordAgainForm):
    """All that the person gave to sign in: the password, and the second factor where there is one."""

    errors_heading = "Nothing was changed yet. Please put this right:"

    def __init__(self, *args, request: HttpRequest, **kwargs):
        super().__init__(*args, request=request, **kwargs)
        code = self.fields["code"]
        if not second.has_second_factor(request.user):
            del self.fields["code"]
        elif second.has_passkey(request.user):
            code.help_text = "Leave it empty to use your passkey."
        else:
            code.required, code.error_messages["required"] = True, WRONG_CODE

    def clean(self) -> dict:
        said = super().clean()
        if not self.errors:
            self.ask_second(self.request.user)
        return said
