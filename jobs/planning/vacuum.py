"""Gauge readings of a vacuum as absolute pressure, and what they tell of moisture. Pure: no Django here."""

import re
from dataclasses import dataclass

from inventory.measures.numbers import read_with_unit
from inventory.text.refusal import Refused

# Pa for each unit. micron = 0.001 mm of mercury; inHg conventional: NIST SP 811, B.8.
PASCALS = {"micron": 0.133322387415, "mbar": 100.0, "pa": 1.0, "kpa": 1000.0, "inhg": 3386.388640341}
UNIT = re.compile(r"microns?|[\u00b5\u03bcu]m(?: ?hg)?|mbar|pa|kpa|in\.? ?hg", re.IGNORECASE)
# Weather moves the air's pressure by about so much from the standard of the altitude: from memory.
WEATHER_PA = 0.6 * PASCALS["inhg"]
SEA_LEVEL_PA = 101_325.0


def air_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at an altitude in metres (ISO 2533, ICAO Doc 7488), in Pa."""
    return SEA_LEVEL_PA * (1 - 0.0065 * altitude_m / 288.15) ** 5.25588


def highest_vacuum_inhg(altitude_m: float) -> float:
    """What a gauge reads at a perfect vacuum there, in inHg: all of the air's pressure."""
    return air_pressure_pa(altitude_m) / PASCALS["inhg"]


def absolute_pa(reading: str, altitude_m: float) -> float:
    """Absolute pressure in Pa of a reading such as `500 micron`, `0.7 mbar` or `29 inHg`.

    micron, mbar, Pa and kPa are read as absolute; inHg, and anything with a minus sign, as a gauge's vacuum under
    the air, which the shop's altitude turns into an absolute pressure. Raises Refused for what is no reading, or
    cannot be.
    """
    number, said = read_with_unit(reading, what="vacuum reading", right="500 micron", signed=True)
    if not UNIT.fullmatch(said):
        raise Refused(
            f"{reading[:40]!r} is no vacuum reading; write a number and one of micron, mbar, Pa, kPa or inHg, "
            "e.g. 500 micron."
        )
    unit = said.lower().replace(" ", "").replace(".", "")
    unit = unit if unit in PASCALS else "micron"
    pressure = float(abs(number)) * PASCALS[unit]
    if unit == "inhg" or number.is_signed():
        return _under_the_air(reading, pressure, unit, altitude_m)
    if pressure > SEA_LEVEL_PA * 1.1:
        raise Refused(f"{reading} is more than the pressure of the air: this is no vacuum. Check number and unit.")
    return pressure


def _under_the_air(reading: str, vacuum_pa: float, unit: str, altitude_m: float) -> float:
    """A gauge's vacuum as absolute pressure; never under zero."""
    air = air_pressure_pa(altitude_m)
    if unit == "micron":
        raise Refused(f"{reading} cannot be: micron counts up from a perfect vacuum. Write it without the minus.")
    if vacuum_pa > air + WEATHER_PA:
        shown = f"{air / PASCALS[unit]:.1f} inHg" if unit == "inhg" else f"{air / PASCALS['kpa']:.1f} kPa"
        raise Refused(
            f"At {altitude_m:.0f} m no gauge can read more than {shown} of vacuum; check the reading, "
            "or the altitude in the shop's settings."
        )
    return max(0.0, air - vacuum_pa)


@dataclass(frozen=True)
class Hold:
    """A hold test: rise in Pa, rate in Pa a minute (None where the time is not known), and what it means."""

    rise_pa: float
    rate_pa_min: float | None
    passed: bool
    sentence: str


def hold_verdict(
    start_pa: float, end_pa: float, minutes: float | None, *, most_pa: float, least_minutes: float
) -> Hold:
    """Judge a hold against the shop's limits: the reading at the end, and how long it was held."""
    rise = end_pa - start_pa
    rate = rise / minutes if minutes else None
    said = f"{_both(rise)} rise"
    if minutes is not None:
        said += f" in {minutes:.0f} min"
    if end_pa > most_pa:
        return Hold(
            rise,
            rate,
            False,
            f"{said}, to {_both(end_pa)}: over the limit of {_both(most_pa)}. "
            "Moisture or a leak; evacuate again, and check for leaks if it rises again.",
        )
    if minutes is not None and minutes < least_minutes:
        return Hold(rise, rate, False, f"{said}: held for less than {least_minutes:.0f} min, too short to tell.")
    return Hold(rise, rate, True, f"{said}, to {_both(end_pa)}: within the limit.")


def _both(pascal: float) -> str:
    """In micron, and in Pa for gauges that read so."""
    return f"{pascal / PASCALS['micron']:.0f} micron ({pascal:.0f} Pa)"
