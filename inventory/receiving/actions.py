"""The verbs of receiving: a delivery, and what the shop held before its ledger began. Each one voucher, or nothing."""

import datetime as dt
import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction

from inventory.containers.actions import not_in_the_future, record
from inventory.containers.holdings import ContainerState
from inventory.containers.models import Container
from inventory.containers.recorder import Recorder
from inventory.containers.safe_fill import liquid_full_mg
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Voucher
from inventory.measures.quantity import show
from inventory.reference.kinds import KINDS
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@dataclass(frozen=True)
class Arrival:
    """A line of a delivery: `count` equal containers. net: mg or uL each, 0 where they come empty. code: the first
    code, or blank for the next free ones. gross_mg: weighed on arrival (a line of one only)."""

    kind: str
    substance: str
    is_oil: bool
    grade: str
    net: int
    count: int
    location: str
    code: str = ""
    tare_mg: int | None = None
    water_capacity_mg: int | None = None
    retest_due: dt.date | None = None
    price_minor: int | None = None
    deposit_minor: int | None = None


def receive(
    *, lines: Sequence[Arrival], supplier: str, document: str, day: dt.date, by: str, key: str, note: str = "",
    again: bool = False,
) -> int:  # fmt: skip
    """A delivery; returns its voucher's number. again: this document number was meant, though it stands already."""

    def no_twin() -> None:
        if not document or again:
            return
        found = Voucher.objects.filter(kind="receipt", document=document, reversed_by=None).exclude(key=key)
        twin = next((one for one in found if json.loads(one.detail).get("supplier") == supplier), None)
        if twin:
            raise Refused(
                f"Document {document} of {supplier} was entered before, as voucher {twin.number} of {twin.day}. "
                "If this is another delivery, tick the box and save again.",
                "document",
            )

    return _arrive("receipt", AccountClass.SUPPLIER, supplier, lines, document, day, by, key, note, no_twin)


def open_stock(*, lines: Sequence[Arrival], day: dt.date, by: str, key: str, note: str = "") -> int:
    """What the shop held before its ledger began."""
    return _arrive("opening", AccountClass.OPENING, "", lines, "", day, by, key, note)


def _arrive(
    kind: str, source: AccountClass, name: str, lines: Sequence[Arrival], document: str, day: dt.date, by: str,
    key: str, note: str, check: Callable[[], None] = lambda: None,
) -> int:  # fmt: skip
    """check: asked once it is this writer's turn, so that two who enter one delivery at once are told apart."""
    not_in_the_future(day)
    if not lines:
        raise Refused("Fill in at least one line.")
    made_of_line: list[list[str]] = []

    def run(recorder: Recorder) -> dict:
        check()
        arrivals, given = {}, set()
        made_of_line.clear()
        for number, line in enumerate(lines):
            try:
                codes = codes_for(line, given)
                _fits_in(line)
                recorder.load(codes)
                for code in codes:
                    held = ContainerState(
                        code, line.kind, line.substance, line.is_oil, line.grade, line.location,
                        None if line.is_oil else line.tare_mg,
                    )  # fmt: skip
                    recorder.holdings.add(held, line.net, source, name)
                    arrivals[code] = {
                        "water_capacity_mg": line.water_capacity_mg, "retest_due": line.retest_due,
                        "price_minor": line.price_minor,
                    }  # fmt: skip
                given |= set(codes)
                made_of_line.append(codes)
            except Refused as refused:
                refused.line = number
                raise
        return {"arrivals": arrivals, "detail": {"supplier": name} if name else {}}

    with transaction.atomic():
        number = record(kind, run, (), day=day, by=by, key=key, document=document, note=note)
        for deposit in {line.deposit_minor for line in lines}:
            codes = [
                code
                for line, made in zip(lines, made_of_line, strict=False)
                if line.deposit_minor == deposit
                for code in made
            ]
            came = Container.objects.filter(code__in=codes, arrival=number, deposit_back_on=None)
            came.exclude(deposit_minor=deposit).update(deposit_minor=deposit)
        return number


def _fits_in(line: Arrival) -> None:
    """Refuse what no container of that water capacity can hold, full of liquid. Factory fills may be over the limit
    for refilling, so that limit does not count here."""
    most = liquid_full_mg(line.water_capacity_mg, line.substance) if line.water_capacity_mg else None
    if most is not None and line.net > most:
        raise Refused(
            f"{show(line.net, 'g')} of {line.substance} do not go into it: with a water capacity of "
            f"{show(line.water_capacity_mg, 'g')} it holds {show(most, 'g')} full of liquid. Check both figures.",
            "net",
        )


def codes_for(line: Arrival, taken: Iterable[str] = ()) -> list[str]:
    """The codes of a line's containers: counted on from the first one given, or the next free ones of its kind."""
    if not 1 <= line.count <= 500:
        raise Refused("A line is of 1 to 500 equal containers.", "count")
    first = clean(line.code, "code")
    if not first:
        prefix = KINDS[line.kind].prefix if line.kind in KINDS else "BOX"
        pattern = re.compile(rf"{prefix}-(\d{{1,9}})")
        known = Container.objects.filter(code__startswith=f"{prefix}-").values_list("code", flat=True)
        numbers = [int(match[1]) for code in [*known, *taken] if (match := pattern.fullmatch(code))]
        first = f"{prefix}-{max(numbers, default=0) + 1:04d}"
    if line.count == 1:
        return [first]
    match = re.fullmatch(r"(.*?)(\d{1,9})", first)
    if not match:
        raise Refused(f"{first} does not end in a number to count on from; write e.g. {first}-1.", "code")
    start, width = int(match[2]), len(match[2])
    return [f"{match[1]}{number:0{width}d}" for number in range(start, start + line.count)]
