"""A PIN: set by its person, typed by whoever takes the phone."""

from django import forms

from shopledger.signin.pin_rules import DIGITS, objection


def _pin_field(label: str, missing: str, autocomplete: str = "off") -> forms.CharField:
    shown = {"autocomplete": autocomplete, "inputmode": "numeric", "maxlength": DIGITS, "class": "pin"}
    widget = forms.PasswordInput(attrs=shown)
    return forms.CharField(label=label, widget=widget, error_messages={"required": missing})


class NewPinForm(forms.Form):
    """A person's own PIN, twice."""

    pin = _pin_field("Six digits", "Enter the six digits of your PIN.", "new-password")
    pin_again = _pin_field("The same six digits again", "Enter the same six digits again.", "new-password")

    def clean_pin(self) -> str:
        why = objection(self.cleaned_data["pin"])
        if why:
            raise forms.ValidationError(why)
        return self.cleaned_data["pin"]

    def clean(self) -> dict:
        said = super().clean()
        if "pin" in said and "pin_again" in said and said["pin"] != said["pin_again"]:
            self.add_error("pin_again", "These are not the same six digits as above. Enter both anew.")
        return said


class PinForm(forms.Form):
    """The PIN of the one whose name was tapped."""

    pin = _pin_field("PIN", "Enter the six digits of your PIN.")
    errors_heading = "Not changed:"
