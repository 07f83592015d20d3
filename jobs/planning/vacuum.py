"""Gauge readings of a vacuum as absolute pressure, and what they tell of moisture. Pure: no Django here."""

import re
from dataclasses import dataclass

from inventory.measures.numbers import read_with_unit
from inventory.reference.properties import PropertyUnavailable, water_boiling_temperature, water_vapour_pressure
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
    pressure, unit, under_the_air = _read(reading)
    if under_the_air:
        return _under_the_air(reading, pressure, unit, altitude_m)
    if pressure > SEA_LEVEL_PA * 1.1:
        raise Refused(f"{reading} is more than the pressure of the air: this is no vacuum. Check number and unit.")
    return pressure


def _read(reading: str) -> tuple[float, str, bool]:
    """A reading in Pa, its unit, and whether it counts down from the air. Raises Refused."""
    number, said = read_with_unit(reading, what="vacuum reading", right="500 micron", signed=True)
    if not UNIT.fullmatch(said):
        raise Refused(
            f"{reading[:40]!r} is no vacuum reading; write a number and one of micron, mbar, Pa, kPa or inHg, "
            "e.g. 500 micron."
        )
    unit = said.lower().replace(" ", "").replace(".", "")
    unit = unit if unit in PASCALS else "micron"
    return float(abs(number)) * PASCALS[unit], unit, unit == "inhg" or number.is_signed()


def beyond_the_air(reading: str, altitude_m: float) -> str:
    """What is to be said of a gauge's vacuum that is more than the standard air there, and no more than weather may
    add; blank of any other. What is over that too, `absolute_pa` refuses. Raises Refused for what is no reading."""
    pressure, unit, under_the_air = _read(reading)
    air = air_pressure_pa(altitude_m)
    if not under_the_air or pressure <= air:
        return ""
    return (
        f"{reading} is more than a gauge reads at {altitude_m:.0f} m: {_air_said(air, unit)} at most, but for weather. "
        "It is taken for a perfect vacuum; check that the gauge stands at nothing in the open air."
    )


def _air_said(air: float, unit: str) -> str:
    return f"{air / PASCALS[unit]:.1f} inHg" if unit == "inhg" else f"{air / PASCALS['kpa']:.1f} kPa"


def _under_the_air(reading: str, vacuum_pa: float, unit: str, altitude_m: float) -> float:
    """A gauge's vacuum as absolute pressure; never under zero."""
    air = air_pressure_pa(altitude_m)
    if unit == "micron":
        raise Refused(f"{reading} cannot be: micron counts up from a perfect vacuum. Write it without the minus.")
    if vacuum_pa > air + WEATHER_PA:
        raise Refused(
            f"At {altitude_m:.0f} m no gauge can read more than {_air_said(air, unit)} of vacuum; check the reading, "
            "or the altitude in the shop's settings."
        )
    return max(0.0, air - vacuum_pa)


@dataclass(frozen=True)
class Water:
    """What a vacuum does to water in a unit. boils_at_c: where water boils at that pressure, or ice turns to vapour;
    needed_pa: absolute, under which it boils where the unit is; goes: whether it does."""

    boils_at_c: float
    needed_pa: float
    goes: bool
    sentence: str


def water_in(vacuum_pa: float, unit_c: float) -> Water | None:
    """Whether water in a unit of that temperature (degrees C) boils off at an absolute pressure in Pa. None where
    nothing is published there. Pressures of water: IAPWS-95 by CoolProp; over ice IAPWS R14-08(2011)."""
    try:
        boils_at, needed = water_boiling_temperature(vacuum_pa), water_vapour_pressure(unit_c)
    except PropertyUnavailable:
        return None
    what, does, not_does = ("ice", "goes off as vapour", "does not go off") if unit_c < 0 else WATER
    head = f"At {_both(vacuum_pa)} water boils at {boils_at:.0f} °C. The unit is at {unit_c:g} °C: {what} in it "
    if vacuum_pa < needed:
        slowly = " Ice goes slowly: warm the unit." if unit_c < 0 else ""
        return Water(boils_at, needed, True, f"{head}{does}.{slowly}")
    return Water(boils_at, needed, False, f"{head}{not_does}. It would under {_both(needed)}; or warm the unit.")


WATER = ("water", "boils off", "does not boil off")


@dataclass(frozen=True)
class Hold:
    """A hold test: rise in Pa, rate in Pa a minute (None where the time is not known), and what it means. rose: over
    the limit, which tells of moisture or a leak; one that was too short tells nothing."""

    rise_pa: float
    rate_pa_min: float | None
    passed: bool
    sentence: str
    rose: bool = False


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
            rose=True,
        )
    if minutes is not None and minutes < least_minutes:
        return Hold(rise, rate, False, f"{said}: held for less than {least_minutes:.0f} min, too short to tell.")
    return Hold(rise, rate, True, f"{said}, to {_both(end_pa)}: within the limit.")


def _both(pascal: float) -> str:
    """In micron, and in Pa for gauges that read so."""
    return f"{pascal / PASCALS['micron']:.0f} micron ({pascal:.0f} Pa)"
