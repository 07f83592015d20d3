"""What a rulebook's own rule asks, for tests of its boundaries: without the words of a verdict."""

import datetime as dt
from decimal import Decimal

from inventory.reference.leak_rules import LeakCheck, LeakRepair
from inventory.reference.rule import Gas, System
from inventory.reference.rulebook import Rulebook


def leak_check(book: Rulebook, system: System, co2e_t: Decimal | None, day: dt.date) -> LeakCheck | None:
    """The rule with the shortest interval, at a CO2 equivalent that the test chooses."""
    found = [rule for rule, bearing in book.about("leak_check", system, day) if bearing.holds]
    found = [rule for rule in found if rule.applies(system, co2e_t)]
    return min(found, key=lambda rule: rule.months, default=None)


def leak_repair(book: Rulebook, equipment: str, substance: str, day: dt.date) -> LeakRepair | None:
    return next((rule for rule, _ in book.about("leak_repair", System(equipment, substance), day)), None)


def grades(book: Rulebook, equipment: str, substance: str, gas: Gas, day: dt.date) -> tuple[str, ...]:
    """The grades that the first rule about reuse lets in."""
    about = book.about("reuse", System(equipment, substance), day)
    return next(rule.grades for rule, bearing in about if bearing.holds and rule.came_from(gas))
