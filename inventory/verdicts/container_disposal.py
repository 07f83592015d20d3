"""How a container that is out of use for good must end. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from inventory.reference.container_rules import ContainerDisposal
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict


@dataclass(frozen=True)
class Ended:
    """A container that was disposed of. lost_mg: what was left in it and went nowhere, mg. taken_by: whom it went to;
    statement: a certified person evacuated it and says so."""

    kind: str
    substance: str
    lost_mg: int
    taken_by: str = ""
    statement: bool = False


def container_disposal(rules: Rulebook, one: Ended, day: dt.date) -> list[Verdict]:
    """Whether a container ended as each rule asks; none where nothing is asked."""
    found = []
    for rule in rules.container_disposals(one.kind, one.substance, day):
        if rule.recover_residue:
            found.append(_residue(rule, one))
        if rule.asks_proof:
            found.append(_proof(rule, one))
    return found


def _residue(rule: ContainerDisposal, one: Ended) -> Verdict:
    lost = f"{Decimal(one.lost_mg) / 1000:f} g"
    figures = (Figure("left in it, and not recovered", lost),)
    if not one.lost_mg:
        return Verdict(answer="met", said="Nothing was left in it unrecovered.", rules=(rule,), figures=figures)
    return Verdict(
        answer="breach",
        said=f"{lost} of {one.substance} were left in it and not recovered; what is left is recovered before a "
        "container is disposed of.",
        rules=(rule,),
        figures=figures,
        changes=("Name the container that what was left was recovered into, where it was.",),
    )


def proof_asked(rule: ContainerDisposal) -> str:
    """What proves that a container ended as a rule asks, in words."""
    asked = []
    if rule.goes_to:
        asked.append(f"who took it over ({', '.join(rule.goes_to)})")
    if rule.evacuate_inhg is not None:
        inhg = f"{rule.evacuate_inhg.normalize():f}"
        asked.append(f"that a certified technician evacuated it to {inhg} inHg and stated it")
    return " or ".join(asked)


def _proof(rule: ContainerDisposal, one: Ended) -> Verdict:
    said_by = "the statement of a certified technician" if one.statement else ""
    proof = " and ".join(filter(None, [one.taken_by if rule.goes_to else "", said_by if rule.evacuate_inhg else ""]))
    figures = (Figure("proof", proof or "none"),)
    if proof:
        return Verdict(answer="met", said=f"How it ended is proved by {proof}.", rules=(rule,), figures=figures)
    return Verdict(
        answer="breach",
        said=f"Nothing says how it ended: say {proof_asked(rule)}.",
        rules=(rule,),
        figures=figures,
        changes=("It is proved once the entry says so.",),
    )
