"""What came before, from which what is typed of a delivery is filled in and judged."""

import json
import re
from functools import cached_property

from django.db.models import BigIntegerField, Max, Q
from django.db.models.functions import Cast, Substr

from inventory.containers.models import Container, Location
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Movement, Voucher
from inventory.parties.models import Party
from inventory.plausible.expected import PRACTICE
from inventory.plausible.judging import ASK, Answer, Reading
from inventory.plausible.masses import Net, Tare
from inventory.plausible.names import another_way
from inventory.plausible.prices import price_answer
from inventory.plausible.vessels import Vessel
from inventory.receiving.said_lines import OF_EACH, lines_of_voucher
from inventory.reference.kinds import KINDS
from inventory.shop.models import Shop

RECENT = 200  # containers of a sort that are looked at for their sizes and prices
OF_THE_DAY = {"code": "", "supplier_number": "", "retest_due": None}  # what each container has of its own


def last_delivery(supplier: str) -> Voucher | None:
    """The last one of a supplier, by name, that stands."""
    code = Party.objects.filter(role="supplier", name=supplier.strip()).values_list("code", flat=True).first()
    if code is None:
        return None
    found = Movement.objects.filter(source_class=AccountClass.SUPPLIER, source__name=code)
    standing = Voucher.objects.standing().filter(kind="receipt")
    number = found.filter(voucher__in=standing).aggregate(Max("voucher_id"))["voucher_id__max"]
    return Voucher.objects.filter(number=number).first()


def lines_of_last(supplier: str, person) -> list[dict[str, object]]:
    """The lines of the last delivery of a supplier, without what each container had of its own."""
    found = last_delivery(supplier)
    return [line | OF_THE_DAY for line in lines_of_voucher(json.loads(found.detail), person)] if found else []


def kinds_before(substance: str) -> list[str]:
    """The kinds in which a substance came, the latest first."""
    found = Container.objects.filter(substance__code=substance, arrival__kind__in=["receipt", "opening"], void=False)
    rows = found.values("kind").annotate(last=Max("arrived_on")).order_by("-last", "kind")
    return [one["kind"] for one in rows]


def like_before(kind: str, substance: str, supplier: str, person) -> dict[str, object]:
    """The line in which such containers came last, from this supplier where it ever sent any; empty where none came."""
    came = Container.objects.filter(kind=kind, substance__code=substance, void=False)
    came = came.filter(arrival__kind__in=["receipt", "opening"]).order_by("-arrived_on", "-arrival_id")
    last = last_delivery(supplier) if supplier else None
    found = (came.filter(arrival=last).first() if last else None) or came.select_related("arrival").first()
    if found is None:
        return {}
    lines = lines_of_voucher(json.loads(found.arrival.detail), person)
    alike = [one for one in lines if (one["kind"], one["substance"]) == (kind, substance)]
    return {name: value for name, value in (alike[0] if alike else {}).items() if name not in OF_EACH} | OF_THE_DAY


def next_codes() -> dict[str, tuple[str, int]]:
    """By kind the beginning of its codes, and the first number that is free from there on."""
    asked = {}
    for kind in KINDS.values():
        start = f"{kind.prefix}-"
        number = Cast(Substr("code", len(start) + 1), BigIntegerField())
        asked[kind.code] = Max(number, filter=Q(code__regex=rf"^{start}[0-9]{{1,9}}$"))
    found = Container.objects.aggregate(**asked)
    return {code: (f"{KINDS[code].prefix}-", (number or 0) + 1) for code, number in found.items()}


class Book:
    """What the lines of one form are judged beside; each question is asked once, however many lines there are."""

    def __init__(self) -> None:
        self.corrects: int | None = None  # the voucher whose containers these are already
        self._sorts: dict[tuple[str, str], list[tuple[int, int | None]]] = {}

    @cached_property
    def currency(self) -> str:
        return Shop.current().currency

    @cached_property
    def places(self) -> list[str]:
        return list(Location.objects.values_list("name", flat=True))

    def _sort(self, kind: str, substance: str) -> list[tuple[int, int | None]]:
        """Net and price of those that came of a sort, the latest first."""
        if (kind, substance) not in self._sorts:
            found = Container.objects.filter(kind=kind, substance__code=substance, void=False, nominal__gt=0)
            rows = found.order_by("-arrived_on", "-id").values_list("nominal", "price_minor")
            self._sorts[kind, substance] = list(rows[:RECENT])
        return self._sorts[kind, substance]

    def of_line(self, data: dict) -> dict[str, object]:
        """What is known of each field of a line that could be read."""
        kind, gas = data["kind"], data.get("substance", "")
        came = self._sort(kind, gas)
        known: dict[str, object] = {"location": self.place(data["location"])}
        if not data["is_oil"]:
            vessel = Vessel(kind, gas, nominal=data["net"], water_capacity=data["water_capacity"])
            sizes = tuple(size for size, _ in came)
            known["net"] = Net(kind, sizes) if data["net"] and not data["water_capacity"] else None
            known["tare"] = Tare(vessel) if data["net"] or data["water_capacity"] else None
        paid = [price for size, price in came if price and size == data["net"]]
        known["supplier_number"] = self._numbers(data["supplier_number"])
        known["price"] = price_answer(data["price"], paid[0], self.currency) if data["price"] and paid else None
        return known

    def _numbers(self, typed: str) -> Answer | None:
        """Of suppliers' numbers that are on other containers in stock: the supplier may have filled one again, and the
        one that is here was never sent back by the book."""
        found = Container.objects.filter(supplier_number__in=numbers_in(typed), retired_on=None, void=False)
        found = found.exclude(supplier_number="").exclude(arrival=self.corrects).order_by("code")
        named = [f"{one.supplier_number} is on {one.code}" for one in found[:3]]
        as_typed = Reading(typed, typed)
        why = f"By the book {' and '.join(named)}, which is here."
        return Answer(ASK, as_typed, (as_typed,), why, PRACTICE) if named else None

    def place(self, name: str) -> Answer | None:
        return another_way(name, self.places, "place") if name else None


def numbers_in(typed: str) -> tuple[str, ...]:
    """Suppliers' numbers as they are typed, pasted or scanned one after another."""
    return tuple(one for one in (part.strip() for part in re.split(r"[,;\n]", typed)) if one)
