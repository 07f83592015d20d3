"""What refrigerant that got into the air asks for. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import add_months, calendar_period, last_of_month
from inventory.measures.quantity import show
from inventory.reference.period_rules import PERIODS, ReleaseReport
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged


def released(rules: Rulebook, system: System, released_mg: int, day: dt.date) -> Verdict:
    """What is reported, and by when, of so much that got out of a system on a day. by: of the whole report."""
    figures = (Figure("released", show(released_mg, "kg")), Figure("on", str(day)))
    for rule, bearing in rules.about("release_report", system, day):
        if not rule.applies(released_mg):
            continue
        if bearing.holds is None:
            return cannot_be_judged("What is reported of it", bearing.asks, (rule,), figures=figures)
        by = _due(rule, day)
        return Verdict(answer="due", said=_said(rule, released_mg, by), rules=(rule,), figures=figures, by=by)
    said = f"No report of {show(released_mg, 'kg')} that got out is asked for."
    return Verdict(answer="free", said=" ".join([said, *rules.binds]), figures=figures)


def _due(rule: ReleaseReport, day: dt.date) -> dt.date:
    """The last day of the report."""
    if rule.report_days is not None:
        return day + dt.timedelta(days=rule.report_days)
    _, end = calendar_period(day, PERIODS[rule.period])
    return last_of_month(add_months(end, rule.months_after))


def _said(rule: ReleaseReport, released_mg: int, by: dt.date) -> str:
    first = f" It is told to the authority within {rule.first_hours} hours." if rule.first_hours else ""
    return f"{show(released_mg, 'kg')} got out: that is reported by {by}.{first}"
