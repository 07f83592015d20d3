"""Deadlines whose clock may stop. Pure: no Django here. The day after the one that is counted from is the first."""

import datetime as dt
from dataclasses import dataclass

from jobs.leaks.leak_rate import Addition, History


@dataclass(frozen=True)
class Stop:
    """Days that do not count. until: the day on which they count again; None: they are stopped still."""

    since: dt.date
    until: dt.date | None

    def __str__(self) -> str:
        return f"since {self.since}" if self.until is None else f"from {self.since} to {self.until}"


def stops_of(known: History, opened: Addition, today: dt.date) -> tuple[Stop, ...]:
    """When a unit was mothballed after an addition, up to a day: until refrigerant was added to it, or until it was
    said to be in use again, whichever came first (82.157(d)(3), 84.106(d)(3))."""
    found: list[Stop] = []
    for one in known.events:
        if one.kind != "mothballed" or not opened.day <= one.day <= today:
            continue
        if found and (found[-1].until is None or found[-1].until > one.day):
            continue
        ends = [visit.day for visit in known.visits if visit.charged and one.day < visit.day <= today]
        ends += [then.day for then in known.events if then.kind == "back-in-use" and one.day <= then.day <= today]
        found.append(Stop(one.day, min(ends, default=None)))
    return tuple(found)


def counted(start: dt.date, days: int, stops: tuple[Stop, ...] = ()) -> dt.date | None:
    """The last of so many days after a day, without those on which the clock stood; None while it stands."""
    for one in stops:
        if one.since < start:
            continue
        used = (one.since - start).days
        if used >= days:
            break
        if one.until is None:
            return None
        days, start = days - used, one.until
    return start + dt.timedelta(days=days)
