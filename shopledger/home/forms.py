"""Signing in, and what a person sets for themselves."""

from django import forms
from django.contrib.auth import forms as auth

from jobs.people.models import Person


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
