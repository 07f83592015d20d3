"""When each act is written to have been, so that a log tells the same order again.

A log orders by moment alone, and the ledger also by what was said to come after what: acts of one moment, or of a day
without a time, get moments of their own, a little after the one before. Pure: no Django here.
"""

import datetime as dt
from zoneinfo import ZoneInfo

from inventory.containers.events import Event

NEXT = dt.timedelta(microseconds=2)
BEFORE = dt.timedelta(microseconds=1)  # what stands between one act and the next
Key = tuple[int, str]  # the voucher, and the moment of an op as its event has it


class Moments:
    """The moments of all acts that are exported, by voucher and the moment that was said. Those that bring containers
    have a day alone: they come before all else of it."""

    def __init__(self, zone: ZoneInfo):
        self.zone, self.found = zone, {}
        self._acts: list[tuple[dt.date, str, tuple[int, ...], Key]] = []

    def note(self, voucher: int, event: Event, first: int) -> None:
        """An act. first: the voucher by which it stands, where it says no other place."""
        numbers = event.position or (first,)
        for at in {event.at, *(op.at or event.at for op in event.ops)}:
            self._acts.append((event.on, at, numbers, (voucher, at)))

    def settle(self) -> None:
        """Give each its moment, once all are noted."""
        on, last = None, None
        for day, at, _, key in sorted(self._acts):
            if day != on:
                on, last = day, dt.datetime.combine(day, dt.time.min)
            said = self._local(at, day)
            last = said if said is not None and said > last else last + NEXT
            self.found[key] = last

    def _local(self, at: str, day: dt.date) -> dt.datetime | None:
        """A moment as the shop's clock showed it on that day; None where it showed another day, or the same twice."""
        if not at:
            return None
        moment = dt.datetime.fromisoformat(at)
        here = moment.astimezone(self.zone).replace(tzinfo=None)
        again = here.replace(tzinfo=self.zone).astimezone(dt.UTC)
        return here if here.date() == day and again == moment else None

    def of(self, voucher: int, at: str) -> str:
        """As a cell has it."""
        return self.found[voucher, at].isoformat(timespec="microseconds")

    def before(self, voucher: int, at: str) -> str:
        """Right before it."""
        return (self.found[voucher, at] - BEFORE).isoformat(timespec="microseconds")
