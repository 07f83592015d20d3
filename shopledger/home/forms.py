"""Signing in, and what a person sets for themselves."""

from django import forms
from django.contrib.auth import forms as auth
from django.contrib.auth.password_validation import password_validators_help_texts
from django.http import HttpRequest

from jobs.people.models import Person
from shopledger.signin.throttle import guess


class UnitsForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ["mass_unit", "volume_unit", "compact", "single_keys"]
        labels = {"mass_unit": "Refrigerant in", "volume_unit": "Oil in"}
        widgets = {"mass_unit": forms.RadioSelect, "volume_unit": forms.RadioSelect}


class PasswordForm(auth.PasswordChangeForm):
    error_messages = {
        **auth.PasswordChangeForm.error_messages,
        "password_incorrect": "This is not your present password. Enter the one that you signed in with.",
        "password_mismatch": "The two new passwords differ. Enter the same one twice.",
    }

    def __init__(self, *args: object, request: HttpRequest, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.request = request
        self.fields["old_password"].label = "Present password"
        self.fields["new_password1"].label = "New password"
        self.fields["new_password1"].help_text = " ".join(password_validators_help_texts())
        self.fields["new_password2"].label = "New password again"
        self.fields["new_password2"].help_text = ""

    def clean_old_password(self) -> str:
        """A wrong one counts as at sign-in."""
        typed = self.cleaned_data["old_password"]
        if not guess(self.request, self.user.username, lambda: self.user.check_password(typed)):
            raise forms.ValidationError(self.error_messages["password_incorrect"], code="password_incorrect")
        return typed
