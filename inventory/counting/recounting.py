"""A count that was posted, said again."""

import datetime as dt
import json
from collections.abc import Mapping
from typing import NamedTuple

from inventory.containers.actions import not_before_arrival
from inventory.containers.entries import MOMENT
from inventory.containers.events import Event, read
from inventory.containers.models import Weighing
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder, recording
from inventory.containers.states import NO_SCALE, ScaleSeen
from inventory.containers.write_off import two_agree, two_agree_to_what_follows
from inventory.counting.models import Count, Explanation
from inventory.ledger.models import Voucher
from inventory.shop.days import happened
from inventory.text.refusal import Refused


class Shown(NamedTuple):
    """What a container was read as: mg gross, of an oil uL left. scale: its code, blank for the usual one."""

    gross: int
    scale: str = ""


def recount(*, readings: Mapping[str, Shown], **head: object) -> int:
    """Post a count in the place of one that was posted; returns its number. What was counted again as before keeps its
    moment, a count of a place its place, and a difference that is still there the reason that was given for it.
    head: as in `containers/actions.py`."""
    entry = EntryHead("count", **head)
    happened(entry.day)
    if not readings:
        raise Refused("Enter at least one reading.")
    with recording() as recorder:
        posted = recorder.ledger.posted(entry.key) if entry.key else None
        if posted is not None:
            return posted
        earlier = json.loads(Voucher.objects.get(number=entry.corrects).detail)
        event = read(earlier["event"])
        moments = _moments(event) if entry.day == event.on and entry.follows is None else {}
        recorder.load(readings)
        not_before_arrival(recorder, readings, entry.day)
        known = {code: dt.datetime.strptime(at, MOMENT).replace(tzinfo=dt.UTC) for code, at in moments.items()}
        seen = [code for code in earlier.get("seen", ()) if code not in readings]
        recorder.load(seen)
        recorder.open(entry, [*readings, *seen], known)
        _read(recorder, readings, event, moments)
        for code in seen:  # it stands there as it did
            recorder.holdings.move(code, earlier["place"])
        two_agree(recorder, entry)
        detail = {"place": earlier["place"]} if "place" in earlier else {}
        detail |= {name: earlier[name] for name in ("seen", "assumed") if name in earlier}
        reasons = {code: why for code, why in earlier.get("reasons", {}).items() if code in readings}
        number = recorder.post(entry, detail | ({"reasons": reasons} if reasons else {}))
        for count in Count.objects.filter(voucher=entry.corrects):
            count.voucher_id = number
            count.save()
        recorder.flush()
        two_agree_to_what_follows(recorder, entry)
        _keep_reasons(entry.corrects, number)
    return number


def _moments(event: Event) -> dict[str, str]:
    """When each container was read, where that is known and another moment than the event's."""
    return {op.code: op.at for op in event.ops if op.verb == "count" and op.at}


def _read(recorder: Recorder, readings: Mapping[str, Shown], event: Event, moments: Mapping[str, str]) -> None:
    place = next((op.location for op in event.ops if op.verb == "stand"), "")
    scales = {(op.code, op.scale): op.readability for op in event.ops if op.verb == "count"}
    for code, (gross, scale) in readings.items():
        recorder.holdings.moment = max(recorder.holdings.at, moments.get(code, ""))
        held = recorder.holdings.containers.get(code)
        try:
            if place:
                recorder.holdings.move(code, place)
            if held is not None and held.is_oil:
                seen = NO_SCALE
            elif (code, scale) in scales:  # what it could resolve when the reading was taken
                seen = ScaleSeen(scale, scales[code, scale])
            else:
                seen = recorder.scale(scale)
            recorder.holdings.count(code, gross, seen)
        except Refused as refused:
            raise Refused(f"{code}: {refused.message}") from None


def _keep_reasons(earlier: int, number: int) -> None:
    """Explain the differences that are still there as they were explained."""
    explained = Explanation.objects.filter(weighing__voucher=earlier).order_by("id")
    latest = {one.weighing.container_id: one for one in explained.select_related("weighing")}
    differing = Weighing.objects.filter(voucher=number, container__in=latest).exclude(difference=0)
    for weighing in differing:
        why = latest[weighing.container_id]
        Explanation.objects.create(weighing=weighing, reason=why.reason, note=why.note, by=why.by, at=why.at)
