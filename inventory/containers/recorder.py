"""Posts acts on containers, and keeps containers, their entries and weighings in step with the ledger.

One `Recorder` lives inside one `ledger.actions.writing()`. It holds the rows of the containers that it loaded, writes
in batches, and is ended with `flush`. The web pages record one act with it, the loading of a log thousands.

An act that comes after all that is on record of its containers is posted as its ops did it. Any other, and any that
takes an earlier one's place, is put among the others and the stories are told anew (`replay.py`).
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from inventory.containers.entries import OnRecord
from inventory.containers.events import Event, placed
from inventory.containers.holdings import Holdings
from inventory.containers.models import Container, ContainerEntry, Scale
from inventory.containers.placing import EntryHead, Place, find_place, not_yet
from inventory.containers.replay import Restatement, restate, states_before
from inventory.containers.rows import Rows, readings_said
from inventory.containers.states import ContainerState, ScaleSeen
from inventory.containers.telling import Postings
from inventory.ledger.accounts import Transfer
from inventory.ledger.actions import Draft, Writer, writing
from inventory.shop.clock import one_zone, today


class Recorder:
    """rows: the containers loaded or made. holdings: the same as the rules see them."""

    def __init__(self, ledger: Writer):
        self.ledger = ledger
        self.rows = Rows(ledger)
        self.holdings = Holdings({})
        self.world = OnRecord()
        self.place: Place | None = None
        self.dated_today = 0  # acts whose vouchers could not be dated their own day
        self.followed: list[Transfer] = []  # what was posted since for others, because of acts among them
        self._aside: dict[str, ContainerState] = {}  # how containers stand now, while they are seen as they were

    # -- loading ---------------------------------------------------------------------------------

    def load(self, codes: Iterable[str]) -> Holdings:
        """Bring these containers into the holdings, as they stand now; unknown codes stay unknown to them."""
        return self._hold(self.rows.load(codes))

    def load_all(self) -> Holdings:
        """Bring every container in: for the loading of a log."""
        return self._hold(self.rows.load_all())

    def know(self, containers: Iterable[Container], scales: Iterable[Scale | None]) -> None:
        """Bring rows in that this transaction has read already, with all that `held` needs."""
        self._hold(self.rows.know(containers, scales))

    def _hold(self, rows: Iterable[Container]) -> Holdings:
        for row in rows:
            self.holdings.containers[row.code] = row.held
        return self.holdings

    def scale(self, code: str = "") -> ScaleSeen:
        """The scale of this code, or the shop's usual one. Raises Refused for one that is not there."""
        return self.rows.scale(code)

    # -- where the act stands --------------------------------------------------------------------

    def open(
        self,
        head: EntryHead,
        codes: Iterable[str],
        moments: Mapping[str, dt.datetime] | None = None,
    ) -> None:
        """Begin an act: find its place, and bring the containers in as they stood there. moments: of the first thing
        said of a container, where that is known.

        Raises OrderAsked where nothing tells its place among other acts of its day, and Refused for an entry whose
        place cannot be taken."""
        self.load(codes)
        if head.corrects:
            self.flush()
        self.place = find_place(head, set(codes), self.ledger.number + (2 if head.corrects else 1), self.ledger.moment)
        self.load(self.place.codes)
        self.holdings.begin(self.place.on, self.place.at)
        starts = self.place.starts({*codes, *self.place.codes}, self.rows.by_code, moments or {})
        if starts:
            self.flush()
            then = states_before(self.world, starts, self.place.removed)
            for code in starts:
                self._aside[code] = self.holdings.containers[code]
                self.holdings.containers[code] = then.get(code) or not_yet(self._aside[code])

    def drop(self) -> None:
        """Forget the act that was begun, and what it did to the holdings."""
        self.holdings.back()
        self.holdings.containers.update(self._aside)
        self._aside.clear()

    # -- posting ---------------------------------------------------------------------------------

    def post(
        self,
        head: EntryHead,
        detail: Mapping[str, object] | None = None,
        besides: Mapping[str, Mapping[str, object]] | None = None,
    ) -> int:
        """Post what the holdings were told since `open`; returns the voucher's number. besides: per new container what
        its story does not need, of `rows.BESIDES`. Raises Refused; the transaction must then be rolled back."""
        event, postings = self.holdings.event(self.place.position), self.holdings.postings
        said, besides = dict(detail or {}), besides or {}
        if besides:
            said["arrivals"] = {code: _kept(more) for code, more in besides.items()}
        if self.place.corrects or self._aside or self._comes_late(event):
            return self._put_in(head, event, said, besides)
        day = self._day(event.on, postings.transfers)
        number = self._post(head, event, said, day, postings)
        for code, more in besides.items():
            self.rows.arrive(code, more)
        positions = {one.op.code: one.position for one in placed(event, number)}  # the last of each
        for code, state in postings.changed.items():
            state.last = positions[code]
            state.arrival = state.arrival or number
            self.rows.adopt(code, state, number, day)
        return number

    def _comes_late(self, event: Event) -> bool:
        """Whether something on record comes after it in the story of one of its containers."""
        known = self.rows.by_code
        return any(
            one.op.code in known and known[one.op.code].last_position > one.position
            for one in placed(event, 0, self.ledger.number + 1)
        )

    def _post(
        self,
        head: EntryHead,
        event: Event,
        said: dict,
        day: dt.date,
        postings: Postings,
    ) -> int:
        said["event"] = event.said()
        if postings.readings:
            said["weighings"] = readings_said(postings.readings)
        if self.place.first_revision:
            said["first_revision"] = self.place.first_revision
        if head.agreed:
            said["agreed"] = head.agreed
        if head.sure:
            said["sure"] = dict(head.sure)
        number = self.ledger.post(
            Draft(
                kind=head.kind,
                day=day,
                recorded_by=head.by,
                done_by=head.by if head.done_by is None else head.done_by,
                document=head.document,
                note=head.note,
                transfers=tuple(postings.transfers),
                detail=said,
                key=head.key,
                first_revision=self.place.first_revision,
            ),
            checked=False,
        )
        self.rows.enter(said["event"], postings.readings, number, day)
        return number

    def _put_in(self, head: EntryHead, event: Event, said: dict, besides: Mapping) -> int:
        """Post an act among others, or in the place of one: that one's reversal, the act, and what follows from it."""
        corrects, removed = self.place.corrects, self.place.removed
        self.drop()  # its outcome is what the stories come to with it
        self.flush()
        number = self.ledger.number + 1 + len(removed)
        rest = restate(self.world, removed, event, number)
        for code, more in besides.items():
            self.rows.arrive(code, more)
        self.load(rest.states)
        if corrects:
            day = today()
            self._reverse(corrects, head, day)
        else:
            day = self._day(event.on, [*rest.own, *rest.transfers])
        readings = [rest.readings[0, line] for line in range(sum(op.readings for op in event.ops))]
        self._post(head, event, said, day, Postings(rest.own, readings))
        self._restate(rest, number, head, day)
        return number

    def take_back(self, number: int, head: EntryHead) -> int:
        """Take a voucher back; returns the number of its reversal. head: of the reversal, dated today."""
        self.flush()
        self.place = None
        rest = restate(self.world, {number})
        self.load(rest.states)
        reversal = self._reverse(number, head, head.day)
        self._restate(rest, reversal, head, head.day)
        return reversal

    def _reverse(self, number: int, head: EntryHead, day: dt.date) -> int:
        note = head.note if head.kind == "reversal" else head.why
        key = head.key if head.kind == "reversal" else f"{head.key}:reversal" if head.key else ""
        ContainerEntry.objects.filter(voucher=number).delete()
        reversal = self.ledger.reversal_of(number, day=day, recorded_by=head.by, note=note, key=key)
        return self.ledger.post(reversal, checked=False)

    def _restate(self, rest: Restatement, because: int, head: EntryHead, day: dt.date) -> None:
        """Post what follows from an act for others, where something does, and bring the rows to their stories."""
        latest = self.ledger.number
        restated = self.rows.restated(rest.readings, rest.states)
        if rest.transfers or restated:
            detail: dict[str, object] = {"because": because}
            if head.agreed:
                detail["agreed"] = head.agreed
            if restated:
                detail["weighings"] = readings_said(reading for _, reading in restated)
                detail["restates"] = [[row[1], row[2]] for row, _ in restated]
            latest = self.ledger.post(
                Draft(kind="restatement", day=day, recorded_by=head.by, transfers=rest.transfers, detail=detail),
                checked=False,
            )
            self.rows.restate(restated, latest, day)
            self.followed += rest.transfers
        self.ledger.accounts.load({state.spot for state in rest.states.values() if state and state.substance})
        for code, state in rest.states.items():
            if state is not None:
                state.arrival = state.arrival or because
                self.holdings.containers[code] = state
            else:
                self.holdings.containers[code] = not_yet(self.holdings.containers[code])
            self.rows.adopt(code, state, latest, day)

    def _day(self, on: dt.date, transfers: Sequence[Transfer]) -> dt.date:
        """The day that a voucher of an act of that day is dated: that one, unless it is sealed, or an account would
        stand below zero on a later day; then today."""
        sealed = self.ledger.sealed_through and on <= self.ledger.sealed_through
        if not sealed and not self.ledger.falls_below(transfers, on):
            return on
        self.dated_today += 1
        return today()

    def flush(self) -> None:
        self.rows.flush()


@contextmanager
def recording() -> Iterator[Recorder]:
    """A recorder in a transaction of its own, flushed at the end."""
    with writing() as ledger, one_zone():
        recorder = Recorder(ledger)
        yield recorder
        recorder.flush()


def _kept(besides: Mapping[str, object]) -> dict[str, object]:
    """What was said of a container besides its story, without what was not."""
    return {name: _plain(value) for name, value in besides.items() if value not in (None, "") and value is not False}


def _plain(value: object) -> object:
    return value if isinstance(value, (int, str)) else str(value)
