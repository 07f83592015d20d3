"""What the label of a container must say. Pure: no Django here."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from inventory.reference.container_rules import LABEL_SAYS, LABELLERS, ContainerLabel
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict


@dataclass(frozen=True)
class Labelled:
    """A container by its label. kind: of KINDS. says: of LABEL_SAYS, what is known to stand on it. came_on: the day on
    which it came."""

    kind: str
    substance: str
    grade: str
    says: Collection[str]
    came_on: dt.date


def container_label(rules: Rulebook, one: Labelled, day: dt.date) -> list[Verdict]:
    """Whether a container's label says what each rule asks of that grade; none where nothing is asked. What whoever
    holds it labels is judged by the day asked about, what its reclaimer did by the day on which it came."""
    found = []
    for rule in rules.container_labels(one.kind, one.substance, one.grade):
        if not rule.in_force(one.came_on if rule.by == "reclaimer" else day):
            continue
        without = [LABEL_SAYS[word] for word in rule.says if word not in one.says]
        figures = (Figure("grade", one.grade), Figure("labelled by", LABELLERS[rule.by]))
        if not without:
            said = f"The label says what is asked of {one.grade} refrigerant."
            found.append(Verdict(answer="met", said=said, rules=(rule,), figures=figures))
            continue
        worded = f' It should read: "{rule.statement}".' if rule.statement and "statement" not in one.says else ""
        found.append(
            Verdict(
                answer="breach",
                said=f"The label of {one.grade} {one.substance} does not say {', nor '.join(without)}.{worded}",
                rules=(rule,),
                figures=figures,
                changes=("It is as asked once the label says so, and that is entered with the container.",),
            )
        )
    return found


def is_labelled(rules: Rulebook, one: Labelled, day: dt.date) -> bool:
    """Whether its label says all that is asked."""
    return not any(verdict.is_breach for verdict in container_label(rules, one, day))


def grave(verdict: Verdict) -> bool:
    """Whether the label is this shop's to mend: it is not the reclaimer's."""
    return any(isinstance(rule, ContainerLabel) and rule.by == "holder" for rule in verdict.rules)
