"""Seasonal variance: what is taken out at a change of season and put back at the next. Pure: no Django here. Masses in
mg. Source: 40 CFR 82.152, "seasonal variance"."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.measures.months import add_months

PERIOD_MONTHS = 12  # of the definition: "within one consecutive 12-month period"


@dataclass(frozen=True)
class Removed:
    """What a job took out and said that it was for the season."""

    day: dt.date
    mg: int


@dataclass(frozen=True)
class Variance:
    """holds: whether an addition is a seasonal variance. left: what of the removals can still be put back. sentence:
    why it holds or does not."""

    holds: bool
    left: list[Removed]
    sentence: str


def made_good(removed: Iterable[Removed], day: dt.date, added_mg: int) -> Variance:
    """Whether an addition that was marked so only puts back what was removed in the twelve months before. More than
    that is no seasonal variance, and all of it counts: so much is our reading. Removals are used up, the oldest
    first."""
    kept = [one for one in removed if one.mg]
    able = [one for one in kept if one.day <= day < add_months(one.day, PERIOD_MONTHS)]
    out = sum(one.mg for one in able)
    if not able:
        return Variance(
            False, kept, "It was marked seasonal, but nothing was taken out for the season in the year before."
        )
    if added_mg > out:
        return Variance(
            False,
            kept,
            "It was marked seasonal, but more went in than was taken out: it is none, and all of it counts.",
        )
    rest, left = added_mg, []
    for one in kept:
        used = min(one.mg, rest) if one in able else 0
        rest -= used
        if one.mg > used:
            left.append(Removed(one.day, one.mg - used))
    return Variance(True, left, "What was taken out for the season was put back within twelve months: no rate.")
