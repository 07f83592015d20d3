"""Whether a machine is approved for what it does, and whether the authority was told of it. Pure: no Django here."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from inventory.reference.machine_rules import DOES, STATED
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import both

USED_ASKED = "whether it is used on vehicles"
PLATE_ASKED = "which standards its plate names"


@dataclass(frozen=True)
class MachineUsed:
    """A machine at work. standards: as its plate names them. does: of DOES. equipment, substance: what it was used on;
    None, where nobody has said of which equipment."""

    standards: frozenset[str]
    does: str
    equipment: str | None
    substance: str


def machine_approved(rules: Rulebook, used: MachineUsed, day: dt.date) -> Verdict:
    """Whether a machine meets a standard that is approved for that work on that refrigerant."""
    work = f"{DOES[used.does]} {used.substance}"
    plate = ", ".join(sorted(used.standards)) or "not known"
    figures = (Figure("standards of the machine", plate), Figure("used to", work))
    asked = rules.machine_standards(used.equipment, used.substance, used.does, day)
    if not asked:
        return Verdict(answer="free", said=f"No standard is asked of a machine to {work} here.", figures=figures)
    met = [rule for rule in asked if rule.met_by(used.standards)]
    if met:
        said = f"The machine is approved to {work}."
        return Verdict(answer="met", said=said, rules=tuple(met[:1]), figures=figures)
    names = ", ".join(dict.fromkeys(name for rule in asked for name in rule.standards))
    asks = [*([USED_ASKED] if used.equipment is None else []), *([] if used.standards else [PLATE_ASKED])]
    if asks:
        return cannot_be_judged(f"Whether the machine may {work}", asks, tuple(asked), figures=figures)
    return Verdict(
        answer="breach",
        said=f"The machine meets {plate}; to {work} it must meet one of {names}.",
        rules=tuple(asked),
        figures=figures,
        changes=(f"It is approved once its plate names one of {names}, and that is entered with the machine.",),
    )


def machine_stated(
    rules: Rulebook, equipment: Collection[str] | None, said: Collection[str], day: dt.date
) -> Verdict | None:
    """Whether the owner told the authority of a machine, as far as that is asked; None where it is not. equipment: all
    that it is used on; None: nobody has said. said: of STATED, what is known of the statement."""
    rule = rules.machine_statement(equipment, day)
    if rule is None:
        return None
    if equipment is None:
        return cannot_be_judged("Whether a statement about this machine is asked for", (USED_ASKED,), (rule,))
    without = [STATED[need] for need in rule.fields if need not in said]
    figures = (Figure("sent to", rule.to), Figure("says", "; ".join(STATED[need] for need in rule.fields)))
    if not without:
        return Verdict(answer="met", said=f"The statement was sent to {rule.to}.", rules=(rule,), figures=figures)
    return Verdict(
        answer="breach",
        said=f"The statement of the owner to {rule.to} is without {both(without)}.",
        rules=(rule,),
        figures=figures,
        changes=("It is as asked once that is entered with the machine.",),
    )
