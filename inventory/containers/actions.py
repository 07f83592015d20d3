"""The verbs of containers: each one voucher, in one transaction, or nothing.

head: what every entry says, as `EntryHead` has it: day, by, key, and where there are any done_by, document, note, at,
follows; and corrects and why, where the entry takes the place of an earlier one; agreed, where a second person said
yes to what it writes off. The same key posts once and is
answered with the voucher it made.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace

from inventory.containers.filling import check_filling, check_safe_fill, keep_grades_apart
from inventory.containers.holdings import Weighed
from inventory.containers.models import Container, Location
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder, recording
from inventory.containers.rows import LABEL
from inventory.containers.states import NO_SCALE, Reading
from inventory.containers.write_off import asks_second, two_agree, two_agree_to_what_follows
from inventory.ledger.actions import rehearsing, writing
from inventory.ledger.models import BESIDE_STOCK, Voucher
from inventory.measures.days import said_day
from inventory.shop.clock import today
from inventory.shop.days import happened
from inventory.text.clean import clean
from inventory.text.refusal import Refused


def not_before_arrival(recorder: Recorder, codes: Iterable[str], day: dt.date) -> None:
    for code in codes:
        row = recorder.rows.by_code.get(code)
        if row is not None and not row.void and row.arrived_on > day:
            raise Refused(f"{code} came in on {said_day(row.arrived_on)}; date it that day or later.", "day")


def record(head: EntryHead, run: Callable[[Recorder], dict | None], codes: Iterable[str]) -> int:
    """Run an act on the holdings and post it as one voucher; returns its number. run: gets the recorder, and returns
    what `Recorder.post` is told besides. codes: the containers that it touches."""
    happened(head.day)
    with recording() as recorder:
        posted = recorder.ledger.posted(head.key) if head.key else None
        if posted is not None:
            return posted
        recorder.load(codes)
        not_before_arrival(recorder, codes, head.day)
        recorder.open(head, codes)
        number = recorder.post(head, **(run(recorder) or {}))
        two_agree_to_what_follows(recorder, head)
        return number


def take_back(number: int, *, by: str, note: str, key: str = "") -> int:
    """Take a voucher back; returns the reversal's number. Raises Refused, naming what stands in the way, and NeedsYes.
    A job's voucher is corrected through its job, which keeps both revisions."""
    return taken_back(number=number, by=by, note=note, key=key)


@asks_second
def taken_back(*, number: int, by: str, note: str, key: str = "", agreed: str = "") -> int:
    """The same, as it is told again with a second person's yes."""
    with recording() as recorder:
        posted = recorder.ledger.posted(key) if key else None
        if posted:
            return posted
        voucher = Voucher.objects.filter(number=number).first()
        if voucher is not None and voucher.kind == "job":
            raise Refused(f"Voucher {number} belongs to a job; correct it on the job's own page.")
        if voucher is not None and voucher.kind in BESIDE_STOCK:
            raise Refused(f"Voucher {number} moved nothing and stays; what it states is changed where it was entered.")
        if voucher is not None and voucher.kind == "restatement":
            raise Refused(f"Voucher {number} follows from others; correct the entry that is wrong, and it goes along.")
        if not note.strip():
            raise Refused("Say why the voucher is taken back.", "note")
        head = EntryHead("reversal", today(), by, key, note=note, agreed=agreed)
        reversal = recorder.take_back(number, head)
        two_agree_to_what_follows(recorder, head)
        return reversal


def move(*, codes: Sequence[str], location: str, **head: object) -> int:
    """Containers to another place, with what is in them."""
    location = clean(location, "to_location")
    if not location:
        raise Refused("Name where to.", "to_location")

    def run(recorder: Recorder) -> None:
        for code in codes:
            recorder.holdings.move(code, location)

    return record(EntryHead("move", **head), run, some(codes))


def regrade(*, code: str, grade: str, **head: object) -> int:
    """Another grade for what a container holds. What is mixed stays mixed: it leaves for a reclaimer or destruction."""

    def run(recorder: Recorder) -> None:
        held = recorder.holdings.containers.get(code)
        if held is not None and held.grade == "mixed" and held.balance:
            raise Refused(
                f"{code} holds mixed refrigerant, which becomes no other grade here; send it to a reclaimer or to "
                "destruction.",
                "grade",
            )
        recorder.holdings.regrade(code, grade)

    return record(EntryHead("regrade", **head), run, [code])


