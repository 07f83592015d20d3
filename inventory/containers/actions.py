"""The verbs of containers: each one voucher, in one transaction, or nothing. `by` is a username.

key: the id of the form; the same key posts once and is answered with the voucher it made.
"""

import datetime as dt
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db import IntegrityError, transaction

from inventory.containers.book import Held, Reading, ScaleSeen
from inventory.containers.models import Container, Location, Scale
from inventory.containers.recorder import PostedBefore, Recorder, recording
from inventory.containers.retest import may_fill
from inventory.containers.safe_fill import limit, liquid_full_mg
from inventory.ledger.accounts import AccountClass
from inventory.ledger.actions import clean
from inventory.ledger.models import Account, Movement, Voucher
from inventory.ledger.refusal import Refused
from inventory.measures.balance_uncertainty import SPAN_PPM
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.shop.clock import today
from inventory.shop.models import Shop

PREFIXES = {"can": "CAN", "disposable": "DSP", "refillable": "CYL", "recovery": "REC", "machine": "MAC", "oil": "OIL"}


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


def not_in_the_future(day: dt.date) -> None:
    if day > today():
        raise Refused(f"{day} has not come yet; date it today or earlier.", "day")


def not_before_arrival(recorder: Recorder, codes: Iterable[str], day: dt.date) -> None:
    for code in codes:
        row = recorder.rows.get(code)
        if row is not None and row.arrived_on > day:
            raise Refused(f"{code} came in on {row.arrived_on}; date it that day or later.", "day")


def came_after(codes: Iterable[str], day: dt.date) -> tuple[str, Movement] | None:
    """The first movement of these containers that is dated after a day, with the code of the container."""
    if day >= today():
        return None
    names = dict(Account.objects.filter(cls=AccountClass.CONTAINER, name__in=set(codes)).values_list("id", "name"))
    after = Movement.objects.filter(day__gt=day).select_related("voucher").order_by("day", "id")
    found = (after.filter(**{f"{side}__in": list(names)}).first() for side in ("source", "target"))
    later = min((one for one in found if one is not None), key=lambda one: (one.day, one.pk), default=None)
    return (names.get(later.source_id) or names[later.target_id], later) if later is not None else None


def not_weighed_late(codes: Iterable[str], day: dt.date) -> None:
    """A weighing puts the book right as it stands now, so one of an earlier day is refused where the container was
    used since: it would be compared with what was left after that."""
    found = came_after(codes, day)
    if found:
        code, later = found
        raise Refused(
            f"Voucher {later.voucher_id} of {later.day} ({later.voucher.kind}) came after {day} and changed what is in "
            f"{code}. Weigh it again now, and date that today.",
            "day",
        )


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
                    held = Held(
                        code, line.kind, line.substance, line.is_oil, line.grade, line.location,
                        None if line.is_oil else line.tare_mg,
                    )  # fmt: skip
                    recorder.book.add(held, line.net, source, name)
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
        prefix = PREFIXES.get(line.kind, "BOX")
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


def record(
    kind: str, run: Callable[[Recorder], dict | None], codes: Iterable[str], *, day: dt.date, by: str, key: str,
    document: str = "", note: str = "",
) -> int:  # fmt: skip
    """Run an event on the book of these containers and post it as one voucher; returns its number. run: gets the
    recorder, and returns what `Recorder.record` is told besides. The same key posts once."""
    try:
        with recording() as recorder:
            posted = recorder.ledger.posted(key)
            if posted is not None:
                return posted
            recorder.load(codes)
            not_before_arrival(recorder, codes, day)
            recorder.book.mark()
            said = run(recorder) or {}
            not_weighed_late({one.code for one in recorder.book.sheet.readings}, day)
            return recorder.record(
                kind=kind, day=day, recorded_by=by, done_by=by, document=document, note=note, key=key, **said
            )
    except PostedBefore as posted:
        return posted.number


def move(*, codes: Sequence[str], location: str, day: dt.date, by: str, key: str) -> int:
    """Containers to another place, with what is in them."""
    not_in_the_future(day)
    location = clean(location, "to_location")
    if not location:
        raise Refused("Name where to.", "to_location")

    def run(recorder: Recorder) -> None:
        for code in codes:
            recorder.book.move(code, location)

    return record("move", run, _some(codes), day=day, by=by, key=key)


