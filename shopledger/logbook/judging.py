"""Judging the events of a log: each row that can be judged is judged, in one pass and in their order.

A row at fault is left out, and the rest of its event still counts. What it would have done to its containers nobody
knows then: a row that comes after it, for the same container, leans on it. Such a row is judged as well, and is a fault
only where it would be one whatever the row before it should have said; what may be an echo is not listed, but counted.

What is not known of a container, by code: CONTENT how much is in it, GRADE of what grade, TARE what it weighs empty.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from inventory.containers.holdings import Holdings
from inventory.containers.recorder import Recorder
from inventory.containers.states import ContainerState, ScaleSeen
from inventory.text.refusal import Refused
from shopledger.logbook.folder import Faults, Row

if TYPE_CHECKING:
    from shopledger.logbook.doubting import Doubts
    from shopledger.logbook.events import Event

CONTENT, GRADE, TARE = "content", "grade", "tare"
AT_ONCE = dt.datetime.min  # of a row of which nobody knows when: it may have been before all others
SOME = 10**15  # mg or uL: more than any container holds


class Part(NamedTuple):
    """What one row of an event says. able: whether what it does to its containers could be read. spoils: what is not
    known of them where it does not count, blank for nothing."""

    row: Row
    codes: frozenset[str]
    able: bool = True
    spoils: str = CONTENT


class RowRefused(Exception):
    """A refusal, with the row it belongs to and the column. part: of the event, where it is about another row's.
    sure: whatever the rows before it say."""

    def __init__(self, row: Row, column: str, message: str, part: Part | None = None, *, sure: bool = False):
        super().__init__(message)
        self.row, self.column, self.message = row, column, message
        self.part, self.sure = part, sure

    def is_of(self, part: Part) -> bool:
        return part == self.part if self.part else part.row is self.row


class refusing:  # noqa: N801 (read as a word in a with statement)
    """Turns a refusal into one that names the row."""

    COLUMNS = {"day": "date"}

    def __init__(self, row: Row, part: Part | None = None, *, sure: bool = False):
        self.row, self.part, self.sure = row, part, sure

    def __enter__(self) -> None:
        return None

    def __exit__(self, _kind, error, _trace) -> None:
        if isinstance(error, Refused):
            column = self.COLUMNS.get(error.field, error.field)
            if column not in self.row.cells:
                column = next((c for c in ("container", "from", "job", "date") if c in self.row.cells), "date")
            raise RowRefused(self.row, column, error.message, self.part, sure=self.sure) from None


class Trial(NamedTuple):
    """Stands for a recorder, where an event is only tried."""

    holdings: Holdings
    scale: Callable[[str], ScaleSeen]


class Judge:
    """doubts: by code what is not known of a container from here on. strange: those of which even kind or substance are
    not known. asks: what is asked about what can be; None where nothing is. leaning: the rows that could not be judged
    to the end, as (file, line)."""

    def __init__(self, recorder: Recorder, faults: Faults, strange: Iterable[str], asks: Doubts | None = None):
        self.recorder, self.faults, self.asks = recorder, faults, asks
        self.doubts: dict[str, set[str]] = defaultdict(set)
        self.strange = set(strange)
        self.leaning: set[tuple[str, int]] = set()
        self._spoiled: set[str] = set()  # by the event at hand

    def judge(self, event: Event) -> bool:
        """Run an event; whether all of it was posted."""
        if self.doubts or self.strange or self.faults:
            return self._judge_in_doubt(event)
        if self._run(event, event.parts):
            return False
        if self.asks:
            self.asks.event(event, self.recorder)
        return True

    def _judge_in_doubt(self, event: Event) -> bool:
        self.recorder.holdings.begin()
        self._spoiled.clear()
        for code, unknown in event.doubts.items():
            if unknown:
                self.doubts[code] |= unknown
        parts = []
        for part in event.parts:
            if part.able and not any(map(self._is_strange, part.codes)):
                parts.append(part)
                continue
            if part.able:
                self._leans(part)
            self._spoil(part)
        left_out = self._run(event, parts) if parts or not event.parts else []
        for part in parts:
            if part not in left_out and self._in_doubt(part):
                self._leans(part)
        self._weighed()
        return not left_out and len(parts) == len(event.parts)

    def _run(self, event: Event, parts: list[Part]) -> list[Part]:
        """Run what can be of it; returns what was refused. A job without a line runs too."""
        left = parts
        while left or not parts:
            self.recorder.holdings.begin()
            try:
                event.run(self.recorder, left)
                return [part for part in parts if part not in left] if left is not parts else []
            except RowRefused as refused:
                self.recorder.drop()
                gone = [part for part in left if refused.is_of(part)] or left
                if self._for_sure(event, left, refused, gone):
                    self.faults.add(refused.row.file, refused.row.line, refused.column, refused.message)
                else:
                    self._leans(*gone)
                left = [part for part in left if part not in gone]
                for part in gone:
                    self._spoil(part)
                if not gone:
                    break
        return parts

    # -- what leans on what ----------------------------------------------------------------------

    def _for_sure(self, event: Event, left: list[Part], refused: RowRefused, gone: list[Part]) -> bool:
        """Whether it is refused whatever is in the containers that are in doubt: with nothing and with much in them."""
        codes = {code for part in left for code in part.codes}
        if refused.sure:
            return True
        if not any(part.codes for part in gone):  # a line loss, which is a part of what the others say
            return len(left) == len(event.parts)
        if codes.isdisjoint(self.doubts):
            return True
        for content in (0, SOME):
            states = dict(self._imagined(codes, content))
            trial = Trial(Holdings(states), self.recorder.scale)
            trial.holdings.begin(event.head.day)
            try:
                event.act(trial, left)
            except RowRefused as again:
                if again.row is refused.row and again.column == refused.column:
                    continue
            return False
        return True

    def _imagined(self, codes: Iterable[str], content: int) -> Iterable[tuple[str, ContainerState]]:
        for code in codes:
            held = self.recorder.holdings.containers.get(code)
            if held is None:
                continue
            unknown = self.doubts.get(code, set())
            said: dict[str, object] = {"balance": content, "most": SOME} if CONTENT in unknown else {}
            said |= {"grade": ""} if GRADE in unknown else {}
            said |= {"tare": None} if TARE in unknown else {}
            yield code, replace(held, **said)

    def _is_strange(self, code: str) -> bool:
        """Whether nothing can be said of what is done to it: nobody knows what it is, or what it is for."""
        if code in self.strange:
            return True
        held = self.recorder.holdings.containers.get(code)
        return held is not None and not held.substance and CONTENT in self.doubts.get(code, ())

    def _in_doubt(self, part: Part) -> bool:
        matters = {CONTENT: {CONTENT, TARE}, GRADE: {GRADE}}.get(part.spoils, set())
        return any(matters & self.doubts.get(code, set()) for code in part.codes)

    def _spoil(self, part: Part) -> None:
        for code in part.codes:
            if part.spoils == ARRIVAL:
                if code not in self.recorder.holdings.containers:
                    self.strange.add(code)
            elif part.spoils:
                self.doubts[code].add(part.spoils)
                self._spoiled.add(code)

    def _leans(self, *parts: Part) -> None:
        self.leaning.update((part.row.file, part.row.line) for part in parts)

    def _weighed(self) -> None:
        """A weighing says what is in a container, whatever stood in the rows before it; not where its tare follows from
        what is not known."""
        for reading in self.recorder.holdings.postings.readings:
            unknown = self.doubts.get(reading.code, set())
            if reading.code in self._spoiled:
                continue
            if reading.outcome == "tare taken" and CONTENT in unknown:
                unknown.add(TARE)
            elif TARE not in unknown:
                unknown.discard(CONTENT)


ARRIVAL = "arrival"  # spoils everything: what it is, and whether it is there
