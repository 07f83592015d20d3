"""Physical properties at a temperature, from CoolProp: densities, pressures, the boiling point of water.

CoolProp takes about two seconds to load, so it is imported only when a value is first asked for.
"""

import itertools
import math
import threading
from contextlib import suppress
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any

from inventory.reference.refrigerants import Refrigerant, refrigerant

Number = float | int | Decimal

KELVIN = 273.15

# The names CoolProp has for fluids, where they are not the designation without its dash.
_FLUIDS = {
    "R-744": "CO2",
    "R-290": "Propane",
    "R-600a": "IsoButane",
    "R-600": "n-Butane",
    "R-170": "Ethane",
    "R-1270": "Propylene",
    "R-717": "Ammonia",
    "R-E170": "DimethylEther",
    "R-152a": "R152A",
    "R-227ea": "R227EA",
    "R-601a": "Isopentane",
}

# Triple point of water and the coefficients of the sublimation equation: IAPWS R14-08(2011), from memory;
# the value it prints for 230 K and CoolProp's own are checked in the tests.
_TRIPLE_K, _TRIPLE_PA = 273.16, 611.657
_SUBLIMATION = (
    (-0.212144006e2, 0.333333333e-2),
    (0.273203819e2, 0.120666667e1),
    (-0.610598130e1, 0.170333333e1),
)
_SUBLIMATION_LEAST_K = 50.0

# Threads of the web server share one CoolProp, whose tables of fluids are not made for that.
_one_at_a_time = threading.Lock()


class PropertyUnavailable(Exception):
    """There is no such value: no such state of the fluid, or the equations could not be solved there."""


def _coolprop() -> Any:
    import CoolProp

    return CoolProp


def fluid_name(designation: str) -> str:
    """The name CoolProp has for a single gas."""
    return _FLUIDS.get(designation, designation.replace("-", ""))


@cache
def _estimate_missing_pairs(names: tuple[str, ...]) -> None:
    """Let CoolProp estimate, by the rule of Lorentz and Berthelot, how gases mix that it has no fitted figures of.

    Such blends (of HCFCs, and R-438A) come out about 2 % from the truth, others about 1 %.
    """
    ask = _coolprop().CoolProp
    numbers = sorted(ask.get_fluid_param_string(name, "CAS") for name in names)
    for one, other in itertools.combinations(numbers, 2):
        # Sorted as its table is: it takes no pair that is there already, which is what the error says.
        with suppress(ValueError):
            ask.apply_simple_mixing_rule(one, other, "Lorentz-Berthelot")


def composed(found: Refrigerant) -> Any:
    """A CoolProp state of a refrigerant, its composition set from the mass fractions.

    ValueError where the library does not have the gas.
    """
    coolprop = _coolprop()
    if not found.is_blend:
        return coolprop.AbstractState("HEOS", fluid_name(found.designation))
    names = [fluid_name(part) for part, _ in found.composition]
    moles = [
        float(fraction) / coolprop.AbstractState("HEOS", name).molar_mass()
        for name, (_, fraction) in zip(names, found.composition, strict=True)
    ]
    _estimate_missing_pairs(tuple(names))
    state = coolprop.AbstractState("HEOS", "&".join(names))
    state.set_mole_fractions([amount / sum(moles) for amount in moles])
    return state


def _least_kelvin(found: Refrigerant) -> float:
    """The coldest temperature that the equations of all its gases hold for, K."""
    names = [fluid_name(part) for part, _ in found.composition] or [fluid_name(found.designation)]
    return max(_coolprop().AbstractState("HEOS", name).Tmin() for name in names)


def _at(celsius: Number) -> str:
    return f"{float(celsius):g} °C"


def _sound(value: float) -> bool:
    return math.isfinite(value) and value > 0


@lru_cache(maxsize=4096)
def _saturated(designation: str, celsius: float, quality: int) -> tuple[float, float]:
    """(density kg/m³, pressure Pa) at the bubble point (quality 0) or the dew point (quality 1)."""
    found = refrigerant(designation)
    critical = found.critical_temperature_c
    if critical is not None and celsius >= float(critical):
        raise PropertyUnavailable(
            f"{designation} cannot be liquid at {_at(celsius)}: its critical temperature is {critical} °C."
        )
    none_found = PropertyUnavailable(f"No saturated state of {designation} was found at {_at(celsius)}.")
    try:
        with _one_at_a_time:
            state = composed(found)
            if not celsius + KELVIN >= _least_kelvin(found):
                raise none_found
            state.update(_coolprop().QT_INPUTS, quality, celsius + KELVIN)
            density, pressure = state.rhomass(), state.p()
    except ValueError as error:
        raise none_found from error
    if not (_sound(density) and _sound(pressure)):
        raise none_found
    return density, pressure


def liquid_density(designation: str, celsius: Number) -> float:
    """Density of the saturated liquid (bubble point), kg/m³. UnknownRefrigerant, PropertyUnavailable."""
    return _saturated(designation, float(celsius), 0)[0]


