"""What travels: each container of a shipment, or of those chosen, with its entry in the dangerous-goods list."""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.containers.models import Container
from inventory.containers.queries import containers
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Voucher
from inventory.reference.kinds import KINDS
from inventory.reference.transport import Entry, WasteCode, entry_of, waste_code
from inventory.shipping.actions import sent_of

DISPOSAL = {"destroy"}  # purposes of a shipment by which its content is waste


@dataclass(frozen=True)
class Parcel:
    """A container on its way. quantity: what of it goes, mg, or uL of oil; 0: it is empty and not cleaned. tare_mg:
    None where it is not known. entry: None where the list has none for it, as for oils."""

    code: str
    kind: str
    substance: str
    grade: str
    is_oil: bool
    quantity: int
    tare_mg: int | None
    entry: Entry | None
    is_waste: bool = False

    @property
    def is_empty(self) -> bool:
        return not self.quantity and not self.is_oil

    @property
    def is_dangerous(self) -> bool:
        return self.entry is not None and self.entry.is_dangerous

    @property
    def package(self) -> str:
        """The kind of its packaging, in words."""
        return KINDS[self.kind].label

    @property
    def travels_as(self) -> str:
        """Its line in a transport document, or why it has none."""
        if self.is_dangerous:
            return self.entry.description(waste=self.is_waste, empty=self.is_empty)
        if self.entry is not None:
            return "no dangerous good of class 2: a liquid"
        return "oil: no entry of class 2" if self.is_oil else "its gas is not known here"

    @property
    def waste(self) -> WasteCode | None:
        return waste_code(self.substance) if self.is_waste else None


def parcels_of(voucher: Voucher) -> list[Parcel]:
    """The containers of a shipment, each with what went of it, in the grade that it had then."""
    sent = dict(sent_of(voucher))
    rows = {one.code: one for one in containers().filter(code__in=sent, void=False)}
    came_from = voucher.movements.filter(source_class=AccountClass.CONTAINER.value, reversal=False)
    then = {
        code: (substance, grade)
        for code, substance, grade in came_from.values_list("source__name", "substance__code", "source__grade")
    }
    is_waste = json.loads(voucher.detail)["purpose"] in DISPOSAL
    return [
        _parcel(row, quantity, is_waste, *then.get(code, _as_it_is(row)))
        for code, quantity in sorted(sent.items())
        if (row := rows.get(code)) is not None
    ]


def parcels_standing(codes: Iterable[str]) -> list[Parcel]:
    """Containers as they stand now, with all that is in them."""
    found = containers().filter(code__in=list(codes), void=False).order_by("code")
    return [_parcel(row, row.content, False, *_as_it_is(row)) for row in found]


def _as_it_is(row: Container) -> tuple[str, str]:
    return row.substance.code if row.substance else "", row.grade


def _parcel(row: Container, quantity: int, is_waste: bool, substance: str, grade: str) -> Parcel:
    found = entry_of(substance, grade, row.kind) if substance and not row.is_oil else None
    return Parcel(row.code, row.kind, substance, grade, row.is_oil, quantity, row.tare_mg, found, is_waste)
