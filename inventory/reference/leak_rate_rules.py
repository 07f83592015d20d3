"""Rules about leak rates: the rate over which a leak is repaired, and what is to be done, and by when, once a rate was
over it. Masses are whole milligrams."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory.reference.rule import USE_ASKED, Bearing, Scoped

METHODS = ("annualizing", "rolling")
MONTH_DAY = re.compile(r"(0[1-9]|1[0-2])-(0[1-9]|1\d|2[0-8])")  # a day that every year has

# What is to be done about a leak rate, in the order in which it is told.
STEPS = {
    "rate": "How a leak rate is worked out",
    "method-change": "Change of the method",
    "no-rate": "Additions for which no leak rate is worked out",
    "inspection": "Leak inspection",
    "repair": "Repair",
    "initial-test": "Initial verification test",
    "follow-up-test": "Follow-up verification test",
    "stop": "The days that do not count while it is mothballed",
    "extension": "More time for a repair",
    "plan": "Plan to retrofit or retire it, where it is not repaired",
    "plan-done": "Retrofit or retirement by that plan",
    "presumed": "When a repair is presumed to have been successful",
    "inspections": "Leak inspections after the rate was over its limit",
    "chronic": "Report of what leaks very much in one calendar year",
}
# What a step of each kind must say, besides what it may: a slip in the file is found when it is read.
NEEDS = {
    **dict.fromkeys(("inspection", "repair", "initial-test", "follow-up-test", "plan"), ("days",)),
    **dict.fromkeys(("plan-done", "presumed"), ("months",)),
    "inspections": ("months", "until_months", "counted_from"),
    "chronic": ("percent", "report_due"),
}
COUNTED_FROM = ("addition", "follow-up-test", "calendar-year")


@dataclass(frozen=True, kw_only=True)
class LeakRate(Scoped):
    """The leak rate over which a leak must be repaired. over_percent: that rate itself is not over it.

    full_charge_at_least_mg, gwp_over on a basis: equipment under it. counts_from: the day on which rates begin; what
    was added before is in no sum, and the first rate by annualizing takes a whole year. duties: the name of the steps
    (`LeakStep`) that follow; of several limits with the same duties the first in the file counts.
    """

    over_percent: Decimal
    methods: tuple[str, ...] = field(default=METHODS, metadata={"words": METHODS})
    full_charge_at_least_mg: int | None = None
    gwp_over: Decimal | None = None
    basis: str = ""
    counts_from: date | None = None
    duties: str = ""

    def reaches(self, full_charge_mg: int | None, gwp: Decimal | None) -> bool:
        """Whether a full charge (None: not known) and a GWP on its basis are under it."""
        if self.full_charge_at_least_mg is not None and (full_charge_mg or 0) < self.full_charge_at_least_mg:
            return False
        return self.gwp_over is None or (gwp is not None and gwp > self.gwp_over)


@dataclass(frozen=True, kw_only=True)
class LeakStep(Scoped):
    """One thing to be done by those whose leak rate is under the limits with these duties.

    days, months: how long there is for it; shutdown_days: where an industrial process must be shut down for it.
    counted_from: what the periods of inspections are counted from; until_months: how long without a rate over its limit
    ends them. percent: of the full charge lost in a calendar year, from which on a report is due on report_due
    (month-day of the next year). full_charge_at_least_mg: equipment under it.
    """

    step: str = field(metadata={"words": tuple(STEPS)})
    duties: str
    days: int | None = None
    shutdown_days: int | None = None
    months: int | None = None
    until_months: int | None = None
    counted_from: str = field(default="", metadata={"words": COUNTED_FROM})
    percent: Decimal | None = None
    report_due: str = ""
    full_charge_at_least_mg: int | None = None

    def __post_init__(self) -> None:
        """Raises ValueError for a step that does not say what its kind must."""
        for name in NEEDS.get(self.step, ()):
            if not getattr(self, name):
                raise ValueError(f"{name}: is missing for the step {self.step}.")
        if self.report_due and not MONTH_DAY.fullmatch(self.report_due):
            raise ValueError(f"report_due: write month and day, such as 03-01, not {self.report_due}.")

    def reaches(self, full_charge_mg: int | None) -> bool:
        """Whether equipment of that full charge (None: not known) is under it."""
        return self.full_charge_at_least_mg is None or (full_charge_mg or 0) >= self.full_charge_at_least_mg

    def allowed_days(self, shutdown: bool) -> int:
        """Days from what it is counted from; ValueError where it names none."""
        found = self.shutdown_days if shutdown and self.shutdown_days is not None else self.days
        if found is None:
            raise ValueError(f"The leak step {self.step} of {self.duties} names no days.")
        return found


@dataclass(frozen=True)
class Limit:
    """The limit on a leak rate by the limits of one name. asks: what must be said before it is known whether it
    applies, each in words that go on after "say"; empty where it does."""

    rule: LeakRate
    asks: tuple[str, ...] = ()


def first_limits(found: Iterable[tuple[LeakRate, Bearing]]) -> tuple[Limit, ...]:
    """Of each name of duties the limit that counts: the first that applies, with what is asked before it; without a
    name the lowest. found: in the order of the file, none that does not apply. Where nobody has said what kind of
    appliance it is, it is the usual one of its kind of equipment: a limit of some appliances only is not asked about.
    """
    limits: dict[str, Limit] = {}
    for rule, bearing in found:
        if USE_ASKED in bearing.asks:
            continue
        earlier, limit = limits.get(rule.duties), Limit(rule, bearing.asks)
        if earlier is None or (not rule.duties and rule.over_percent < earlier.rule.over_percent):
            limits[rule.duties] = limit
        elif earlier.asks and bearing.holds and earlier.rule.over_percent == rule.over_percent:
            limits[rule.duties] = limit  # the same limit without a question
    return tuple(limits.values())
