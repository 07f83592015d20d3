"""Words that verdicts share. Pure: no Django here."""

from collections.abc import Iterable
from decimal import Decimal

from inventory.measures.quantity import show
from inventory.reference.refrigerants import co2e_tonnes, gwp_or_none
from inventory.reference.rule import EQUIPMENT, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure

CHARGE_ASKED = "what its full charge is"


def co2e_or_none(rules: Rulebook, system: System, day) -> Decimal | None:
    """Tonnes of CO₂ equivalent of its charge on the rulebook's basis; None where either is not known."""
    basis = rules.gwp_basis(day)
    if system.charge_mg is None or gwp_or_none(system.substance, basis) is None:
        return None
    return co2e_tonnes(system.substance, basis, system.charge_mg)


def equipment_figures(system: System) -> tuple[Figure, ...]:
    """What it is, and what is in it."""
    found = [Figure("refrigerant", system.substance)]
    if system.equipment is not None:
        found.insert(0, Figure("equipment", EQUIPMENT[system.equipment]))
    if system.charge_mg is not None:
        found.append(Figure("charge", show(system.charge_mg, "kg")))
    return tuple(found)


def tonnes(value: Decimal) -> str:
    return f"{value:.3f} t CO2e"


def either(words: Iterable[str]) -> str:
    """Words as an answer to "which?": a, b or c."""
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last


def both(words: Iterable[str]) -> str:
    """Words that hold together: a, b and c."""
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else last
