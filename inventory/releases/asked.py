"""What the rulebook asks of refrigerant that got out of a container."""

import datetime as dt
from dataclasses import dataclass

from inventory.reference.rule import TRAITS, System
from inventory.reference.rulebook import Rulebook
from inventory.reference.rules import Caution
from inventory.verdicts.releases import released
from inventory.verdicts.verdict import Verdict


@dataclass(frozen=True)
class Asked:
    """released_mg, substance: what got out. cautions: of containers, each with where it stands. report: whether, and by
    when, it is reported; None where the rulebook rules no such report."""

    released_mg: int
    substance: str
    cautions: tuple[Caution, ...]
    report: Verdict | None


def asked_of(rules: Rulebook, substance: str, released_mg: int, day: dt.date) -> Asked:
    """Of so much of a refrigerant that got out on a day."""
    return Asked(
        released_mg, substance, cautions_of(rules, substance, day), report_of(rules, substance, released_mg, day)
    )


def cautions_of(rules: Rulebook, substance: str | None, day: dt.date) -> tuple[Caution, ...]:
    """Those of containers; what holds everywhere stands at the foot of the page."""
    return tuple(one for one in rules.cautions("container", day, substance) if "*" not in one.places)


def report_of(rules: Rulebook, substance: str, released_mg: int, day: dt.date) -> Verdict | None:
    """Of what got out of a container: it is part of no system, and whose systems the rulebook binds nobody has said."""
    if not rules.sections["release_report"]:
        return None
    return released(rules, System(None, substance, undecided=frozenset(TRAITS)), released_mg, day)
