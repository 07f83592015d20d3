"""The verbs of receiving: a delivery, and what the shop held before its ledger began. Each one voucher, or nothing.

head: as in `containers/actions.py`.
"""

import datetime as dt
import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from inventory.containers.actions import check_label, record
from inventory.containers.models import Container
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.containers.rows import BESIDES
from inventory.containers.safe_fill import liquid_full_mg
from inventory.containers.states import ContainerState
from inventory.ledger.accounts import AccountClass
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.measures.days import FIRST_MADE, said_day
from inventory.measures.quantity import show
from inventory.orders.actions import was_for
from inventory.orders.models import Order
from inventory.parties.models import Party
from inventory.reference.kinds import KINDS
from inventory.shop.days import may_be_due
from inventory.shop.models import Shop
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from inventory.verdicts.single_use import single_use


@dataclass(frozen=True)
class Arrival:
    """A line of a delivery: `count` equal containers. net: mg or uL each, 0 where they come empty. code: the first
    code, or blank for the next free ones. supplier_numbers: by which the supplier knows them, one each in their order,
    or none. label_says, batch, facility, label_statement: as of a container."""

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
    test_pressure_kpa: int | None = None
    stamped_most_mg: int | None = None
    label_says: str = ""
    batch: str = ""
    facility: str = ""
    label_statement: bool = False
    supplier_numbers: tuple[str, ...] = ()

    def state(self, code: str) -> ContainerState:
        tare = None if self.is_oil else self.tare_mg
        return ContainerState(code, self.kind, self.substance, self.is_oil, self.grade, self.location, tare)


def receive(
    *, lines: Sequence[Arrival], supplier: Party, again: bool = False, order: Order | None = None, **head: object
) -> int:
    """A delivery; returns its voucher's number. again: this document number was meant, though it stands already. order:
    that it was for, of the same supplier."""
    entry = EntryHead("receipt", **head)

    def no_twin() -> None:
        if not again:
            refuse_twin(entry.document, supplier, key=entry.key, corrects=entry.corrects)

    if order is not None and order.supplier_id != supplier.pk:
        raise Refused(
            f"Order {order.called} went to {order.supplier.name}, and this came from {supplier.name}.", "order"
        )
    with writing() as ledger:
        number = _arrive(entry, lines, AccountClass.SUPPLIER, supplier.code, no_twin)
        if order is not None:
            ledger.flush()
            was_for(order=order, number=number)
        return number


def refuse_twin(document: str, supplier: Party, *, key: str = "", corrects: int | None = None) -> None:
    """Raises Refused where a delivery of this supplier stands under this document number. key, corrects: of the entry
    that is made, and of the one whose place it takes; neither is its own twin."""
    if not document:
        return
    found = Voucher.objects.standing().filter(kind="receipt", document=document)
    found = found.exclude(key=key).exclude(number=corrects)
    twin = next((one for one in found if json.loads(one.detail).get("supplier") == supplier.code), None)
    if twin:
        raise Refused(
            f"Document {document} of {supplier.name} was entered before, as voucher {twin.number} of "
            f"{said_day(twin.day)}. If this is another delivery under that number, tick the box; if it has a number of "
            "its own, write that.",
            "document",
        )


def open_stock(*, lines: Sequence[Arrival], **head: object) -> int:
    """What the shop held before its ledger began."""
    return _arrive(EntryHead("opening", **head), lines, AccountClass.OPENING)


def _arrive(
    entry: EntryHead,
    lines: Sequence[Arrival],
    source: AccountClass,
    supplier: str = "",
    check: Callable[[], None] = lambda: None,
) -> int:
    """supplier: the code. check: asked once it is this writer's turn, so that two who enter one delivery at once are
    told apart."""
    if not lines:
        raise Refused("Fill in at least one line.")

    def run(recorder: Recorder) -> dict:
        check()
        besides, given = {}, set()
        for number, line in enumerate(lines):
            try:
                codes = codes_for(line, given)
                numbers = numbers_of(line, codes)
                fits_in(line)
                may_be_due(line.retest_due, "retest_due", first=FIRST_MADE)
                check_label(line.grade, line.label_says)
                _may_be_bought(line, source, entry.day)
                recorder.load(codes)
                for code in codes:
                    recorder.holdings.arrive(line.state(code), line.net, source, supplier)
                    besides[code] = {field: getattr(line, field, None) for field in BESIDES}
                    besides[code]["supplier_number"] = numbers.get(code, "")
                    if code in recorder.place.codes:  # corrected: that its deposit was given back since stays true
                        besides[code]["deposit_back_on"] = recorder.rows.by_code[code].deposit_back_on
                given |= set(codes)
            except Refused as refused:
                refused.line = number
                raise
        return {"besides": besides, "detail": {"supplier": supplier} if supplier else {}}

    return record(entry, run, ())


def _may_be_bought(line: Arrival, source: AccountClass, day: dt.date) -> None:
    """Refuse a delivery of containers that must not be bought, where the shop's rulebook refuses it. What was here
    before the ledger began is here."""
    if source != AccountClass.SUPPLIER or line.is_oil or line.kind not in KINDS:
        return
    why = single_use(Shop.current().rules, line.kind, line.substance, "purchase", day)
    if why.is_refused:
        raise Refused(f"{why.said} ({why.cited})", "kind")


def fits_in(line: Arrival) -> None:
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


def numbers_of(line: Arrival, codes: Sequence[str]) -> dict[str, str]:
    """The supplier's number of each container of a line, by our code; none where none was named."""
    named = [clean(one, "supplier_number", 60) for one in line.supplier_numbers]
    if not named:
        return {}
    twice = next((one for place, one in enumerate(named) if one in named[:place]), "")
    if twice:
        raise Refused(
            f"The supplier's number {twice} stands there twice; each container has its own.", "supplier_number"
        )
    if len(named) != len(codes):
        raise Refused(
            f"{len(named)} supplier's number{'s' * (len(named) != 1)} for {len(codes)} "
            f"container{'s' * (len(codes) != 1)}: name one for each, with commas between, or none.",
            "supplier_number",
        )
    return dict(zip(codes, named, strict=True))
