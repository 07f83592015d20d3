"""Whether a leak detection system must watch equipment. Pure: no Django here."""

import datetime as dt
from dataclasses import replace

from inventory.reference.leak_rules import LeakDetection
from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import CHARGE_ASKED, co2e_or_none, equipment_figures, tonnes

INSTALLATION_ASKED = "when it was installed"


def detection(rules: Rulebook, system: System, day: dt.date) -> Verdict:
    """Whether a system must have a leak detection system on a day, and has one.

    The answers: free (none is asked for), met, due (by a day that is still to come), breach, open.
    """
    co2e_t = co2e_or_none(rules, system, day)
    gwp = gwp_or_none(system.substance, rules.gwp_basis(day))
    figures = equipment_figures(system)
    figures += (Figure("CO2 equivalent", tonnes(co2e_t)),) if co2e_t is not None else ()
    figures += (Figure("installed", str(system.installed_on)),) if system.installed_on else ()
    about = rules.about("leak_detection", system, day)
    asks, asking = [], []
    for rule, bearing in about:
        covered = None if system.charge_mg is None else rule.covers(system, co2e_t, gwp)
        if covered is False or _installed(rule, system) is False:
            continue
        if bearing.holds and covered and _installed(rule, system):
            return _needed(rule, system, day, figures)
        asking.append(rule)
        asks += [*bearing.asks, *([CHARGE_ASKED] if covered is None else [])]
        asks += [INSTALLATION_ASKED] if _installed(rule, system) is None else []
    if "detection" in system.holding and asking:
        said = "A leak detection system watches it, whether it must or not."
        return Verdict(answer="met", said=said, rules=(asking[0],), figures=figures, changes=tuple(_audit(asking[0])))
    if asking:
        return cannot_be_judged("Whether it needs a leak detection system", asks, tuple(asking), figures=figures)
    said = "No leak detection system is asked for."
    return Verdict(answer="free", said=said, rules=tuple(rule for rule, _ in about[:1]), figures=figures)


def _installed(rule: LeakDetection, system: System) -> bool | None:
    """Whether it was installed in the rule's days; None where that is not known."""
    if not rule.asks_installation:
        return True
    return None if system.installed_on is None else rule.installed_then(system.installed_on)


def _needed(rule: LeakDetection, system: System, day: dt.date, figures: tuple[Figure, ...]) -> Verdict:
    by = _by(rule, system)
    verdict = Verdict(answer="met", said="", rules=(rule,), figures=figures, changes=tuple(_audit(rule)), by=by)
    if "detection" in system.holding:
        return replace(verdict, said="A leak detection system watches it, as is asked for.")
    if by is not None and by >= day:
        return replace(verdict, answer="due", said=f"It needs a leak detection system by {by}.")
    since = f" since {by}" if by is not None else ""
    return replace(verdict, answer="breach", said=f"It needs a leak detection system{since}, and none is on record.")


def _by(rule: LeakDetection, system: System) -> dt.date | None:
    """The last day on which it may be without; None where it never may."""
    by = rule.by_day
    if rule.days is not None and system.installed_on is not None:
        installed = system.installed_on + dt.timedelta(days=rule.days)
        by = installed if by is None else max(by, installed)
    return by


def _audit(rule: LeakDetection):
    if rule.audit_months is not None:
        yield f"The detection system itself is checked every {rule.audit_months} months."
