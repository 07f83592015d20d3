"""What to look at twice on a unit, each as a sentence. Nothing here blocks. No Django import."""

from typing import Protocol

from inventory.reference.oils import Oil, UnknownOil, parse_oil
from jobs.units import vin as vins


class ServedUnit(Protocol):
    vin: str
    year: int | None
    kind: str
    oil: str
    high_voltage_compressor: bool
    label_confirmed: bool
    charge_least_mg: int | None
    charge_most_mg: int | None


def unit_notices(unit: ServedUnit) -> list[str]:
    """Doubts about the VIN, a charge that nobody read from the label, an oil wrong for the compressor."""
    notices = vins.warnings(unit.vin, unit.year) if unit.kind == "vehicle" else []
    known = unit.charge_least_mg is not None or unit.charge_most_mg is not None
    if known and not unit.label_confirmed:
        notices.append("The charge has not been confirmed against the unit's own label.")
    oil = _known_oil(unit.oil)
    if unit.high_voltage_compressor and oil and not oil.suits_high_voltage:
        notices.append(
            f"A high-voltage compressor takes only the oil that its label names, and {oil.code} is entered. "
            f"{oil.high_voltage_reason}"
        )
    return notices


def _known_oil(text: str) -> Oil | None:
    try:
        return parse_oil(text)
    except UnknownOil:
        return None
