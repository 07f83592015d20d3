"""What an inspector would object to. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass

from inventory.reference.rule import Rule
from inventory.verdicts.verdict import Verdict

SEVERITIES = ("high", "medium", "low")


@dataclass(frozen=True)
class Finding:
    """rule: its short name; citation: where it is written, blank for good practice; what: a sentence with the record
    in it, said in two ways (`joined`) where it names somebody or repeats what somebody wrote; where: the address of
    the page on which it is mended; day: of the record, None for a state; verdict: why, None where no rule says it."""

    severity: str
    rule: str
    citation: str
    what: str
    where: str
    day: dt.date | None = None
    verdict: Verdict | None = None


GOOD_PRACTICE = "good practice"  # cited where no rulebook asks for it


def cited(rule: Rule | None) -> str:
    """Where a rulebook says it."""
    return GOOD_PRACTICE if rule is None else rule.cited()
