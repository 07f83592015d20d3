"""The form of a supplier, reclaimer, destroyer or buyer."""

from django import forms

from inventory.parties.models import Party
from inventory.shop.forms import text


class PartyForm(forms.Form):
    name = text("Name", 200, required=True, help_text="it may change; the code stays")
    role = forms.ChoiceField(label="Role", choices=Party.ROLES)
    address = forms.CharField(
        label="Address", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    registration = text(
        "Registration",
        100,
        help_text="permit or registration number, where the law asks for one; of a buyer: the certificate seen",
    )


class PartyField(forms.ModelChoiceField):
    """A party by its name, and by its role, since two of different roles may share a name."""

    def label_from_instance(self, party: Party) -> str:
        return f"{party.name}, {party.role}"
