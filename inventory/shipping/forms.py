"""The form of a shipment."""

from collections.abc import Mapping

from django import forms

from inventory.containers.holdings import PURPOSES
from inventory.parties.forms import PartyField
from inventory.parties.models import Party
from inventory.reference.rule import EQUIPMENT, USES
from inventory.reference.trade_rules import ENDS, PROOFS
from inventory.shipping.sales import SELL, TICKED, SaleSaid
from inventory.shop.forms import ActForm, DayField, note, text

NOTHING = "0 is nothing: leave the quantity blank for all that is in it, or leave the container out."
SALE = "sale_"  # how the names of fields begin that say something of a sale


class ConsigneeForm(forms.Form):
    """To whom containers go whose paper is made before anything is posted."""

    party = PartyField(label="To", queryset=Party.objects.all())


def _choices(words: Mapping[str, str]) -> list[tuple[str, str]]:
    return [("", "not said"), *words.items()]


class ShipmentForm(ActForm):
    purpose = forms.ChoiceField(label="Purpose", choices=[(name, name) for name in PURPOSES])
    party = PartyField(label="To", queryset=Party.objects.all())
    sale_end = forms.ChoiceField(label="Sold", choices=_choices(ENDS), required=False)
    sale_equipment = forms.ChoiceField(label="Sold for", choices=_choices(EQUIPMENT), required=False)
    sale_use = forms.ChoiceField(label="Sold for, more closely", choices=_choices(USES), required=False)
    sale_seen = forms.MultipleChoiceField(
        label="What the seller has seen",
        choices=[(name, PROOFS[name]) for name in TICKED],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="The certificate's number is entered with the buyer, the invoice's as the document.",
    )
    document = text("Document", 200)
    containers_go = forms.BooleanField(
        label="The containers go too, for good, with all that is in them", required=False
    )
    day = DayField(label="Day")
    note = note()

    @classmethod
    def label_of(cls, name: str) -> str:
        return f"Of {name.removeprefix('quantity-')}" if name.startswith("quantity-") else ""

    def clean(self) -> dict:
        data = super().clean()
        said = {name.removeprefix(SALE): data.get(name) for name in self.fields if name.startswith(SALE)}
        if data.get("purpose") == SELL:
            data["sale"] = SaleSaid(**{**said, "seen": tuple(said["seen"] or ())})
        elif any(said.values()):
            self.add_error("purpose", f"What is said of a sale stands only with the purpose {SELL}; take it out.")
        return data


class TheirWeightsForm(forms.Form):
    """What a receipt says; the page adds a field for each container."""

    document = text("Their document", 200)

    @classmethod
    def label_of(cls, name: str) -> str:
        return f"{name.removeprefix('net-')}: they found" if name.startswith("net-") else ""
