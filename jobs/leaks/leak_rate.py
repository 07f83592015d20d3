"""Leak rates of equipment. Pure: no Django here. Exact fractions over masses in mg and whole days.

Source of both methods, and of what resets them: 40 CFR 82.152, "leak rate"; limits and duties, 82.157.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

YEAR = 365


@dataclass(frozen=True)
class Addition:
    """Refrigerant that was added to make up for a loss."""

    day: dt.date
    mg: int


@dataclass(frozen=True)
class Service:
    """What one job did to a unit. tight: its leak check found no leak."""

    day: dt.date
    charged: int
    recovered: int
    tight: bool


@dataclass(frozen=True)
class History:
    """additions: what made up for losses. tight: the days of checks that found no leak. Both in order."""

    additions: list[Addition]
    tight: list[dt.date]

    @property
    def tight_on(self) -> dt.date | None:
        return self.tight[-1] if self.tight else None

    def rate(self, full_charge_mg: int, on: dt.date) -> Fraction:
        """The rolling average in percent of the full charge a year."""
        return rolling(self.additions, full_charge_mg, on, self.tight_on)

    def last_over(self, full_charge_mg: int, limit_percent: Fraction | int) -> dt.date | None:
        """The last day of an addition that put the rolling average over a limit; None where none did. It is worked out
        each time refrigerant is added (82.157(b)), before a check of the same day."""
        for one in reversed(self.additions):
            checked = max((day for day in self.tight if day < one.day), default=None)
            if over(rolling(self.additions, full_charge_mg, one.day, checked), limit_percent):
                return one.day
        return None


# Of the full charge: from there on a first charge fills the unit. A reading, not in the text.
INSTALLS = Fraction(9, 10)


def history(services: Iterable[Service], full_charge_mg: int | None) -> History:
    """services: all of a unit, the earliest first. The first charge of a whole unit from which nothing was recovered
    is an installation and no loss (82.157(b)). What is put back after a recovery, on the same visit or a later one,
    counts as far as it is more than what came out; how long that may take is a reading, not in the text."""
    found: list[Addition] = []
    tight: list[dt.date] = []
    new, out = True, 0
    for one in services:
        out += one.recovered
        fills = full_charge_mg and one.charged >= full_charge_mg * INSTALLS
        installed = new and not out and fills
        if one.charged > out and not installed:
            found.append(Addition(one.day, one.charged - out))
        out = max(0, out - one.charged)
        new = new and not (one.charged or one.recovered)
        if one.tight:
            tight.append(one.day)
    return History(found, tight)


def annualizing(added_mg: int, full_charge_mg: int, days_since_last: int) -> Fraction:
    """Percent of the full charge a year: added / full x 365 / the shorter of the days since the last addition
    and 365. Raises ValueError for a charge, or days, that are not above zero."""
    _positive(full_charge_mg, days_since_last)
    return Fraction(added_mg * 100 * YEAR, full_charge_mg * min(days_since_last, YEAR))


def rolling(
    additions: Iterable[Addition], full_charge_mg: int, on: dt.date, repaired_on: dt.date | None = None
) -> Fraction:
    """Percent of the full charge a year: all that was added in the 365 days up to and including `on`, or since
    the last follow-up test that showed all known leaks repaired, where that is less long ago."""
    _positive(full_charge_mg, 1)
    since = on - dt.timedelta(days=YEAR)
    added = sum(one.mg for one in additions if since < one.day <= on and (repaired_on is None or one.day > repaired_on))
    return Fraction(added * 100, full_charge_mg)


def _positive(full_charge_mg: int, days: int) -> None:
    if full_charge_mg <= 0:
        raise ValueError("The full charge is not known or not above zero; without it there is no leak rate.")
    if days <= 0:
        raise ValueError("At least a day lies between two additions; add up those of one day.")


def full_charge_of_range(least_mg: int, most_mg: int) -> Fraction:
    """The full charge where only an established range is known: its midpoint (82.152, "full charge" (4))."""
    return Fraction(least_mg + most_mg, 2)


def same_leak(additions: Sequence[Addition], within_days: int = 30) -> list[Addition]:
    """Additions in the order of their days, those that follow the one before within so many days taken as one of
    the last day: topping up the same leak twice is one loss. The number of days is a reading, not in the text."""
    found: list[Addition] = []
    for one in sorted(additions, key=lambda addition: addition.day):
        if found and (one.day - found[-1].day).days <= within_days:
            found[-1] = Addition(one.day, found[-1].mg + one.mg)
        else:
            found.append(one)
    return found


def seasonal_variance(removed_mg: int, added_mg: int) -> bool:
    """Whether an addition only makes good what was taken out in the season before (82.152, "seasonal variance"):
    then no leak rate is worked out. More than was taken out is no seasonal variance as a whole."""
    return 0 < added_mg <= removed_mg


def over(rate: Fraction, limit_percent: Fraction | int) -> bool:
    """Whether a rate is over its limit; the limit itself is not (82.157(c))."""
    return rate > limit_percent


@dataclass(frozen=True)
class Deadlines:
    """repair_by: repair and initial verification test; follow_up_by: the second test, from the day of a good first."""

    repair_by: dt.date
    follow_up_by: dt.date | None


def deadlines(
    added_on: dt.date, repair_days: int = 30, tested_on: dt.date | None = None, follow_up_days: int = 10
) -> Deadlines:
    """Days counted from the addition that showed the rate to be over (82.157(d), (e))."""
    return Deadlines(
        added_on + dt.timedelta(days=repair_days),
        None if tested_on is None else tested_on + dt.timedelta(days=follow_up_days),
    )


def chronic(lost_in_year_mg: int, full_charge_mg: int, percent: int = 125) -> bool:
    """Whether so much was lost in a calendar year that it is reported, by 1 March of the next: at or over 125 %
    of the full charge (82.157(j))."""
    return lost_in_year_mg * 100 >= full_charge_mg * percent
