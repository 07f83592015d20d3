"""What the pressure of a unit at rest says, beside that of its refrigerant at the air's temperature. Pure.

At rest, long enough for all of it to be as warm as the air, a unit with liquid in it stands at the saturation
pressure of its refrigerant (CoolProp; bubble and dew point of a blend). Air or nitrogen in it adds to that.
"""

from dataclasses import dataclass

from inventory.measures.numbers import read_with_unit
from inventory.reference.properties import PropertyUnavailable, bubble_pressure, dew_pressure
from inventory.text.refusal import Refused
from jobs.planning.vacuum import air_pressure_pa

# A unit at rest is within so many kelvin of the air about it: common practice, no source.
SPREAD_K = 3.0
# Pascals in each unit of a gauge. psi: NIST SP 811, B.8.
GAUGE = {"bar": 1e5, "kpa": 1e3, "mpa": 1e6, "psi": 6894.757293168}
MOST_GAUGE = 1e8  # 1000 bar: no unit stands at more


def gauge_pa(reading: str, altitude_m: float) -> float:
    """Absolute pressure in Pa of a gauge reading such as `5.9 bar`. Raises Refused for what is none."""
    if not any(character.isdigit() for character in reading):
        raise Refused("Write a number and psi, bar or kPa, e.g. 2.1 bar.")
    number, unit = read_with_unit(reading, what="pressure", right="2.1 bar", signed=True)
    if unit.lower() not in GAUGE:
        raise Refused(f"{reading[:40]!r} is no pressure; write a number and one of psi, bar, kPa or MPa, e.g. 2.1 bar.")
    absolute = float(number) * GAUGE[unit.lower()] + air_pressure_pa(altitude_m)
    if absolute > MOST_GAUGE:
        raise Refused(f"{reading} is more than any unit stands at; check the number and its unit, e.g. 2.1 bar.")
    if absolute < 0:
        raise Refused(f"{reading} would be less than no pressure at all; check the number.")
    return absolute


@dataclass(frozen=True)
class Static:
    """verdict: agrees, above or below. low_pa, high_pa: absolute, that liquid and gas stand at together."""

    verdict: str
    low_pa: float
    high_pa: float
    sentence: str

    @property
    def agrees(self) -> bool:
        return self.verdict == "agrees"


TELLS_NOT = (
    "It cannot tell how much is in the unit: the pressure is the same while any liquid is left. Nor can it tell "
    "refrigerants apart whose pressures are alike."
)
READS_AS = {
    "agrees": "as {substance} with liquid in it stands at {ambient:g} °C. " + TELLS_NOT,
    "above": (
        "more than {substance} stands at. Air or another gas that does not condense, another refrigerant, or a unit "
        "warmer than the air. Let it stand, read again, and identify before recovering for use."
    ),
    "below": (
        "less than {substance} with liquid in it stands at. Little or no liquid is left, it is another refrigerant, "
        "or the unit is colder than the air. Let it stand and read again."
    ),
}


def static_verdict(designation: str, ambient_c: float, absolute_pa: float) -> Static | None:
    """The pressure of a unit at rest against its refrigerant at the air's temperature, give or take SPREAD_K.
    None where nothing is published at that temperature (CO2 above its critical point, say)."""
    try:
        low = dew_pressure(designation, ambient_c - SPREAD_K)
        high = bubble_pressure(designation, ambient_c + SPREAD_K)
    except (PropertyUnavailable, LookupError):
        return None
    verdict = "below" if absolute_pa < low else "above" if absolute_pa > high else "agrees"
    said = READS_AS[verdict].format(substance=designation, ambient=ambient_c)
    return Static(verdict, low, high, f"At rest it stood at {absolute_pa / 1e5:.2f} bar absolute: {said}")
