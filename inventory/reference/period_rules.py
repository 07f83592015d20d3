"""Rules that follow the calendar: checks of containers, figures of a period, reports of what was released. Masses are
whole milligrams."""

from dataclasses import dataclass, field

from inventory.reference.container_rules import CONTAINER_KINDS
from inventory.reference.rule import Rule, Scoped

# Periods of the calendar, in months; each begins with a whole number of them after 1 January.
PERIODS = {"month": 1, "quarter": 3, "half-year": 6, "year": 12}
A_PERIOD = {"words": tuple(PERIODS)}

# What the mass balance of a period counts: its columns, by the names that the usage report has for them.
COUNTED = (
    "received",
    "recovered",
    "charged",
    "sold",
    "line_loss",
    "heel_loss",
    "other_loss",
    "returned",
    "reclaimed",
    "destroyed",
    "unexplained_loss",
)


@dataclass(frozen=True, kw_only=True)
class ContainerCheck(Rule):
    """Containers are checked for leaks in each period of the calendar."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    period: str = field(metadata=A_PERIOD)


@dataclass(frozen=True, kw_only=True)
class PeriodFigure(Rule):
    """One figure that is kept for each refrigerant and period of the calendar. columns: of COUNTED, added up.
    copies_days: how soon copies are given where they are asked for in writing."""

    title: str
    columns: tuple[str, ...] = field(metadata={"words": COUNTED})
    period: str = field(metadata=A_PERIOD)
    substances: tuple[str, ...] = ("*",)
    copies_days: int | None = None


@dataclass(frozen=True, kw_only=True)
class ReleaseReport(Scoped):
    """A report of refrigerant that got into the air. at_least_mg: that much and more; over_mg: more; below_mg: less.

    first_hours: when it is told first; report_days: when the report is due after that. period and months_after: the
    report is due at the end of that many months after the period of the calendar in which it was released.
    """

    at_least_mg: int | None = None
    over_mg: int | None = None
    below_mg: int | None = None
    first_hours: int | None = None
    report_days: int | None = None
    period: str = field(default="", metadata=A_PERIOD)
    months_after: int | None = None

    def __post_init__(self) -> None:
        if (self.report_days is None) == (not self.period):
            raise ValueError("report_days, period: write when the report is due, in one of the two ways.")
        if self.period and self.months_after is None:
            raise ValueError("months_after: is missing: how many months after the period the report is due.")

    def applies(self, released_mg: int) -> bool:
        return (
            (self.at_least_mg is None or released_mg >= self.at_least_mg)
            and (self.over_mg is None or released_mg > self.over_mg)
            and (self.below_mg is None or released_mg < self.below_mg)
        )
