"""Leak rates of equipment. Pure: no Django here. Exact fractions over masses in mg and whole days.

Source of both methods, and of what resets the sum: 40 CFR 82.152, "leak rate"; when a rate is worked out: 82.157(b) and
84.106(b). What is our own reading of a text that does not say it in these words is said with each rate.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Generic, TypeVar

from jobs.leaks.seasonal import Removed, made_good

YEAR = 365  # a rate is in percent a year
# Pounds and ounces are kept as whole mg. So a full charge may be off by half a mg, and an addition, which is the
# difference of two readings, by one; 10 lb of 50 lb would be over 20 % by that alone.
HALF_MG = Fraction(1, 2)
ANNUALIZING, ROLLING = "annualizing", "rolling"

# Why refrigerant went in or came out, where the job says it; never inferred from an amount.
NO_RATE = {"installation": "right after an installation", "retrofit": "right after a retrofit"}
SEASONAL = "seasonal"
RETROFIT = "retrofit"

T = TypeVar("T")


@dataclass(frozen=True)
class ByDay(Generic[T]):
    """Values that were revised, in the order of their days. The first counts before its own day too: nothing older is
    known."""

    entries: tuple[tuple[dt.date, T], ...] = ()

    def on(self, day: dt.date) -> T | None:
        """The value of a day; None where there is none at all."""
        if not self.entries:
            return None
        return next((value for since, value in reversed(self.entries) if since <= day), self.entries[0][1])


@dataclass(frozen=True)
class Visit:
    """What one job did to the charge of a unit. why, out_why: what the job says of the charge and of the recovery,
    blank where it says nothing. same_leak: it tops up the leak of the addition before. at: when refrigerant went in,
    None where nobody knows. stated: the statement of a seasonal variance is on record. job: what people call it."""

    day: dt.date
    charged: int = 0
    recovered: int = 0
    why: str = ""
    out_why: str = ""
    same_leak: bool = False
    at: dt.datetime | None = None
    stated: bool = False
    job: str = ""


@dataclass(frozen=True)
class Event:
    """What happened about the leaks of a unit beside its charge. passed, all_leaks: of tests; evacuated: of repairs;
    until: of an extension. at: None where nobody knows the time of day. key: of its row, for whoever shows it."""

    kind: str
    day: dt.date
    at: dt.datetime | None = None
    passed: bool | None = None
    all_leaks: bool = False
    evacuated: bool = False
    until: dt.date | None = None
    key: int | None = None

    @property
    def resets(self) -> bool:
        """Whether it is what the rolling sum begins anew with: a successful follow-up test that shows all identified
        leaks repaired. No other test, check or repair does."""
        return self.kind == "follow-up-test" and bool(self.passed) and self.all_leaks


@dataclass(frozen=True)
class Addition:
    """Refrigerant that was added to return to a full charge: a rate is worked out for it."""

    day: dt.date
    mg: int
    at: dt.datetime | None = None
    same_leak: bool = False
    job: str = ""


@dataclass(frozen=True)
class Exempt:
    """Refrigerant that was added without a rate. why: as people read it. unstated: it is a seasonal variance whose
    statement is not on record (82.157(l)(10), 84.106(l)(12))."""

    day: dt.date
    mg: int
    why: str
    job: str = ""
    unstated: bool = False


def made_after(addition: Addition, event: Event) -> bool:
    """Whether refrigerant was added after an event. On the same day only where both times are known: the text is silent
    about the day of a test, and an addition of that day is read as one before it."""
    if addition.day != event.day:
        return addition.day > event.day
    return addition.at is not None and event.at is not None and addition.at > event.at


@dataclass(frozen=True)
class History:
    """Of one unit, each in order: additions that a rate is worked out for, those it is not worked out for, events, and
    all visits. readings: what had to be read into the marks of its jobs, by the day of the job."""

    additions: tuple[Addition, ...] = ()
    exempt: tuple[Exempt, ...] = ()
    events: tuple[Event, ...] = ()
    visits: tuple[Visit, ...] = ()
    readings: tuple[tuple[dt.date, str], ...] = ()

    @property
    def resets(self) -> list[Event]:
        return [one for one in self.events if one.resets]

    def retrofitted_on(self, day: dt.date) -> dt.date | None:
        """The last retrofit up to a day: what was added before it was another refrigerant."""
        return max((one.day for one in self.visits if one.why == RETROFIT and one.day <= day), default=None)


PUT_BACK = (
    "Putting back what was recovered on the same visit is no addition to return to a full charge; the surplus is."
)


def history(visits: Iterable[Visit], events: Iterable[Event] = ()) -> History:
    """visits and events of a unit in any order; of one day, the order in which they are given. An addition is what went
    in over what was recovered on the same visit. Without a mark that takes it out it counts, however much it is."""
    ordered = sorted(visits, key=lambda one: one.day)
    additions: list[Addition] = []
    exempt: list[Exempt] = []
    readings: list[tuple[dt.date, str]] = []
    removed: list[Removed] = []
    for one in ordered:
        put_back = one.recovered if not one.out_why and one.why not in NO_RATE else 0
        added = one.charged - put_back
        if one.out_why == SEASONAL and one.recovered:
            removed.append(Removed(one.day, one.recovered))
        if added <= 0:
            continue
        if put_back:
            readings.append((one.day, PUT_BACK))
        if one.why in NO_RATE:
            exempt.append(Exempt(one.day, added, NO_RATE[one.why], one.job))
            continue
        if one.why == SEASONAL:
            variance = made_good(removed, one.day, added)
            readings.append((one.day, variance.sentence))
            if variance.holds:
                removed = variance.left
                exempt.append(Exempt(one.day, added, "seasonal variance", one.job, not one.stated))
                continue
        additions.append(Addition(one.day, added, one.at, one.same_leak, one.job))
    return History(tuple(additions), tuple(exempt), tuple(sorted(events, key=_moment)), tuple(ordered), tuple(readings))


def _moment(event: Event) -> tuple[dt.date, bool, str]:
    return event.day, event.at is not None, event.at.isoformat() if event.at else ""


@dataclass(frozen=True)
class Rate:
    """A leak rate in percent of the full charge a year, with all that it was worked out from. added_mg: what the sum
    holds, over so many additions; days: those it is divided by, of elapsed ones; since: the day after which a rolling
    sum begins. readings: what had to be chosen, in sentences."""

    method: str
    day: dt.date
    percent: Fraction
    added_mg: int
    additions: int
    full_mg: int
    days: int
    elapsed: int | None = None
    since: dt.date | None = None
    readings: tuple[str, ...] = field(default=(), compare=False)

    def over(self, limit_percent: Decimal | int) -> bool:
        """Whether it is over a limit; the limit itself is not (82.157(c), 84.106(c)). A mass is kept in whole mg: what
        rounding alone could have made is not over."""
        full = self.full_mg + HALF_MG
        least = self.percent * (self.added_mg - self.additions) / self.added_mg if self.added_mg else self.percent
        return least * self.full_mg / full > Fraction(limit_percent)


SAME_LEAK = (
    "Additions for one leak are added up, and the days count from the addition before that leak to the last top-up; "
    "the text does not say which day counts."
)
SAME_DAY = "What was added on one day is added up."
FIRST_KNOWN = "No earlier addition is on record here, so a whole year is taken: 365 days."
TEST_DAY = (
    "An addition on the day of a good follow-up test counts only where it was made after the test; "
    "the text is silent about that day."
)
WINDOW = "The previous 365 days end with the day of the calculation."


def annualizing(known: History, addition: Addition, full_mg: int, counts_from: dt.date | None = None) -> Rate:
    """The rate at an addition: added / full charge x 365 / the shorter of the days since refrigerant was last added and
    365. What tops up the same leak is one amount. counts_from: the first rate from that day on takes 365 days.
    Raises ValueError for a full charge that is not above zero."""
    _positive(full_mg)
    series = _series(known, addition, counts_from)
    readings = [SAME_LEAK] if any(one.same_leak for one in series[1:]) else []
    if any(one.day == then.day for one, then in zip(series, series[1:], strict=False)):
        readings.append(SAME_DAY)
    first = series[0]
    counted = [one for one in known.additions if one.day < first.day and _begun(one.day, counts_from)]
    before = max((one.day for one in (*known.additions, *known.exempt) if one.day < first.day), default=None)
    elapsed = None if before is None else (addition.day - before).days
    days = YEAR if elapsed is None else min(elapsed, YEAR)
    if counts_from is not None and not counted:
        days = YEAR
        readings.append(f"The first rate since {counts_from} takes 365 days, whatever was added before.")
    elif elapsed is None:
        readings.append(FIRST_KNOWN)
    added = sum(one.mg for one in series)
    percent = Fraction(added * 100 * YEAR, full_mg * days)
    return Rate(ANNUALIZING, addition.day, percent, added, len(series), full_mg, days, elapsed, before, tuple(readings))


def _begun(day: dt.date, counts_from: dt.date | None) -> bool:
    return counts_from is None or day >= counts_from


def _series(known: History, addition: Addition, counts_from: dt.date | None) -> list[Addition]:
    """The additions that are one amount with this one: those of its leak, and of its day, before it."""
    place = known.additions.index(addition)
    series = [addition]
    for one in reversed(known.additions[:place]):
        joined = series[0].same_leak or one.day == series[0].day
        if not (joined and _begun(one.day, counts_from)):
            break
        series.insert(0, one)
    return series


def rolling(
    known: History,
    full_mg: int,
    on: dt.date,
    counts_from: dt.date | None = None,
    at: Addition | None = None,
) -> Rate:
    """The rolling average: all that was added in the 365 days that end with a day, or since the last good follow-up
    test that shows all identified leaks repaired, or since counts_from, where that is less long ago. at: the addition
    that it is worked out for; without it, at the end of the day. Raises ValueError for a full charge not above zero."""
    _positive(full_mg)
    window = on - dt.timedelta(days=YEAR)
    until = len(known.additions) if at is None else known.additions.index(at) + 1
    tests = [one for one in known.resets if (one.day <= on if at is None else made_after(at, one))]
    test = tests[-1] if tests and tests[-1].day >= window else None
    retrofit = known.retrofitted_on(on)
    within = [one for one in known.additions[:until] if window < one.day <= on]
    counted = [one for one in within if test is None or made_after(one, test)]
    readings = [TEST_DAY] if test and any(one.day == test.day for one in within) else []
    if any(one.day == window for one in known.additions):
        readings.append(WINDOW)
    if any(not _begun(one.day, counts_from) for one in counted):
        readings.append(f"Only what was added since {counts_from} is in the sum.")
    if retrofit is not None and any(one.day < retrofit for one in counted):
        readings.append(f"What was added before the retrofit of {retrofit} is not in the sum.")
    counted = [one for one in counted if _begun(one.day, counts_from) and (retrofit is None or one.day >= retrofit)]
    added = sum(one.mg for one in counted)
    since = test.day if test else window
    days = min((on - since).days, YEAR)
    percent = Fraction(added * 100, full_mg)
    return Rate(ROLLING, on, percent, added, len(counted), full_mg, days, None, since, tuple(readings))


def rate_at(known: History, addition: Addition, method: str, full_mg: int, counts_from: dt.date | None = None) -> Rate:
    """The rate at an addition by either method."""
    if method == ANNUALIZING:
        return annualizing(known, addition, full_mg, counts_from)
    return rolling(known, full_mg, addition.day, counts_from, at=addition)


def _positive(full_mg: int) -> None:
    if full_mg <= 0:
        raise ValueError("The full charge is not known or not above zero; without it there is no leak rate.")


def full_charge_of_range(least_mg: int, most_mg: int) -> Fraction:
    """The full charge where only an established range is known: its midpoint (82.152, "full charge" (4))."""
    return Fraction(least_mg + most_mg, 2)


def lost_in(known: History, year: int) -> int:
    """What was added in a calendar year to make up for losses, in mg."""
    return sum(one.mg for one in known.additions if one.day.year == year)


def said_percent(percent: Fraction, over: tuple[Decimal | int, bool] | None = None) -> str:
    """Two decimals, rounded at the end. over: the limit, and whether it is over it: more decimals where two would show
    the limit itself."""
    for decimals in (2, 4, 6):
        scaled = round(percent * 10**decimals)
        shown = f"{scaled // 10**decimals}.{scaled % 10**decimals:0{decimals}d}"
        if over is None or (Fraction(shown) > Fraction(over[0])) == over[1]:
            return shown
    return shown


def reaches(lost_mg: int, additions: int, full_mg: int, percent: Decimal | int) -> bool:
    """Whether what was lost, over so many additions, comes to that percent of the full charge or more; what rounding to
    whole mg alone could have taken away counts with it."""
    return Fraction((lost_mg + additions) * 100) >= Fraction(percent) * (full_mg - HALF_MG)
