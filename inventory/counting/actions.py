"""A count: started, entered, posted as one voucher or abandoned; and explaining a difference."""

import datetime as dt
import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.db import transaction
from django.utils import timezone

from inventory.containers.actions import correct_tare as change_tare
from inventory.containers.entries import OrderAsked, moment
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder, recording
from inventory.containers.states import NO_SCALE, Reading
from inventory.containers.write_off import asks_second, two_agree, two_agree_to_what_follows
from inventory.counting.entering import enter, keep_note, open_count, standing_at
from inventory.counting.models import REASONS, Count, CountEntry, Explanation, TareChange
from inventory.ledger.actions import at_hand, rehearsing, take_turn, writing
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.shop.clock import on_day, today, zone
from inventory.shop.days import happened
from inventory.shop.once import keep, made_by, recorded
from inventory.text.clean import clean
from inventory.text.refusal import Refused

UNEXPLAINED = {"unexplained gain", "unexplained loss"}


def start_count(*, location: Location, day: dt.date, scale: Scale | None, by: str, key: uuid.UUID) -> Count:
    """Begin to count a place; a count that is open there already is gone on with. Posts nothing."""
    happened(day)
    with transaction.atomic():
        take_turn()
        recorded()
        found = made_by(Count, key) or Count.objects.filter(location=location, state="open").first()
        if found is None:
            found = Count.objects.create(
                location=location, day=day, scale=scale, key=key, started_by=by, started_at=timezone.now()
            )
            if at_hand() is None:  # else it is part of an act that keeps its form itself
                _keep_form(found)
        return found


def type_in(*, location: Location, scale: Scale | None, readings: Mapping[str, int], **head: object) -> Count:
    """A sheet that was written by hand: all its readings (mg gross; oil: uL left) as a count of its own, posted where
    none wants a reason, else left open for them, and changed there. A refusal leaves nothing behind. The same key is
    the same sheet. head: as in `containers/actions.py`; `sure` by container."""
    entry = EntryHead("count", **head)
    if not readings:
        raise Refused("Enter at least one reading.")
    with writing():
        if (known := made_by(Count, entry.key)) is not None:
            return known
        other = Count.objects.filter(location=location, state="open").first()
        if other:
            raise Refused(
                f"A count of {location.name} is under way: {other.started_by} began it for {said_day(other.day)}. Post "
                "or abandon it first, or enter these readings there."
            )
        made = start_count(location=location, day=entry.day, scale=scale, by=entry.by, key=entry.key)
        keep_note(count_id=made.pk, note=entry.note)
        for code, gross in readings.items():
            was = entry.sure.get(code, "")
            enter(count_id=made.pk, code=code, gross=gross, by=entry.by, scale=scale, sure=True, sure_of=was)
        made.refresh_from_db()
        if not any(one.outside for one in judge(made)):
            post_count(count_id=made.pk, by=entry.by, note=entry.note, follows=entry.follows)
            made.refresh_from_db()
        if made.state == "open":
            _keep_form(made)
        return made


def _keep_form(made: Count) -> None:
    keep(called=f"the count of {made.location.name}", thing=f"count {made.pk}")


def abandon(*, count_id: int, by: str) -> Count:
    """End a count that posts nothing. Its readings stay readable."""
    with writing():
        count = open_count(count_id)
        count.state, count.ended_by, count.ended_at = "abandoned", by, timezone.now()
        count.save(update_fields=["state", "ended_by", "ended_at"])
        return count


@dataclass(frozen=True)
class Judged:
    """An entry beside what the book says now. reading: None where it cannot be judged; why says why."""

    entry: CountEntry
    reading: Reading | None
    why: str = ""

    @property
    def outside(self) -> bool:
        return self.reading is not None and self.reading.outcome in UNEXPLAINED

    @property
    def elsewhere(self) -> bool:
        """Whether the book has the container at another place than the one that is counted."""
        return self.entry.container.location_id != self.entry.count.location_id

    @property
    def used_since(self) -> bool:
        return self.entry.last_voucher != self.entry.container.last_voucher_id


def judge(count: Count) -> list[Judged]:
    """What posting the count would say of each entry, the latest first; nothing posted."""
    entries, found = _entries(count), []
    codes, moments = [entry.container.code for entry in entries], _moments(entries)
    with rehearsing(), recording() as recorder:
        try:
            recorder.open(_head(count), codes, moments)
        except OrderAsked as asked:  # it is asked when the count is posted; until then it is seen as the day's last act
            recorder.open(_head(count, follows=asked.acts[-1].voucher), codes, moments)
        for entry in entries:
            if entry.is_seen:
                found.append(Judged(entry, None))
                continue
            try:
                found.append(Judged(entry, _read(recorder, entry)))
            except Refused as refused:
                found.append(Judged(entry, None, refused.message))
    return found[::-1]


def _head(count: Count, by: str = "", note: str = "", follows: int | None = None, agreed: str = "") -> EntryHead:
    """The entry of a count. after: where nothing tells when on its day it was, the voucher after which it came."""
    at = None if follows is not None else on_day(count.started_at, count.day)
    said = {"note": note or count.note, "at": at, "follows": follows, "agreed": agreed}
    return EntryHead("count", count.day, by, f"count:{count.key}", **said)


def _entries(count: Count) -> list[CountEntry]:
    """A count's readings in the order in which they were entered, each with `moment`: when that was, as events have it;
    blank where it was on another day than the count."""
    here = zone()
    found = list(count.entries.select_related("container__location", "container__substance", "scale").order_by("id"))
    for entry in found:
        entry.moment = moment(entry.at) if entry.at.astimezone(here).date() == count.day else ""
    return found


