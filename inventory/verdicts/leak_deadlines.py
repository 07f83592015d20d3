"""By when equipment is checked for leaks again, and a leak that was found is dealt with. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import add_months
from inventory.reference.leak_rules import LeakCheck
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged


def check_by(rule: LeakCheck, last: dt.date, *, detection: bool = False) -> dt.date:
    """The last day of the check after one that was made on a day. detection: a leak detection system watches."""
    months = rule.months_with_detection if detection and rule.months_with_detection is not None else rule.months
    by = add_months(last, months)
    return min(by, dt.date(last.year + 1, 12, 31)) if rule.each_calendar_year else by


def repaired_by(rules: Rulebook, system: System, found_on: dt.date) -> Verdict:
    """By when a leak that was found on a day is repaired, or the refrigerant is taken out."""
    for rule, bearing in rules.about("leak_repair", system, found_on):
        if rule.repair_days is None:
            continue
        figures = (Figure("leak found", str(found_on)), Figure("days", str(rule.repair_days)))
        if bearing.holds is None:
            return cannot_be_judged("By when this leak is repaired", bearing.asks, (rule,), figures=figures)
        by = found_on + dt.timedelta(days=rule.repair_days)
        said = f"The leak of {found_on} is repaired or isolated, or the refrigerant recovered, by {by}."
        return Verdict(answer="due", said=said, rules=(rule,), figures=figures, by=by)
    return Verdict(answer="free", said=" ".join(["No day is set for the repair of a leak.", *rules.binds]))
