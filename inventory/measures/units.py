"""The units in which people write and are shown quantities. No Django import.

They come from their exact definitions: 1 lb = 453.59237 g and 1 oz = 1/16 lb (NIST SP 811, appendix B.8), 1 US fl oz =
29.5735295625 mL (231 cubic inches to the gallon, 128 to the fluid ounce: NIST Handbook 44, appendix C).
"""

from dataclasses import dataclass
from fractions import Fraction

MASS, VOLUME, WATER = "mass", "volume", "water"

MASS_LIMIT_MG = 2_000 * 1_000_000  # 2,000 kg, inclusive: more than any shop holds in one container
VOLUME_LIMIT_UL = 1_000 * 1_000_000  # 1,000 L, inclusive


@dataclass(frozen=True)
class Unit:
    """A unit: how it is written, its size in mg or uL, and the decimal places that people are shown."""

    symbol: str
    size: Fraction
    places: int


_POUND_MG = Fraction(45_359_237, 100)
_FLUID_OUNCE_UL = Fraction(295_735_295_625, 10_000_000)

MASS_UNITS = {
    unit.symbol: unit
    for unit in (
        Unit("mg", Fraction(1), 0),
        Unit("g", Fraction(1_000), 1),
        Unit("kg", Fraction(1_000_000), 3),
        Unit("oz", _POUND_MG / 16, 2),
        Unit("lb", _POUND_MG, 3),
    )
}
VOLUME_UNITS = {
    unit.symbol: unit
    for unit in (
        Unit("mL", Fraction(1_000), 1),
        Unit("L", Fraction(1_000_000), 3),
        Unit("fl oz", _FLUID_OUNCE_UL, 2),
    )
}
POUNDS_AND_OUNCES = "lb oz"  # a style of showing a mass, e.g. 1 lb 2.5 oz

# What a person can choose to be shown. Milligrams are left out: no shop scale shows them.
MASS_CHOICES = (
    ("g", "grams (g)"),
    ("kg", "kilograms (kg)"),
    ("oz", "ounces (oz)"),
    ("lb", "pounds (lb)"),
    (POUNDS_AND_OUNCES, "pounds and ounces (lb oz)"),
)
VOLUME_CHOICES = (("mL", "millilitres (mL)"), ("L", "litres (L)"), ("fl oz", "US fluid ounces (fl oz)"))


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: the units it takes, the unit shown unless chosen, and an example of each form."""

    name: str
    units: dict[str, Unit]
    default_unit: str
    example: str
    compound: bool  # whether pounds and ounces may be written together

    @property
    def styles(self) -> tuple[str, ...]:
        """Every unit or style in which such a quantity can be shown."""
        return (*self.units, POUNDS_AND_OUNCES) if self.compound else tuple(self.units)

    @property
    def listed(self) -> str:
        *first, last = self.units
        return f"{', '.join(first)} or {last}"


DIMENSIONS = {
    MASS: Dimension(MASS, MASS_UNITS, "g", "412 g", True),
    VOLUME: Dimension(VOLUME, VOLUME_UNITS, "mL", "35 mL", False),
    WATER: Dimension(WATER, MASS_UNITS | VOLUME_UNITS, "kg", "21.6 kg or 21.6 L", True),
}
