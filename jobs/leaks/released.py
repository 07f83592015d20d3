"""What the rulebook asks of refrigerant that got out of a unit by accident."""

from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.reference.rules import Caution
from inventory.releases.asked import cautions_of
from inventory.verdicts.leak_repair import repaired_by
from inventory.verdicts.releases import released
from inventory.verdicts.verdict import Verdict
from jobs.leaks.models import LeakEvent
from jobs.units.systems import system_of


def released_system(event: LeakEvent) -> System:
    """The unit that it got out of."""
    return system_of(event.unit)


def asked_of(event: LeakEvent, rules: Rulebook) -> list[Verdict]:
    """How soon it is repaired, and whether it is reported."""
    system = released_system(event)
    found = [repaired_by(rules, system, event.day)]
    if event.released_mg is not None and rules.sections["release_report"]:
        found.append(released(rules, system, event.released_mg, event.day))
    return found


def cautions(event: LeakEvent, rules: Rulebook) -> tuple[Caution, ...]:
    """What to heed, each with where it stands."""
    return cautions_of(rules, event.unit.refrigerant or None, event.day)