def regrade(*, code: str, grade: str, day: dt.date, by: str, key: str, note: str = "") -> int:
    """Another grade for what a container holds. What is mixed stays mixed: it leaves for a reclaimer or destruction."""
    not_in_the_future(day)

    def run(recorder: Recorder) -> None:
        held = recorder.book.containers.get(code)
        if held is not None and held.grade == "mixed" and held.balance:
            raise Refused(
                f"{code} holds mixed refrigerant, which becomes no other grade here; send it to a reclaimer or to "
                "destruction.",
                "grade",
            )
        recorder.book.regrade(code, grade)

    return record("regrade", run, [code], day=day, by=by, key=key, note=note)


def decant(
    *, source: str, into: str, day: dt.date, by: str, key: str, before: int | None = None, after: int | None = None,
    quantity: int | None = None, scale: str = "",
) -> int:  # fmt: skip
    """From one container into another; refused beyond the other's safe fill."""
    not_in_the_future(day)
    weighed = before is not None or after is not None
    if weighed == (quantity is not None) or (weighed and None in (before, after)):
        raise Refused("Give the weights before and after of the container it left, or the quantity.", "before")

    def run(recorder: Recorder) -> None:
        seen = recorder.scale(scale) if weighed else None
        check_filling(recorder, into, day)
        keep_grades_apart(recorder, source, into)
        recorder.book.decant(source, into, before=before, after=after, quantity=quantity, scale=seen)
        check_safe_fill(recorder, into)

    return record("decant", run, [source, into], day=day, by=by, key=key)


def check_filling(recorder: Recorder, code: str, day: dt.date) -> None:
    """Refuse a container whose retest is overdue, where the shop's rulebook lets none such be filled."""
    row = recorder.rows.get(code)
    if row is not None:
        refuse_overdue(row, day)


def refuse_overdue(row: Container, day: dt.date) -> None:
    said = overdue(row, day, Shop.current().book)
    if said:
        raise Refused(said, "into")


def overdue(row: Container, day: dt.date, book: Rulebook) -> str:
    """Why a container may not be filled on a day, by its retest; blank where it may."""
    rule = book.retest(row.kind, day)
    if rule is None or rule.fill_when_overdue or may_fill(row.retest_due, day, rule.through_month_end):
        return ""
    return (
        f"The retest of {row.code} was due on {row.retest_due}; it must not be filled before it is tested "
        f"({rule.text.title}, {rule.citation}). Use another container."
    ).replace(", )", ")")


# What a container holds counts as its grade: nothing lower is put into it. A service machine recycles what it gets.
RANK = {"virgin": 3, "reclaimed": 3, "recycled": 2, "recovered": 1, "mixed": 0}


def keep_grades_apart(recorder: Recorder, source: str, into: str) -> None:
    """Refrigerant of a lower grade goes only where that grade is; an empty cylinder becomes of that grade by it."""
    one, other = recorder.book.containers.get(source), recorder.book.containers.get(into)
    if one is None or other is None or one.is_oil or other.is_oil or RANK[one.grade] >= RANK[other.grade]:
        return
    if other.kind == "machine" and one.grade != "mixed":
        return
    if other.balance or other.kind == "machine":
        raise Refused(
            f"{source} holds {one.grade} refrigerant; in {into} it would spoil what is there, or count as "
            f"{other.grade}. Name a cylinder for {one.grade} refrigerant, or an empty recovery cylinder.",
            "into",
        )
    recorder.book.regrade(into, one.grade)


def check_safe_fill(recorder: Recorder, code: str) -> None:
    """Refuse a container that would now hold more than its safe fill. Without a water capacity nothing is known."""
    held, row = recorder.book.containers[code], recorder.rows[code]
    most = limit(row.water_capacity_mg, held.substance) if row.water_capacity_mg else None
    if most is not None and held.balance > most.mg:
        raise Refused(
            f"{code} would hold {show(held.balance, 'g')}; its safe fill is {show(most.mg, 'g')} ({most.rule}). "
            "Fill less, or use another container.",
            "into",
        )