def vapour_density(designation: str, celsius: Number) -> float:
    """Density of the saturated vapour (dew point), kg/m³. UnknownRefrigerant, PropertyUnavailable."""
    return _saturated(designation, float(celsius), 1)[0]


def bubble_pressure(designation: str, celsius: Number) -> float:
    """Absolute pressure at which the liquid begins to boil, Pa. UnknownRefrigerant, PropertyUnavailable."""
    return _saturated(designation, float(celsius), 0)[1]


def dew_pressure(designation: str, celsius: Number) -> float:
    """Absolute pressure at which the vapour begins to condense, Pa; of a single gas, the bubble pressure.

    UnknownRefrigerant, PropertyUnavailable.
    """
    return _saturated(designation, float(celsius), 1)[1]


@lru_cache(maxsize=4096)
def _gas(designation: str, celsius: float, pascal: float) -> float:
    found = refrigerant(designation)
    critical = found.critical_temperature_c
    if critical is None or celsius < float(critical):
        dew = _saturated(designation, celsius, 1)[1]
        if pascal > dew * (1 + 1e-6):  # the dew pressure itself, read back from a table, is still vapour
            raise PropertyUnavailable(
                f"{designation} is not all vapour at {_at(celsius)} and {pascal / 1e5:g} bar: "
                f"it condenses from {dew / 1e5:.2f} bar on."
            )
    none_found = PropertyUnavailable(f"No gas density of {designation} was found at {_at(celsius)}.")
    try:
        with _one_at_a_time:
            coolprop = _coolprop()
            state = composed(found)
            state.specify_phase(coolprop.iphase_gas)
            state.update(coolprop.PT_INPUTS, pascal, celsius + KELVIN)
            density = state.rhomass()
    except ValueError as error:
        raise none_found from error
    if not _sound(density):
        raise none_found
    return density


def gas_density(designation: str, celsius: Number, pascal: Number) -> float:
    """Density of the gas at an absolute pressure in Pa, not above its dew pressure, kg/m³.

    UnknownRefrigerant; PropertyUnavailable where part of it would be liquid.
    """
    if float(pascal) <= 0:
        raise PropertyUnavailable("A gas has a density only at a pressure above zero.")
    return _gas(designation, float(celsius), float(pascal))


def _sublimation_pressure(kelvin: float) -> float:
    """Pressure of water vapour over ice, Pa, from 50 K to the triple point: IAPWS R14-08(2011)."""
    theta = kelvin / _TRIPLE_K
    return _TRIPLE_PA * math.exp(sum(factor * theta**power for factor, power in _SUBLIMATION) / theta)


def _sublimation_temperature(pascal: float) -> float:
    """The inverse of _sublimation_pressure, K, by halving: pressure grows with temperature."""
    low, high = _SUBLIMATION_LEAST_K, _TRIPLE_K
    while high - low > 1e-7:
        middle = (low + high) / 2
        if _sublimation_pressure(middle) < pascal:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@lru_cache(maxsize=4096)
def _water(output: str, given: str, value: float) -> float:
    none_found = PropertyUnavailable("Water does not boil there: it is above its critical point.")
    try:
        with _one_at_a_time:
            result = _coolprop().CoolProp.PropsSI(output, given, value, "Q", 0, "Water")
    except ValueError as error:
        raise none_found from error
    if not _sound(result):
        raise none_found
    return result


def water_boiling_temperature(pascal: Number) -> float:
    """Temperature in °C at which water boils at an absolute pressure in Pa.

    Below 611.657 Pa there is no liquid: the temperature at which ice turns to vapour. IAPWS-95 by CoolProp;
    IAPWS R14-08(2011) over ice. PropertyUnavailable where the pressure is not above zero, is under the range
    of that equation (50 K), or is over the critical pressure.
    """
    pressure = float(pascal)
    if not _sound(pressure) or pressure < _sublimation_pressure(_SUBLIMATION_LEAST_K):
        raise PropertyUnavailable("Water has a boiling temperature only at a pressure above zero.")
    if pressure < _TRIPLE_PA:
        return _sublimation_temperature(pressure) - KELVIN
    return _water("T", "P", pressure) - KELVIN


def water_vapour_pressure(celsius: Number) -> float:
    """Absolute pressure in Pa of water vapour over water, or over ice below 0.01 °C.

    IAPWS-95 by CoolProp; IAPWS R14-08(2011) over ice. PropertyUnavailable below 50 K and above the critical
    point.
    """
    kelvin = float(celsius) + KELVIN
    if not kelvin >= _SUBLIMATION_LEAST_K:
        raise PropertyUnavailable(f"There is no vapour pressure of ice at {_at(celsius)}.")
    if kelvin < _TRIPLE_K:
        return _sublimation_pressure(kelvin)
    return _water("P", "T", kelvin)