def decant(
    *,
    source: str,
    into: str,
    before: int | None = None,
    after: int | None = None,
    quantity: int | None = None,
    scale: str = "",
    **head: object,
) -> int:
    """From one container into another; refused beyond the other's safe fill. before, after: weights of the one it
    left, on the scale of this code (blank: the usual one); or the quantity."""
    weighed = Weighed(before, after, quantity)
    if weighed.on_scale == (quantity is not None) or (weighed.on_scale and None in (before, after)):
        raise Refused("Give the weights before and after of the container it left, or the quantity.", "before")
    entry = EntryHead("decant", **head)

    def run(recorder: Recorder) -> None:
        seen = recorder.scale(scale) if weighed.on_scale else None
        check_filling(recorder, into, entry.day)
        keep_grades_apart(recorder, source, into)
        recorder.holdings.decant(source, into, replace(weighed, scale=seen))
        check_safe_fill(recorder, into, entry.day)

    return record(entry, run, [source, into])


@asks_second
def count(
    *, readings: Mapping[str, int], scale: str = "", preview: bool = False, **head: object
) -> tuple[int, list[Reading]]:
    """Weigh containers (mg gross; oil: uL left) and put the book right to them, as one voucher. Returns its number
    and what each reading said; preview: post nothing, only say it."""
    if not readings:
        raise Refused("Enter at least one reading.")
    said: list[Reading] = []

    def run(recorder: Recorder) -> None:
        for code, gross in readings.items():
            held = recorder.holdings.containers.get(code)
            seen = NO_SCALE if held is not None and held.is_oil else recorder.scale(scale)
            try:
                said.append(recorder.holdings.count(code, gross, seen))
            except Refused as refused:
                raise Refused(refused.message, f"gross-{code}") from None
        if not preview:
            two_agree(recorder, head_of)

    head_of = EntryHead("count", **head)
    with rehearsing() if preview else nullcontext():
        number = record(head_of, run, list(readings))
    return 0 if preview else number, said


@asks_second
def retire(
    *, codes: Sequence[str], residue_into: str, taken_by: str = "", statement: bool = False, **head: object
) -> int:
    """Out of use for good; what is left is heel loss, or goes into the container named. taken_by: the code of the party
    that took the containers over; statement: of a certified person, who evacuated them. Where a rule asks for one of
    the two and neither is said, it is found wanting, not refused."""
    entry = EntryHead("retirement", **head)
    proof = {name: value for name, value in (("taken_by", taken_by), ("statement", statement)) if value}

    def run(recorder: Recorder) -> dict:
        left = {}
        for code in codes:
            held = recorder.holdings.containers.get(code)
            if residue_into and held is not None and held.balance:
                check_filling(recorder, residue_into, entry.day)
                keep_grades_apart(recorder, code, residue_into)
            left[code] = recorder.holdings.retire(code, residue_into)
        if residue_into:
            check_safe_fill(recorder, residue_into, entry.day)
        two_agree(recorder, entry)
        return {"detail": {"containers": left, "into": residue_into, **proof}}

    return record(entry, run, [*some(codes), *filter(None, [residue_into])])


def correct_tare(*, code: str, tare_mg: int, **head: object) -> int:
    """A container's tare as it was found to be; from the next weighing on. Readings before keep the tare that they
    were taken with. Raises Refused without a reason, in `note`."""
    entry = EntryHead("tare", **head)
    if not entry.note.strip():
        raise Refused("Say how the tare was found; it is kept with the container.", "note")

    def run(recorder: Recorder) -> dict:
        held = recorder.holdings.containers.get(code)
        old_mg = held.tare if held else None
        recorder.holdings.set_tare(code, tare_mg)
        return {"detail": {"tare": {"container": code, "old_mg": old_mg, "new_mg": tare_mg}}}

    return record(entry, run, [code])


def relabel(*, code: str, label: Mapping[str, object]) -> None:
    """What a container's label says from now on: of `rows.LABEL`, each as it is where nothing is said unless named; and
    its supplier's number, where that is named. Raises Refused for what no label says of that grade."""
    said = {**LABEL, **label}
    with writing():
        row = Container.objects.get(code=code)
        check_label(row.grade, str(said["label_says"]))
        for name, value in said.items():
            setattr(row, name, clean(value, name) if isinstance(value, str) else value)
        row.save(update_fields=list(said))


def check_label(grade: str, label_says: str) -> None:
    """Refuse virgin gas whose label says that it was used before: one of the two is a slip, and they are not ruled
    alike."""
    if grade == "virgin" and label_says in {"recycled", "reclaimed"}:
        raise Refused(f"Its label says {label_says}, and its grade is virgin: choose the one that it is.", "label_says")


def some(codes: Sequence[str]) -> Sequence[str]:
    if not codes:
        raise Refused("Choose at least one container.", "containers")
    return codes


# -- places and scales ---------------------------------------------------------------------------


def add_location(*, name: str) -> Location:
    name = clean(name, "name")
    if not name:
        raise Refused("Name the place, e.g. Store or Van 2.", "name")
    with writing():
        found, made = Location.objects.get_or_create(name=name)
    if not made:
        raise Refused(f"There is a place {name} already.", "name")
    return found
