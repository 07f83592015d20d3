"""The form of a shipment."""

from django import forms

from inventory.containers.holdings import PURPOSES
from inventory.parties.models import Party
from inventory.shop.forms import ActForm, DayField, note, text


class ShipmentForm(ActForm):
    purpose = forms.ChoiceField(label="Purpose", choices=[(name, name) for name in PURPOSES])
    party = forms.ModelChoiceField(label="To", queryset=Party.objects.all())
    document = text("Document", 200)
    containers_go = forms.BooleanField(
        label="The containers go too, for good, with all that is in them", required=False
    )
    day = DayField(label="Day")
    note = note()
