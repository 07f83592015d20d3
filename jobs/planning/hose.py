"""What a service hose holds back. Pure: no Django here.

A hose that is not cleared keeps refrigerant that left the container and never reached the unit: the line loss
to be written down. Mass = volume x density; volume from length and inner diameter.
"""

import math
from decimal import Decimal

from inventory.reference.refrigerants import refrigerant
from inventory.text.refusal import Refused

PHASES = {"liquid": "full of liquid", "vapour": "full of saturated vapour"}


def volume_ml(length_m: float, inner_diameter_mm: float) -> float:
    """Inside volume in mL. Raises Refused for a length outside 0 to 20 m or a diameter outside 1 to 30 mm."""
    if not 0 < length_m <= 20:
        raise Refused("Write the hose's length in metres, more than 0 and up to 20.", "length_m")
    if not 1 <= inner_diameter_mm <= 30:
        raise Refused("Write the hose's inner diameter in millimetres, from 1 to 30.", "inner_diameter_mm")
    return math.pi / 4 * (inner_diameter_mm / 10) ** 2 * length_m * 100


def hold_up_mg(designation: str, length_m: float, inner_diameter_mm: float, phase: str) -> int:
    """mg of refrigerant in a hose at 25 degrees C, full of liquid or of saturated vapour. Densities: CoolProp 8.0.0,
    as kept with the refrigerants. Raises Refused where no density is kept."""
    gas = refrigerant(designation)
    density: Decimal | None = gas.liquid_density_25_kg_m3 if phase == "liquid" else gas.vapour_density_25_kg_m3
    if phase not in PHASES or density is None:
        raise Refused(f"No density of {designation} is kept for {phase}; weigh instead.", "phase")
    return round(volume_ml(length_m, inner_diameter_mm) * float(density))