def _moments(entries: list[CountEntry]) -> dict[str, dt.datetime]:
    """When each container was read, where that was on the day of the count."""
    return {entry.container.code: entry.at for entry in entries if entry.moment}


def _read(recorder: Recorder, entry: CountEntry) -> Reading:
    recorder.holdings.moment = max(recorder.holdings.at, entry.moment)
    seen = NO_SCALE if entry.container.is_oil else recorder.scale(entry.scale.code if entry.scale else "")
    return recorder.holdings.count(entry.container.code, entry.gross, seen)


@asks_second
def post_count(*, count_id: int, by: str, note: str = "", follows: int | None = None, agreed: str = "") -> int:
    """Post all readings as one voucher; what was found elsewhere is moved here by it. Returns its number. follows: of
    a count of an earlier day, the voucher after which it came. Raises Refused where a difference outside tolerance has
    no reason, or a container was used since it was weighed."""
    with recording() as recorder:
        count = open_count(count_id)
        entries = _entries(count)
        if not entries:
            raise Refused("Nothing is counted yet; weigh at least one container, or abandon the count.")
        _refuse_used(entries)
        sure = {entry.container.code: entry.sure for entry in entries if entry.sure}
        head = replace(_head(count, by, note, follows, agreed), sure=sure)
        recorder.open(head, [entry.container.code for entry in entries], _moments(entries))
        readings = _post_readings(recorder, count, entries)
        two_agree(recorder, head)
        detail = {
            "place": count.location.name,
            "reasons": {e.container.code: e.reason for e in entries if e.reason},
            **_not_weighed(count, entries),
        }
        number = recorder.post(head, detail)
        count.voucher_id, count.state, count.note = number, "posted", head.note
        count.ended_by, count.ended_at = by, timezone.now()
        count.save()
        two_agree_to_what_follows(recorder, head)
        _explain_from(number, entries, readings, by)
        return number


def _refuse_used(entries: list[CountEntry]) -> None:
    used = [e.container.code for e in entries if e.last_voucher != e.container.last_voucher_id]
    if used:
        raise Refused(
            f"Something was recorded for {', '.join(used[:10])} since it was weighed. Weigh it again, or take it off "
            "this count."
        )


def _not_weighed(count: Count, entries: list[CountEntry]) -> dict[str, list[str]]:
    """What was only seen at a count, and what stands there by the book and was neither weighed nor seen."""
    seen = sorted(entry.container.code for entry in entries if entry.is_seen)
    entered = [entry.container_id for entry in entries]
    assumed = list(standing_at(count).exclude(pk__in=entered).order_by("code").values_list("code", flat=True))
    return {name: codes for name, codes in (("seen", seen), ("assumed", assumed)) if codes}


def _post_readings(recorder: Recorder, count: Count, entries: list[CountEntry]) -> dict[str, Reading]:
    readings = {}
    for entry in entries:
        code = entry.container.code
        recorder.holdings.moment = max(recorder.holdings.at, entry.moment)
        recorder.holdings.move(code, count.location.name)
        if entry.is_seen:
            continue
        try:
            readings[code] = _read(recorder, entry)
        except Refused as refused:
            raise Refused(f"{code}: {refused.message}") from None
    weighed = [e for e in entries if not e.is_seen]
    wanting = [e.container.code for e in weighed if readings[e.container.code].outcome in UNEXPLAINED and not e.reason]
    if wanting:
        raise Refused(
            f"{', '.join(wanting[:10])}: more than weighing can explain. Give the reason of each, unknown if need be."
        )
    return readings


def _explain_from(number: int, entries: list[CountEntry], readings: dict[str, Reading], by: str) -> None:
    weighings = {w.container.code: w for w in Weighing.objects.filter(voucher=number).select_related("container")}
    for e in entries:
        if e.reason and not e.is_seen and readings[e.container.code].difference:
            Explanation.objects.create(
                weighing=weighings[e.container.code], reason=e.reason, note=e.reason_note, by=by, at=timezone.now()
            )


def explain(*, weighing_id: int, reason: str, note: str, by: str) -> Explanation:
    """Say why a weighing differed; a later explanation counts instead of an earlier one, which stays."""
    if reason not in REASONS:
        raise Refused(f"Choose one of {', '.join(REASONS.values())}.", "reason")
    weighing = Weighing.objects.filter(pk=weighing_id).first()
    if weighing is None or not weighing.difference:
        raise Refused("This weighing agrees with the book; there is nothing to explain.")
    with writing():
        return Explanation.objects.create(
            weighing=weighing, reason=reason, note=clean(note, "note", 300), by=by, at=timezone.now()
        )


def correct_tare(*, code: str, tare_mg: int, note: str, **head: object) -> int:
    """A container's tare as it was found to be, today where no day is said; from the next weighing on. note: how it
    was found; Refused without it. The readings before keep the tare that they were taken with."""
    head = {"day": today(), **head}
    note = clean(note, "note", 300)
    with writing() as ledger:
        number = change_tare(code=code, tare_mg=tare_mg, note=note, **head)
        if not TareChange.objects.filter(voucher=number).exists():
            ledger.flush()
            said = json.loads(Voucher.objects.get(number=number).detail)["tare"]
            TareChange.objects.create(
                voucher_id=number,
                container=Container.objects.get(code=code),
                old_mg=said["old_mg"],
                new_mg=tare_mg,
                why=note,
                by=head["by"],
                at=timezone.now(),
            )
        return number
