"""Signing in, and what a person sets for themselves."""

from django import forms
from django.contrib.auth import forms as auth

from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger.inspectors.models import InspectorAccess


class SignInForm(auth.AuthenticationForm):
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

    def confirm_login_allowed(self, user: Person) -> None:
        """An inspector's access that has ended is told like a wrong password: it says nothing about who exists."""
        super().confirm_login_allowed(user)
        if user.role == "inspector":
            access = InspectorAccess.objects.filter(person=user).first()
            if access is None or not access.open_on(today()):
                raise self.get_invalid_login_error()


class UnitsForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ["mass_unit", "volume_unit"]
        labels = {"mass_unit": "Refrigerant in", "volume_unit": "Oil in"}
        widgets = {"mass_unit": forms.RadioSelect, "volume_unit": forms.RadioSelect}


class PasswordForm(auth.PasswordChangeForm):
    error_messages = {
        **auth.PasswordChangeForm.error_messages,
        "password_incorrect": "This is not your present password. Enter the one that you signed in with.",
        "password_mismatch": "The two new passwords differ. Enter the same one twice.",
    }

    def __init__(self, *args: object, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Present password"
        self.fields["new_password1"].label = "New password"
        self.fields[
            "new_password1"
        ].help_text = "At least 8 characters; not your name, and not one of the passwords that everybody tries first."
        self.fields["new_password2"].label = "New password again"
        self.fields["new_password2"].help_text = ""
