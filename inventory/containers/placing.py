"""Where an act stands among the others of its containers, and how it finds them there."""

import datetime as dt
import json
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace

from inventory.containers.entries import ARRIVALS, OnRecord, OrderAsked, acts_of, moment, place_said, start_of
from inventory.containers.events import position_of, read
from inventory.containers.models import Container
from inventory.containers.replay import states_before
from inventory.containers.states import ContainerState
from inventory.ledger.models import Voucher
from inventory.shop.clock import now, today
from inventory.text.clean import clean
from inventory.text.refusal import Refused

NEXT = 10**11  # stands for the number of a voucher that is not posted yet: after all there are


@dataclass(frozen=True)
class EntryHead:
    """What every entry says, whatever it is about. day: of the act. by, done_by: usernames; who entered it, and who did
    it where that is another. key: of the form; the same key posts once. at: the moment of the act, where it is known.
    follows: where nothing tells that and something else touched its containers that day, the voucher after which it
    came, 0 for before all. corrects: the voucher whose place this entry takes, why: the reason. agreed: the username of
    a second person who said yes to what is written off. sure: what was asked about, and is right as it was typed."""

    kind: str
    day: dt.date
    by: str
    key: str = ""
    done_by: str | None = None
    document: str = ""
    note: str = ""
    at: dt.datetime | None = None
    follows: int | None = None
    corrects: int | None = None
    why: str = ""
    agreed: str = ""
    sure: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Place:
    """Where an act stands. position: blank for the one that its own voucher's number makes. corrects: the voucher whose
    place it takes, first_revision: the first one that stood there, codes: the containers that it touched."""

    on: dt.date
    at: str
    position: tuple[int, ...] = ()
    corrects: int | None = None
    first_revision: int | None = None
    codes: frozenset[str] = frozenset()

    @property
    def removed(self) -> set[int]:
        """The vouchers that are taken back for it."""
        return {self.corrects} if self.corrects else set()

    def starts(
        self, codes: Collection[str], rows: Mapping[str, Container], moments: Mapping[str, dt.datetime]
    ) -> dict[str, str]:
        """The position of the first thing said of each container, for those of which something later is on record, and
        for all where an earlier act is corrected. moments: of it, where it is known."""
        numbers, found = self.position or (NEXT,), {}
        for code in set(codes) & rows.keys():
            at = max(moment(moments[code]), self.at) if code in moments else self.at
            start = position_of(self.on, at, numbers)
            if self.corrects or rows[code].last_position > start:
                found[code] = start
        return found


def find_place(head: EntryHead, codes: set[str], own: int, clock: Callable[[], str]) -> Place:
    """The place of an act that touches these containers. own: the number that its voucher will have. clock: says the
    moment. Raises OrderAsked where nothing tells its place among other acts of its day, and Refused for an entry that
    cannot be corrected."""
    if head.corrects is None:
        return Place(head.day, *_said(head, codes, own, clock))
    voucher = _to_correct(head)
    event = read(json.loads(voucher.detail)["event"])
    first = voucher.first_revision_id or voucher.number
    at, position = event.at, event.position
    if head.follows is not None or head.day != event.on:
        at, position = _said(head, codes | event.codes, own, clock)
    return Place(head.day, at, position or (first,), voucher.number, first, frozenset(event.codes))


def _to_correct(head: EntryHead) -> Voucher:
    voucher = Voucher.objects.filter(number=head.corrects).first()
    if voucher is None or voucher.kind != head.kind:
        raise Refused(f"Voucher {head.corrects} is no {head.kind}; look its number up in the list of vouchers.")
    taken_back = Voucher.objects.filter(reverses=voucher).first()
    if taken_back:
        raise Refused(
            f"Voucher {voucher.number} was taken back by voucher {taken_back.number}; correct the entry that stands in "
            "its place, or record what is right as a new one."
        )
    if not clean(head.why, "why"):
        raise Refused("Say what was wrong; the reason is kept with the reversal.", "why")
    return voucher


def _said(head: EntryHead, codes: set[str], own: int, clock: Callable[[], str]) -> tuple[str, tuple[int, ...]]:
    """Moment and position, as far as the entry or the clock tells them."""
    if head.kind in ARRIVALS:
        return "", ()  # what comes in is there before all else of its day
    if head.at is not None:
        return moment(head.at), ()
    if head.follows is not None:
        return place_said(head.day, head.follows, codes, own)
    if head.day == today():
        return clock(), ()
    others = acts_of(head.day, codes, head.corrects)
    if others:
        raise OrderAsked(head.day, others)
    return start_of(head.day), ()


def seen_from(
    head: EntryHead, rows: Mapping[str, Container], moments: Mapping[str, dt.datetime]
) -> dict[str, ContainerState]:
    """Containers as an entry would find them if it were posted now; nothing is posted. An act of which its place is
    still to be asked is seen in the last place of its day at which none of them was retired yet. rows: with all that
    `held` needs."""
    try:
        return _seen(head, rows, moments)
    except OrderAsked as asked:
        places = [*(one.voucher for one in reversed(asked.acts)), 0]
    last = _seen(replace(head, follows=places[0]), rows, moments)
    found = last
    for follows in places[1:]:
        if not any(held.retired for held in found.values()):
            return found
        found = _seen(replace(head, follows=follows), rows, moments)
    return last if any(held.retired for held in found.values()) else found


def _seen(
    head: EntryHead, rows: Mapping[str, Container], moments: Mapping[str, dt.datetime]
) -> dict[str, ContainerState]:
    place = find_place(head, set(rows), NEXT, lambda: moment(now()))
    found = {code: row.held for code, row in rows.items()}
    starts = place.starts(rows, rows, moments)
    if starts:
        then = states_before(OnRecord(), starts, place.removed)
        found |= {code: then.get(code) or not_yet(found[code]) for code in starts}
    return found


def not_yet(held: ContainerState) -> ContainerState:
    """A container before it came."""
    return replace(held, void=True, balance=0)
