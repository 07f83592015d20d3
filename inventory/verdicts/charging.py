"""Whether a refrigerant may go into equipment that was designed for another, and what is done before anything goes in.
Pure: no Django here."""

import datetime as dt
from decimal import Decimal

from inventory.reference.charging_rules import LeakTest, ProhibitedCharging
from inventory.reference.refrigerants import display_gwp, gwp_or_none
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged

UNTESTED = "No leak test before a charge is asked for."


def designed_for_another(rules: Rulebook, system: System, designed_for: str, day: dt.date) -> Verdict:
    """Whether what is charged may go into equipment that was designed for another refrigerant. system: with the
    substance that is charged; designed_for: a designation, blank where that is not known."""
    about = rules.about("prohibited_charging", system, day)
    for rule, bearing in about:
        if designed_for and not rule.is_about(designed_for, system.substance):
            continue
        asks = [] if designed_for else ["which refrigerant it was designed for"]
        if bearing.holds is None or asks:
            return cannot_be_judged(f"A charge of {system.substance}", [*asks, *bearing.asks], (rule,))
        found = _compared(rules, rule, system.substance, designed_for, day)
        if found is not None:
            return found
    return Verdict(answer="free", said=_free(rules, system.substance, designed_for), rules=tuple(_first(about)))


def _first(about: list) -> list:
    return [rule for rule, _ in about[:1]]


def _free(rules: Rulebook, charged: str, designed_for: str) -> str:
    if not rules.sections["prohibited_charging"] or designed_for in {"", charged}:
        return f"No rule here asks what equipment that is charged with {charged} was designed for."
    return (
        f"{charged} in equipment that was designed for {designed_for} is not prohibited by this rule; other law, and "
        "the maker of the equipment, may."
    )


def _compared(
    rules: Rulebook, rule: ProhibitedCharging, charged: str, designed_for: str, day: dt.date
) -> Verdict | None:
    """The verdict by the two GWP; None where the rule lets it."""
    basis = rules.gwp_basis(day)
    own, other = gwp_or_none(charged, basis), gwp_or_none(designed_for, basis)
    figures = (
        Figure("charged", f"{charged}, {_gwp(own, basis)}"),
        Figure("designed for", f"{designed_for}, {_gwp(other, basis)}"),
    )
    known = own is not None and other is not None
    if known and own > other:
        said = (
            f"Equipment that was designed for {designed_for} is not charged with {charged}, whose GWP is higher "
            f"({display_gwp(own)} against {display_gwp(other)})"
        )
        return _prohibited(rule, said, figures, designed_for)
    if not rule.lists(designed_for):
        said = f"Equipment designed for {designed_for}, which the law does not list, is not charged with {charged}"
        return _prohibited(rule, said, figures, designed_for)
    if not known:
        unknown = charged if own is None else designed_for
        return cannot_be_judged(f"A charge of {charged}", [f"what the GWP of {unknown} is"], (rule,), figures=figures)
    return None


def _gwp(value: Decimal | None, basis: str) -> str:
    return f"GWP not known by {basis}" if value is None else f"GWP {display_gwp(value)} by {basis}"


def _prohibited(rule: ProhibitedCharging, said: str, figures: tuple[Figure, ...], designed_for: str) -> Verdict:
    others = "a refrigerant of no higher GWP" if rule.lists(designed_for) else "one that is no GWP refrigerant"
    changes = [f"{designed_for}, or {others}, is not prohibited by this rule."]
    if rule.excepted:
        changes.append(f"It is allowed where {rule.excepted}; ask the authority before you rely on that.")
    return Verdict(
        answer="refused" if rule.enforcement == "refuse" else "breach",
        said=f"{said}.",
        rules=(rule,),
        figures=figures,
        changes=tuple(changes),
    )


def leak_tested(rules: Rulebook, system: System, leak_result: str, day: dt.date) -> Verdict:
    """Whether a system may be charged as far as its leak test goes. leak_result: what the leak check of the same visit
    showed, blank where there was none."""
    about: list[tuple[LeakTest, object]] = rules.about("leak_test", system, day)
    if not about:
        return Verdict(answer="free", said=_unbound(rules, UNTESTED))
    rule, bearing = about[0]
    if bearing.holds is None:
        return cannot_be_judged("A charge without a leak test", bearing.asks, (rule,))
    figures = (Figure("leak test of this visit", leak_result or "none"),)
    if leak_result:
        return Verdict(
            answer="met",
            said="It was tested for leaks on the visit on which it was charged.",
            rules=(rule,),
            figures=figures,
        )
    return Verdict(
        answer="refused" if rule.enforcement == "refuse" else "breach",
        said="It is tested for leaks before it is charged, on the same visit; no test is recorded.",
        rules=(rule,),
        figures=figures,
        changes=("A leak test on this visit, before the charge, is what the rule asks for.",),
    )


def _unbound(rules: Rulebook, said: str) -> str:
    """What is said of a system that no rule is about; with whom the rulebook binds, where that is not everybody."""
    return " ".join([said, *rules.binds])
