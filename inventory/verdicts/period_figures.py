"""The figures that are kept of each period of the calendar. Pure: no Django here."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from inventory.measures.months import calendar_period
from inventory.reference.period_rules import PERIODS, PeriodFigure
from inventory.reference.rule import selects_substance
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict


@dataclass(frozen=True)
class Asked:
    """The figures that are asked for of each period that has so many months. rules: one for each figure."""

    period: str
    rules: tuple[PeriodFigure, ...]

    def of(self, day: dt.date) -> tuple[dt.date, dt.date]:
        """The period of the calendar in which a day lies: its first and its last day."""
        return calendar_period(day, PERIODS[self.period])

    def figures(self, substance: str, counted: Mapping[str, int]) -> tuple[int | None, ...]:
        """Each figure of a substance, from the columns of its mass balance; None where none is asked for."""
        return tuple(
            sum(counted[column] for column in rule.columns) if selects_substance(rule.substances, substance) else None
            for rule in self.rules
        )


def figures_asked(rules: Rulebook, day: dt.date) -> Asked | None:
    """What is kept of each period; None where nothing is. The period is that of the first rule."""
    found: tuple[PeriodFigure, ...] = rules.section("period_figures", day)
    if not found:
        return None
    period = found[0].period
    return Asked(period, tuple(rule for rule in found if rule.period == period))


def copies_by(rules: Rulebook, asked_on: dt.date) -> Verdict:
    """By when copies of the figures are given where they were asked for in writing on a day."""
    asked = figures_asked(rules, asked_on)
    rule = next((one for one in asked.rules if one.copies_days is not None), None) if asked else None
    if rule is None:
        return Verdict(answer="free", said="No copies of such figures are asked for.")
    by = asked_on + dt.timedelta(days=rule.copies_days)
    said = f"Copies of the records are given within {rule.copies_days} days of a written request: by {by}."
    return Verdict(answer="due", said=said, rules=(rule,), by=by)
