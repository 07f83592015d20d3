"""Whether it is known who recycled or reclaimed what is bought. Pure: no Django here."""

import datetime as dt

from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict

ASK = "which facility recycled or reclaimed it, on the container's label or in a declaration of its supplier"


def origin(rules: Rulebook, substance: str, grade: str, day: dt.date, known: str) -> Verdict | None:
    """What a rulebook that wants the facility in the records of work says to gas that is bought in a grade; None where
    it wants none. known: the label or paper that names the facility, blank where none is on file on that day. Whether
    the work to come is of the kind that the rule is about is not known yet, so nothing is ever a breach."""
    found = [
        rule
        for rule, _ in rules.about("record", System(None, substance), day)
        if "facility" in rule.fields and "*" not in rule.grades and grade in rule.grades
    ]
    if not found:
        return None
    figures = (Figure("grade", grade), Figure("day", day.isoformat()))
    if known:
        said = f"Who made {grade} {substance} of what was used is on file: {known}."
        return Verdict(answer="met", said=said, rules=tuple(found), figures=figures)
    said = f"Where {grade} {substance} came from cannot be told: no label and no valid paper of its supplier says it."
    return Verdict(answer="open", said=said, rules=tuple(found), figures=figures, ask=(ASK,))
