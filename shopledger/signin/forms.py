"""Signing in."""

from django import forms
from django.contrib.auth import forms as auth
from django_otp import devices_for_user, match_token

from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger.inspectors.models import InspectorAccess

WRONG_CODE = (
    "This sign-in has a second factor. Type the six digits that your device shows now, or one of the codes on paper; "
    "after several wrong ones it waits before it takes another."
)


class SignInForm(auth.AuthenticationForm):
    # One sentence for an unknown name, a wrong password and a person who left, so that it tells nobody
    # which names exist.
    error_messages = {
        **auth.AuthenticationForm.error_messages,
        "invalid_login": (
            "This username and password do not belong together. Check both; capitals count in a password."
        ),
    }
    code = forms.CharField(
        label="Code of the second factor",
        required=False,
        max_length=16,
        help_text="Only where you have set one up.",
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )

    errors_heading = "Not signed in. Please put this right:"

    def __init__(self, *args: object, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Username"
        self.fields["username"].error_messages["required"] = "Enter your username."
        self.fields["password"].error_messages["required"] = "Enter your password."

    def confirm_login_allowed(self, user: Person) -> None:
        """An inspector's access that has ended is told like a wrong password: it says nothing about who exists."""
        super().confirm_login_allowed(user)
        if user.role == "inspector":
            access = InspectorAccess.objects.filter(person=user).first()
            if access is None or not access.open_on(today()):
                raise self.get_invalid_login_error()

    def clean(self) -> dict:
        said = super().clean()
        user = self.get_user()
        if user is None or not any(devices_for_user(user)):
            return said
        code = "".join(said.get("code", "").split())
        user.otp_device = match_token(user, code) if code else None
        if user.otp_device is None:
            self.add_error("code", WRONG_CODE)
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
    password = forms.CharField(
        label="Your password",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Enter your password."},
    )

    def __init__(self, *args, person: Person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_password(self) -> str:
        password = self.cleaned_data["password"]
        if not self.person.check_password(password):
            raise forms.ValidationError("This is not your password.")
        return password
