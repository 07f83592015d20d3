"""The verbs of containers: each one voucher, in one transaction, or nothing. `by` is a username.

key: the id of the form; the same key posts once and is answered with the voucher it made.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence

from django.db import transaction

from inventory.containers.filling import check_filling, check_safe_fill, keep_grades_apart
from inventory.containers.holdings import Reading, ScaleSeen
from inventory.containers.models import Location
from inventory.containers.recorder import PostedBefore, Recorder, recording
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Account, Movement
from inventory.shop.clock import today
from inventory.text.clean import clean
from inventory.text.refusal import Refused


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
            recorder.holdings.mark()
            said = run(recorder) or {}
            not_weighed_late({one.code for one in recorder.holdings.postings.readings}, day)
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
            recorder.holdings.move(code, location)

    return record("move", run, _some(codes), day=day, by=by, key=key)


def regrade(*, code: str, grade: str, day: dt.date, by: str, key: str, note: str = "") -> int:
    """Another grade for what a container holds. What is mixed stays mixed: it leaves for a reclaimer or destruction."""
    not_in_the_future(day)

    def run(recorder: Recorder) -> None:
        held = recorder.holdings.containers.get(code)
        if held is not None and held.grade == "mixed" and held.balance:
            raise Refused(
                f"{code} holds mixed refrigerant, which becomes no other grade here; send it to a reclaimer or to "
                "destruction.",
                "grade",
            )
        recorder.holdings.regrade(code, grade)

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
        recorder.holdings.decant(source, into, before=before, after=after, quantity=quantity, scale=seen)
        check_safe_fill(recorder, into)

    return record("decant", run, [source, into], day=day, by=by, key=key)


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
            recorder.holdings.mark()
            said = []
            for code, gross in readings.items():
                held = recorder.holdings.containers.get(code)
                seen = ScaleSeen("", 0) if held is not None and held.is_oil else recorder.scale(scale)
                try:
                    said.append(recorder.holdings.count(code, gross, seen))
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
            if residue_into and recorder.holdings.containers[code].balance:
                check_filling(recorder, residue_into, day)
                keep_grades_apart(recorder, code, residue_into)
            left[code] = recorder.holdings.retire(code, residue_into)
        if residue_into:
            check_safe_fill(recorder, residue_into)
        return {"detail": {"containers": left, "into": residue_into}}

    return record("retirement", run, [*_some(codes), *filter(None, [residue_into])], day=day, by=by, key=key)


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
