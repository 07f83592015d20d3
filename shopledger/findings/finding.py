"""What an inspector would object to. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass

SEVERITIES = ("high", "medium", "low")


@dataclass(frozen=True)
class Finding:
    """rule: its short name; citation: where it is written, blank for good practice; what: a sentence with the record
    in it; where: the address of the page on which it is mended; day: of the record, None for a state."""

    severity: str
    rule: str
    citation: str
    what: str
    where: str
    day: dt.date | None = None


def cited(rule: object) -> str:
    """A rulebook's rule as it is cited, marked where its text was not read."""
    if rule is None:
        return "good practice"
    if rule.text.key == "practice":
        return "common practice, no source"
    said = rule.text.title if rule.citation in {"", rule.text.title} else f"{rule.text.title}, {rule.citation}"
    return f"{said} (to be confirmed with the authority)" if rule.to_be_confirmed else said
