"""Whether the rules of a rulebook are about a system at all. Pure: no Django here."""

from inventory.reference.rule import TRAITS, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict, cannot_be_judged

BOUND = "bound"  # of TRAITS


def binding(rules: Rulebook, system: System) -> Verdict:
    """Whether a rulebook that does not bind everybody binds whom a system belongs to."""
    if not rules.binds:
        return Verdict(answer="met", said=f"{rules.title} is asked of every system here.")
    if BOUND in system.holding:
        return Verdict(answer="met", said=f"{rules.title} binds this system. {' '.join(rules.binds)}")
    if BOUND in system.undecided:
        return cannot_be_judged(f"What {rules.title} asks", [f"whether {TRAITS[BOUND]}"], ())
    return Verdict(
        answer="free",
        said=f"{rules.title} asks nothing of this system. {' '.join(rules.binds)}",
        changes=("It is asked once the unit is marked as one of the systems that this rulebook binds.",),
    )
