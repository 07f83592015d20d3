"""Where bought gas that was used before came from: what its label says, and the papers of its supplier."""

import datetime as dt
from collections.abc import Iterable

from inventory.parties.models import Party, PartyPaper
from inventory.receiving.actions import Arrival
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.origin import origin
from inventory.verdicts.verdict import Verdict


def known_origin(facility: str, papers: Iterable[PartyPaper], day: dt.date) -> str:
    """What names the facility on a day: the label, else a certificate or declaration of the supplier; else blank."""
    if facility:
        return facility
    valid = (one for one in papers if one.valid_on(day) and one.kind in {"certificate", "declaration"})
    return next((str(one) for one in valid), "")


def not_told(rules: Rulebook, supplier: Party, lines: Iterable[Arrival], day: dt.date) -> list[Verdict]:
    """Of a delivery's lines what the rulebook wants to be known of their origin and is not, each once."""
    papers = list(supplier.papers.all())
    found = {}
    for line in lines:
        if not line.is_oil and line.substance:
            known = known_origin(line.facility, papers, day)
            found[line.substance, line.grade, known] = origin(rules, line.substance, line.grade, day, known)
    return [one for one in found.values() if one is not None and one.is_open]
