"""The form of a shipment."""

from django import forms

from inventory.containers.holdings import PURPOSES
from inventory.parties.models import Party
from inventory.shop.forms import ActForm, DayField, note, text


class PartyField(forms.ModelChoiceField):
    """A party by its name, and by its role, since two of different roles may share a name."""

    def label_from_instance(self, party: Party) -> str:
        return f"{party.name}, {party.role}"


class ShipmentForm(ActForm):
    purpose = forms.ChoiceField(label="Purpose", choices=[(name, name) for name in PURPOSES])
    party = PartyField(label="To", queryset=Party.objects.all())
    document = text("Document", 200)
    containers_go = forms.BooleanField(
        label="The containers go too, for good, with all that is in them", required=False
    )
    day = DayField(label="Day")
    note = note()