def count(
    *, readings: Mapping[str, int], day: dt.date, by: str, key: str, scale: str = "", note: str = "",
    preview: bool = False,
) -> tuple[int, list[Reading]]:  # fmt: skip
    """Weigh containers (mg gross; oil: uL left) and put the book right to them, as one voucher. Returns its number
    and what each reading said; preview: post nothing, only say it."""
    not_in_the_future(day)
    if not readings:
        raise Refused("Enter at least one reading.")
    try:
        with transaction.atomic(), recording() as recorder:
            posted = recorder.ledger.posted(key)
            if posted is not None:
                return posted, []
            recorder.load(readings)
            not_before_arrival(recorder, readings, day)
            not_weighed_late(readings, day)
            recorder.book.mark()
            said = []
            for code, gross in readings.items():
                held = recorder.book.containers.get(code)
                seen = ScaleSeen("", 0) if held is not None and held.is_oil else recorder.scale(scale)
                try:
                    said.append(recorder.book.count(code, gross, seen))
                except Refused as refused:
                    raise Refused(refused.message, f"gross-{code}") from None
            if preview:
                transaction.set_rollback(True)
                return 0, said
            number = recorder.record(kind="count", day=day, recorded_by=by, done_by=by, note=note, key=key)
            return number, said
    except PostedBefore as posted:
        return posted.number, []


def retire(*, codes: Sequence[str], residue_into: str, day: dt.date, by: str, key: str) -> int:
    """Out of use for good; what is left is heel loss, or goes into the container named."""
    not_in_the_future(day)

    def run(recorder: Recorder) -> dict:
        left = {}
        for code in codes:
            if residue_into and recorder.book.containers[code].balance:
                check_filling(recorder, residue_into, day)
                keep_grades_apart(recorder, code, residue_into)
            left[code] = recorder.book.retire(code, residue_into)
        if residue_into:
            check_safe_fill(recorder, residue_into)
        return {"detail": {"containers": left, "into": residue_into}}

    return record("retirement", run, [*_some(codes), *filter(None, [residue_into])], day=day, by=by, key=key)


def ship(
    *, parcels: Mapping[str, int | None], purpose: str, party: str, document: str, day: dt.date, by: str, key: str,
    note: str = "", containers_go: bool = False,
) -> int:  # fmt: skip
    """Content that leaves. parcels: code to quantity, None for all that is in it. containers_go: the containers leave
    with it for good, and their deposits are closed; then all that is in them goes."""
    not_in_the_future(day)

    def run(recorder: Recorder) -> dict:
        sent = {code: recorder.book.ship(code, purpose, party, quantity) for code, quantity in parcels.items()}
        for code in parcels if containers_go else ():
            if recorder.book.containers[code].balance:
                raise Refused(f"{code} leaves whole, so all that is in it does: leave its quantity blank.", "quantity")
            recorder.book.retire(code)
        return {"detail": {"party": party, "purpose": purpose, "containers": sent}}

    with transaction.atomic():
        number = record("shipment", run, _some(list(parcels)), day=day, by=by, key=key, document=document, note=note)
        if containers_go:
            back = Container.objects.filter(code__in=list(parcels), deposit_minor__isnull=False)
            back.filter(deposit_back_on=None).update(deposit_back_on=day)
        return number


def _some(codes: Sequence[str]) -> Sequence[str]:
    if not codes:
        raise Refused("Choose at least one container.", "containers")
    return codes


# -- places and scales ---------------------------------------------------------------------------


def add_location(*, name: str) -> Location:
    name = clean(name, "name")
    if not name:
        raise Refused("Name the place, e.g. Store or Van 2.", "name")
    found, made = Location.objects.get_or_create(name=name)
    if not made:
        raise Refused(f"There is a place {name} already.", "name")
    return found


@transaction.atomic
def save_scale(
    *, code: str, readability_mg: int, capacity_mg: int | None, checked_until: dt.date | None, usual: bool,
    scale: Scale | None = None, span_ppm: int | None = None,
) -> Scale:  # fmt: skip
    """Add a scale, or change what is known of one; its code stays, since weighings name it."""
    if readability_mg <= 0:
        raise Refused("A scale's smallest step is more than nothing; write e.g. 1 g.", "readability_mg")
    if scale is None:
        scale = Scale(code=clean(code, "code"))
        if not scale.code:
            raise Refused("Give the scale a code, e.g. S1.", "code")
    if usual:
        for other in Scale.objects.filter(usual=True).exclude(pk=scale.pk):
            other.usual = False
            other.save(update_fields=["usual"])  # one by one: what happened to each is kept
    scale.readability_mg, scale.capacity_mg = readability_mg, capacity_mg
    scale.span_ppm = span_ppm or SPAN_PPM
    scale.checked_until, scale.usual = checked_until, usual or not Scale.objects.filter(usual=True).exists()
    try:
        with transaction.atomic():
            scale.save()
    except IntegrityError:
        raise Refused(f"There is a scale {scale.code} already; give this one another code.", "code") from None
    return scale
