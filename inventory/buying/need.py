"""What the next weeks will need, from the last ones. Pure: no Django here. Quantities in mg or uL, exact.

That a proposal covers `COVER` weeks beyond the delivery, looks `WEEKS` back and lets a season change it by a half at
most either way is common practice, no source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

WEEKS = 13  # looked back
COVER = 4  # weeks that an order is to last once it came
USUAL_LEAD = 7  # days from order to delivery where none is known
MOST, LEAST = Fraction(2), Fraction(1, 2)  # by how much a season may change what is expected


@dataclass(frozen=True)
class Spread:
    """The median of the weeks, and the quarters below and above which a quarter of them lie."""

    median: Fraction
    low: Fraction
    high: Fraction


def quantile(values: Sequence[int], part: Fraction) -> Fraction:
    """The value below which a part of the values lies, between two of them in proportion: method 7 of Hyndman and
    Fan, Sample Quantiles in Statistical Packages, 1996."""
    ordered = sorted(values)
    at = part * (len(ordered) - 1)
    below = math.floor(at)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (at - below) * (ordered[above] - ordered[below])


def spread(weeks: Sequence[int]) -> Spread:
    """Of what was used in each week, weeks without use included."""
    return Spread(*(quantile(weeks, Fraction(part, 4)) for part in (2, 1, 3)))


def season(then: Sequence[int], coming: Sequence[int]) -> Fraction | None:
    """How the weeks that come compare with the last ones, as they did a year ago: the mean of `coming`, those weeks a
    year ago, to that of `then`. None where nothing was used then."""
    if not coming or not sum(then):
        return None
    factor = Fraction(sum(coming), len(coming)) / Fraction(sum(then), len(then))
    return max(LEAST, min(MOST, factor))


def lead_days(known: Sequence[int]) -> int | None:
    """Days from order to delivery: the median of what was known of a supplier, rounded up; None where nothing is."""
    return math.ceil(quantile(known, Fraction(1, 2))) if known else None


@dataclass(frozen=True)
class Need:
    """Of one substance. weeks: used in each of the last weeks; factor: of the season, None where there is no year of
    data; lead: days until what is ordered comes; on_hand, on_order: mg or uL; least: the reorder point."""

    weeks: Sequence[int]
    factor: Fraction | None
    lead: int
    on_hand: int
    on_order: int
    least: int = 0

    @property
    def spread(self) -> Spread:
        return spread(self.weeks)

    @property
    def expected(self) -> Fraction:
        """Used until an order came and for the weeks that it covers: weeks of the upper quarter until then, median
        weeks after, by the season."""
        its = self.spread
        return (its.high * Fraction(self.lead, 7) + its.median * COVER) * (self.factor or 1)

    @property
    def wanted(self) -> Fraction:
        """What is to be ordered: what is expected to be used and is neither here nor on its way, and the reorder point
        on top."""
        return max(self.expected + self.least - self.on_hand - self.on_order, Fraction(0))

    def containers(self, net: int) -> int:
        """How many containers of a net content that is."""
        return math.ceil(self.wanted / net) if net else 0
