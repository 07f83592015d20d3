"""What to look at twice on a unit, each as a sentence. Nothing here blocks. No Django import."""

from typing import Protocol

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
    if unit.high_voltage_compressor and unit.oil.upper().startswith("PAG"):
        # Trade sources agree: the motor sits in the refrigerant, and about 1 % PAG costs the insulation.
        notices.append(
            "A high-voltage compressor usually takes an insulating oil (POE or PVE), and PAG is entered. "
            "Use only the oil that the label names."
        )
    return notices
