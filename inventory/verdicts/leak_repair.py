"""What a leak that was found asks for: whether anything is charged before its repair, and the check after it. Pure: no
Django here."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.measures.months import add_months
from inventory.reference.leak_rules import LeakRepair
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.leak_check import leak_check
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import equipment_figures


@dataclass(frozen=True)
class Checked:
    """A check for leaks after a repair. hours: how long the system had run since, None where only the day is known."""

    day: dt.date
    hours: int | None = None


def charged_with_leak(rules: Rulebook, system: System, day: dt.date) -> Verdict:
    """Whether a system may be charged although a leak that was found is not repaired."""
    about = rules.about("leak_repair", system, day)
    figures = equipment_figures(system)
    stopping = [(rule, bearing) for rule, bearing in about if _refuses(rule)]
    for rule, bearing in about[:1]:
        if bearing.holds is None and stopping:
            return cannot_be_judged("Whether it may be charged before the repair", bearing.asks, (rule,))
        if bearing.holds and _refuses(rule):
            said = "Nothing is charged before a leak that was found is repaired."
            return Verdict(answer="refused", said=said, rules=(rule,), figures=figures)
    if not about:
        said = "No rule here is about it; to repair a leak before anything is charged is good practice."
        return Verdict(answer="free", said=said, figures=figures)
    said = "A leak that was found is repaired first; no rule here stops the charge."
    return Verdict(answer="breach", said=said, rules=tuple(rule for rule, _ in about[:1]), figures=figures)


def repaired_by(rules: Rulebook, system: System, found_on: dt.date) -> Verdict:
    """How soon a leak that was found on a day is repaired. The answers: due (with `by` where a rule says days), free
    (no rule is about it), open."""
    about = rules.about("leak_repair", system, found_on)[:1]
    figures = (*equipment_figures(system), Figure("found", str(found_on)))
    if not about:
        said = "No rule here says how soon it is repaired; before anything is charged again is good practice."
        return Verdict(answer="free", said=said, figures=figures)
    ((rule, bearing),) = about
    if bearing.holds is None:
        return cannot_be_judged("How soon it is repaired", bearing.asks, (rule,), figures=figures)
    by = None if rule.repair_days is None else found_on + dt.timedelta(days=rule.repair_days)
    said = "What leaks is repaired without delay." if by is None else f"What leaks is repaired by {by}."
    return Verdict(answer="due", said=said, rules=(rule,), figures=figures, by=by)


def _refuses(rule: LeakRepair) -> bool:
    return rule.stops_charge or rule.enforcement == "refuse"


def check_again(
    rules: Rulebook, system: System, repaired_on: dt.date, checks: Sequence[Checked], day: dt.date
) -> Verdict:
    """The check after a repair of equipment that is checked regularly. checks: those made since, in their order.

    The answers: free (none is asked for), met, due (by a day), breach (made too late; or, with `by`, not made by that
    day), open.
    """
    found = [(rule, bearing) for rule, bearing in rules.about("leak_repair", system, repaired_on)][:1]
    if not found or found[0][0].recheck_within_months is None:
        return Verdict(answer="free", said="No check after a repair is asked for.", rules=tuple(r for r, _ in found))
    (rule, bearing), regular = found[0], leak_check(rules, system, repaired_on)
    asks = [*bearing.asks, *regular.verdict.ask]
    figures = (*regular.verdict.figures, Figure("repaired", str(repaired_on)))
    if asks:
        what = "Whether it is checked again after the repair"
        return cannot_be_judged(what, asks, (rule, *regular.verdict.rules), figures=figures)
    if regular.rule is None:
        said = "No check after a repair is asked for of equipment that need not be checked regularly."
        return Verdict(answer="free", said=said, rules=(rule, *regular.verdict.rules), figures=figures)
    return _made(rule, regular.rule, repaired_on, checks, day, figures)


def _made(rule, regular, repaired_on, checks, day, figures) -> Verdict:
    by = add_months(repaired_on, rule.recheck_within_months)
    counted = next((one for one in checks if _counts(one, rule, repaired_on)), None)
    more = {"rules": (rule, regular), "figures": (*figures, *_of_checks(checks))}
    early = "" if counted or not checks else f" What was checked on {checks[-1].day} was too early to count."
    if counted is not None and counted.day <= by:
        said = f"The check after the repair of {repaired_on} was made on {counted.day}."
        return Verdict(answer="met", said=said, **more)
    if counted is not None:
        said = f"The check after the repair of {repaired_on} was due by {by}, and was made on {counted.day}."
        return Verdict(answer="breach", said=said, **more)
    said = f"The check after the repair of {repaired_on} is made{_after(rule)} and by {by}.{early}"
    return Verdict(answer="breach" if by < day else "due", said=said, by=by, **more)


def _counts(one: Checked, rule: LeakRepair, repaired_on: dt.date) -> bool:
    """Whether it was late enough. Where only the day is known, it may have run since the repair without a pause."""
    if rule.recheck_after_hours is None:
        return True
    hours = (one.day - repaired_on).days * 24 if one.hours is None else one.hours
    return hours >= rule.recheck_after_hours


def _after(rule: LeakRepair) -> str:
    hours = rule.recheck_after_hours
    return f" after {hours} hours of running" if hours else ", directly if need be,"


def _of_checks(checks: Sequence[Checked]) -> tuple[Figure, ...]:
    return tuple(
        Figure("checked", f"{one.day}" + ("" if one.hours is None else f", {one.hours} h of running after the repair"))
        for one in checks
    )
