"""What may be sold, what for, and what the seller must have. Pure: no Django here."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from inventory.reference.rule import BEARS, EQUIPMENT_ASKED, Bearing, Gas, System
from inventory.reference.rulebook import Rulebook
from inventory.reference.trade_rules import ENDS, PROOFS, Sale
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.work import exempted, facts

END_ASKED = "what it is sold for"


@dataclass(frozen=True)
class Sold:
    """A sale. system: what it is sold for, as far as that is said. end: a key of ENDS, blank where nobody has said it.
    seen: of PROOFS, what the seller has. container_mg: what its container is made to hold, None where it is none of
    its own."""

    system: System
    gas: Gas
    end: str = ""
    seen: frozenset[str] = frozenset()
    container_mg: int | None = None


def selling(rules: Rulebook, sold: Sold, day: dt.date) -> Verdict:
    """Whether it may be sold so, and whether the seller has what the rule asks.

    The answers: free (no rule), met, open, breach (something that the seller must have is missing), refused (it may
    not be sold so, and the rulebook refuses it).
    """
    figures = (*facts(sold.system), Figure("grade", sold.gas.grade), Figure("sold", ENDS.get(sold.end, "not said")))
    can = None if sold.container_mg is None else rules.small_can(sold.system.substance, sold.container_mg, day)
    if can is not None and sold.gas.grade == "virgin":
        return Verdict(answer="free", said="No record is asked for of a can so small.", rules=(can,), figures=figures)
    found = list(_about(rules, sold, day))
    if not found:
        exemption = exempted(rules, "sale", sold.system, day)
        rules_of = (exemption,) if exemption else ()
        return Verdict(answer="free", said="No rule is about this sale.", rules=rules_of, figures=figures)
    last, bearing = found[-1]
    answers = {_by(rule, sold, figures).answer for rule, _ in found}
    if bearing.holds and len(answers) == 1:  # whatever else would be said, it comes to the same
        return _by(last, sold, figures)
    asks = [ask for _, one in found for ask in one.asks]
    what = f"Whether {sold.gas.grade} {sold.system.substance} may be sold so"
    return cannot_be_judged(what, asks, tuple(rule for rule, _ in found), figures=figures)


def _about(rules: Rulebook, sold: Sold, day: dt.date) -> Iterator[tuple[Sale, Bearing]]:
    """The rules that are, or may be, about a sale, in their order, up to the first that is for certain."""
    for rule, bearing in rules.about("sale", sold.system, day):
        of = _of(rule, sold)
        if of.holds is False:
            continue
        asks = [*bearing.asks, *of.asks]
        if sold.system.equipment is None and "*" not in rule.equipment:
            asks.append(EQUIPMENT_ASKED)
        yield rule, Bearing(None, tuple(dict.fromkeys(asks))) if asks else BEARS
        if not asks:
            return


def _of(rule: Sale, sold: Sold) -> Bearing:
    """Whether a rule is about what is sold, and to that end; None where that is not said and counts."""
    found = [rule.is_of(sold.gas, end) for end in ([sold.end] if sold.end else ENDS)]
    about = [one for one in found if one.holds is not False]
    if not about or len(about) == len(found):
        return found[0]
    return Bearing(None, (END_ASKED, *about[0].asks))


def _by(rule: Sale, sold: Sold, figures: tuple[Figure, ...]) -> Verdict:
    more = {"rules": (rule,), "figures": figures}
    if not rule.allowed:
        return Verdict(
            answer="refused" if rule.enforcement == "refuse" else "breach",
            said=f"{sold.gas.grade.capitalize()} {sold.system.substance} may not be sold so.",
            **more,
        )
    missing = [PROOFS[name] for name in rule.needs if name not in sold.seen]
    if missing:
        return Verdict(
            answer="breach",
            said=f"Of this sale of {sold.system.substance} is missing: {'; '.join(missing)}.",
            changes=("With that on record it would be as the rule asks.",),
            **more,
        )
    return Verdict(
        answer="met", said=f"{sold.system.substance} may be sold so, and what is asked for is there.", **more
    )
