"""Shipments, said again."""

from collections.abc import Sequence

from django import forms

from inventory.containers.holdings import PURPOSES
from inventory.containers.models import Container
from inventory.containers.queries import OURS, in_stock
from inventory.correcting.again import Again, lines_of
from inventory.measures.quantity import exact, parse_mass, parse_volume
from inventory.parties.models import Party
from inventory.shipping.actions import ship
from inventory.shipping.forms import NOTHING, SALE, ShipmentForm
from inventory.shipping.sales import SaleSaid
from inventory.shop.forms import text
from inventory.text.refusal import Refused

WORD = {cls.word: purpose for purpose, cls in PURPOSES.items()}


class ParcelForm(forms.Form):
    """What of one container goes."""

    container = text("Container", 60, required=True, list="stock")
    quantity = text("Quantity", 40, help_text="with its unit, e.g. 340 g; blank for all that is in it")

    def clean(self) -> dict:
        data = super().clean()
        if data.get("quantity") and data.get("container"):
            found = Container.objects.filter(code=data["container"].strip(), void=False).first()
            try:
                data["quantity"] = (parse_volume if found and found.is_oil else parse_mass)(data["quantity"])
            except Refused as refused:
                self.add_error("quantity", refused.message)
            if data.get("quantity") == 0:
                self.add_error("quantity", NOTHING)
        return data


class Shipped(Again):
    form_class = ShipmentForm
    rows_class = lines_of(ParcelForm)
    row_title = "Parcel"

    def initial(self) -> dict[str, object]:
        voucher, left = self.said.voucher, self.said.ops("leave")[0]
        return {
            "purpose": WORD[left.cls],
            "party": Party.objects.filter(code=left.name).first(),
            **{f"{SALE}{name}": value for name, value in SaleSaid.of(self.said.detail).detail.items()},
            "document": voucher.document,
            "containers_go": bool(self.said.ops("retire")),
            "note": voucher.note,
        }

    def lines(self) -> list[dict[str, object]]:
        oils = {one.code: one.is_oil for one in Container.objects.filter(code__in=self.said.codes("leave"))}
        units = {True: self.person.volume_unit, False: self.person.mass_unit}
        return [
            {"container": op.code, "quantity": "" if op.quantity is None else exact(op.quantity, units[oils[op.code]])}
            for op in self.said.ops("leave")
        ]

    def lists(self) -> dict[str, Sequence[str]]:
        return {"stock": list(in_stock().filter(OURS).order_by("code").values_list("code", flat=True)[:200])}

    def say(self, data: dict, head: dict) -> int:
        parcels: dict[str, int | None] = {}
        for row in self.standing_rows():
            code = row.cleaned_data["container"].strip()
            if code in parcels:
                raise Refused(f"{code} is named twice; take one of its lines off.")
            parcels[code] = None if row.cleaned_data["quantity"] == "" else row.cleaned_data["quantity"]
        named = {"purpose": data["purpose"], "party": data["party"], "containers_go": data["containers_go"]}
        named["sale"] = data.get("sale")
        return ship(parcels=parcels, **named, **head)
