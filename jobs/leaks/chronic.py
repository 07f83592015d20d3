"""What leaks very much in one calendar year, and the report of it. Pure: no Django here.

Sources: 40 CFR 82.157(j), 84.106(j): 125 percent or more of the full charge in a calendar year, reported by 1 March.
"""

import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from inventory.reference.leak_rate_rules import LeakStep
from inventory.reference.rulebook import Rulebook
from jobs.leaks.case import Appliance
from jobs.leaks.leak_rate import Addition, Event, reaches


@dataclass(frozen=True)
class Chronic:
    """A calendar year in which so much was lost that it is reported. reached_on: the day on which it was so much; by:
    the last day of the report; sent: the event that says it was sent, None where there is none."""

    year: int
    lost_mg: int
    full_mg: int
    rule: LeakStep
    reached_on: dt.date
    by: dt.date
    sent: Event | None = None

    @property
    def percent(self) -> Fraction:
        return Fraction(self.lost_mg * 100, self.full_mg)


def chronic_years(unit: Appliance, book: Rulebook, today: dt.date) -> list[Chronic]:
    """The years up to a day in which a unit lost so much, for each of the limits that it is under. What was sent
    reports the first of them that was not reported yet, and no other."""
    by_year: dict[int, list[Addition]] = {}
    for one in unit.history.additions:
        if one.day <= today:
            by_year.setdefault(one.day.year, []).append(one)
    reports = [one for one in unit.history.events if one.kind == "report-sent" and one.day <= today]
    unused: dict[str, list[Event]] = {}
    found = []
    for one in (found for year, ones in by_year.items() for found in _of_year(unit, book, year, ones)):
        left = unused.setdefault(one.rule.duties, list(reports))
        sent = next((report for report in left if report.day >= one.reached_on), None)
        if sent is not None:
            left.remove(sent)
        found.append(replace(one, sent=sent))
    return found


def _of_year(unit: Appliance, book: Rulebook, year: int, ones: list[Addition]) -> list[Chronic]:
    last = ones[-1].day
    full = unit.charges.on(last)
    found = []
    for limit in book.leak_limits(unit.on(last), last) if full else ():
        rule = book.leak_steps(limit.rule.duties, unit.on(last), last).get("chronic")
        if limit.asks or rule is None or rule.percent is None or not full:
            continue
        reached = _reached(ones, full, rule.percent)
        if reached is None:
            continue
        month, day = (int(part) for part in rule.report_due.split("-"))
        lost = sum(one.mg for one in ones)
        found.append(Chronic(year, lost, full, rule, reached, dt.date(year + 1, month, day)))
    return found


def _reached(ones: list[Addition], full_mg: int, percent: Decimal) -> dt.date | None:
    """The day of the addition with which the sum came to that percent of the full charge."""
    lost = 0
    for count, one in enumerate(ones, 1):
        lost += one.mg
        if reaches(lost, count, full_mg, percent):
            return one.day
    return None
