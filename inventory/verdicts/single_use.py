"""What may be done with containers that are made for a single use. Pure: no Django here."""

import datetime as dt

from inventory.reference.container_rules import ACTS
from inventory.reference.kinds import KINDS
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict

INSTEAD = {
    "fill": "Fill a refillable or recovery cylinder.",
    "use": "Charge from a refillable cylinder; a single-use one is only stored, or taken away to be disposed of.",
    "purchase": "Buy it in refillable cylinders that go back.",
    "supply": "Send it away to be disposed of, or have what is in it reclaimed.",
}


def single_use(rules: Rulebook, kind: str, substance: str, act: str, day: dt.date) -> Verdict:
    """Whether that may be done (act: of ACTS) with a container of a kind (of KINDS) for that refrigerant."""
    rule = rules.single_use(kind, substance, act, day)
    what = f"A {KINDS[kind].label} of {substance or 'refrigerant'}"
    figures = (Figure("container", KINDS[kind].label), Figure("refrigerant", substance or "not known"))
    if rule is None:
        return Verdict(answer="free", said=f"{what} may be {ACTS[act]}.", figures=figures)
    return Verdict(
        answer="refused" if rule.enforcement == "refuse" else "breach",
        said=f"{what} must not be {ACTS[act]}. {INSTEAD[act]}",
        rules=(rule,),
        figures=figures,
    )
