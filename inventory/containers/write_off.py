"""What an entry writes off, and from which amount on two people must have said yes to it.

Written off is what is given up as lost: heels of retired containers, what got out by accident, and what a count finds
missing. What a job's weighings show is measured while the work is done; it is no decision, and nobody is held up by it.
"""

import datetime as dt
import functools
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import ParamSpec, TypeVar

from django.db.models import Q, Sum

from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.ledger.accounts import AccountClass, Transfer
from inventory.ledger.models import Movement, Voucher
from inventory.measures.quantity import show
from inventory.shop.clock import today, zone
from inventory.shop.models import Shop
from inventory.text.refusal import Refused

LOSSES = (AccountClass.HEEL_LOSS, AccountClass.OTHER_LOSS, AccountClass.UNEXPLAINED_LOSS)
WAITS = ("count", "retirement", "release", "reversal")  # kinds of entries that can be called again with a yes
MOMENT = "%Y-%m-%dT%H:%M:%S"  # as vouchers begin theirs
P, R = ParamSpec("P"), TypeVar("R")


@dataclass
class NeedsYes(Exception):
    """An entry that writes off more than one person may alone. lost: mg (oil: uL) by substance and whether it is an
    oil. act, said: the verb that was called and what it was told, so that it can be called again."""

    lost: dict[tuple[str, bool], int]
    act: str = ""
    said: dict[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        super().__init__(f"More is written off than one person may: {lost_said(self.lost)}.")


def lost_said(lost: dict[tuple[str, bool], int]) -> str:
    """E.g. `1.2 kg of R-134a, 300 mL of PAG 46`."""
    shown = (f"{show(quantity, 'mL' if oil else 'g')} of {code}" for (code, oil), quantity in sorted(lost.items()))
    return ", ".join(shown)


def lost_by(recorder: Recorder, transfers: Iterable[Transfer]) -> dict[tuple[str, bool], int]:
    """What goes from containers to losses: mg (oil: uL) by substance and whether it is an oil."""
    found: dict[tuple[str, bool], int] = {}
    for one in transfers:
        if one.source.cls == AccountClass.CONTAINER and one.target.cls in LOSSES:
            key = one.source.substance, recorder.holdings.containers[one.source.name].is_oil
            found[key] = found.get(key, 0) + one.quantity
    return found


def two_agree(recorder: Recorder, head: EntryHead) -> None:
    """Once an act was told to the holdings: raises NeedsYes where it writes off more than the shop's limit, together
    with what the same person wrote off today, and nobody else said yes. A correction that would is refused: it takes
    the place of an entry by itself, and nobody would see the two side by side."""
    if head.agreed:
        return
    lost = lost_by(recorder, recorder.holdings.postings.transfers)
    if not lost or not _is_over(lost, head.by):
        return
    if head.corrects:
        raise Refused(
            f"The correction writes off {lost_said(lost)}, more than one person may. Take voucher {head.corrects} "
            "back, and enter what is right as a new one: it then waits for the yes of a second person."
        )
    raise NeedsYes(lost)


def two_agree_to_what_follows(recorder: Recorder, head: EntryHead) -> None:
    """Once an act was posted: the same of what it makes of what is on record. A decant that is taken back, or put in
    before a count, turns the count's agreement into a loss. Raises NeedsYes where the act is one that can wait for a
    yes, Refused for any other."""
    lost = {} if head.agreed else _lost_since(recorder)
    recorder.flush()
    if not lost or not _is_over(lost, head.by, posted=True):
        return
    if head.kind in WAITS and not head.corrects:
        raise NeedsYes(lost)
    right = (
        f"Take voucher {head.corrects} back, which then waits for the yes of a second person, and enter what is right "
        "as a new one."
        if head.corrects
        else "Take back first what was counted or weighed after it, then enter this and count again."
    )
    raise Refused(
        f"With it, what was weighed afterwards says that {lost_said(lost)} is lost, more than one person may write "
        f"off. {right}"
    )


def _lost_since(recorder: Recorder) -> dict[tuple[str, bool], int]:
    """What was posted for other acts, by substance: what is lost now and was not before."""
    found: dict[tuple[str, bool], int] = {}
    for one in recorder.followed:
        way = one.reversed() if one.reversal else one
        if way.source.cls == AccountClass.CONTAINER and way.target.cls in LOSSES:
            key = way.source.substance, recorder.holdings.containers[way.source.name].is_oil
            found[key] = found.get(key, 0) + (-one.quantity if one.reversal else one.quantity)
    return {key: quantity for key, quantity in found.items() if quantity > 0}


def _is_over(lost: dict[tuple[str, bool], int], by: str, posted: bool = False) -> bool:
    """posted: it counts among what is posted today already."""
    limits = Shop.objects.filter(id=1).values_list("write_off_mg", "write_off_ul").first() or (None, None)
    if limits == (None, None):
        return False
    before = _today_by(by)
    for oil, limit in zip((False, True), limits, strict=True):
        now = sum(quantity for (_, is_oil), quantity in lost.items() if is_oil == oil)
        if limit is not None and now and before.get(oil, 0) + (0 if posted else now) > limit:
            return True
    return False


def _today_by(by: str) -> dict[bool, int]:
    """What a person wrote off today without a second one: mg, and uL of oils. What was taken back counts all the same:
    else a large one that two agreed to, taken back, would be leave for another."""
    start = dt.datetime.combine(today(), dt.time(), zone()).astimezone(dt.UTC).strftime(MOMENT)
    own = Movement.objects.filter(voucher__recorded_by=by, voucher__recorded_at__gte=start, target_class__in=LOSSES)
    own = own.filter(voucher__kind__in=["count", "retirement", "release"]).exclude(
        voucher__detail__contains='"agreed":'
    )
    sums = own.values("substance__is_oil").annotate(out=Sum("quantity")).order_by()
    found = {one["substance__is_oil"]: one["out"] for one in sums}
    for is_oil, quantity in _followed_today(by, start):
        found[is_oil] = found.get(is_oil, 0) + quantity
    return found


def _followed_today(by: str, start: str) -> Iterator[tuple[bool, int]]:
    """What followed for other entries from what a person did at the desk: whether of an oil, and uL or mg."""
    own = Voucher.objects.filter(recorded_by=by, recorded_at__gte=start, kind="restatement")
    details = {one.number: json.loads(one.detail) for one in own.exclude(detail__contains='"agreed":')}
    because = {number: detail["because"] for number, detail in details.items()}
    jobs = set(Voucher.objects.filter(number__in=because.values(), kind="job").values_list("number", flat=True))
    desk = [number for number, cause in because.items() if cause not in jobs]
    sums: dict[tuple[int, bool], int] = {}
    moved = Movement.objects.filter(Q(source_class__in=LOSSES) | Q(target_class__in=LOSSES), voucher__in=desk)
    for number, is_oil, reversal, quantity in moved.values_list("voucher", "substance__is_oil", "reversal", "quantity"):
        sums[number, is_oil] = sums.get((number, is_oil), 0) + (-quantity if reversal else quantity)
    yield from ((is_oil, quantity) for (_, is_oil), quantity in sums.items() if quantity > 0)


def asks_second(verb: Callable[P, R]) -> Callable[P, R]:
    """A verb whose entry may need a second person's yes: NeedsYes then says how to call it again."""

    @functools.wraps(verb)
    def asking(**said: object) -> R:
        try:
            return verb(**said)
        except NeedsYes as needed:
            needed.act, needed.said = verb.__name__, said
            raise

    return asking
