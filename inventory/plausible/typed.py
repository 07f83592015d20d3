"""A reading as somebody typed it: its number, digit by digit, and its unit. Pure: no Django here."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.measures.numbers import ENGLISH, Style
from inventory.measures.quantity import exact_number
from inventory.measures.units import POUNDS_AND_OUNCES


@dataclass(frozen=True)
class Typed:
    """number: as it was typed, with the zeros at its end; unit: a unit of the kind of reading it is.
    style: how whoever typed it writes numbers."""

    number: Decimal
    unit: str
    style: Style = ENGLISH

    @classmethod
    def quantity(cls, value: int, unit: str, style: Style = ENGLISH) -> "Typed":
        """A whole quantity, mg or uL, as it is typed in a unit: for pounds and ounces together, in ounces."""
        unit = "oz" if unit == POUNDS_AND_OUNCES else unit
        return cls(Decimal(exact_number(value, unit)), unit, style)

    @property
    def digits(self) -> str:
        """The number without its sign, with a decimal point where it has decimals."""
        return format(abs(self.number), "f")

    def of(self, digits: str) -> "Typed":
        """The same with other digits; the sign stays."""
        number = Decimal(digits)
        return Typed(number.copy_negate() if self.number.is_signed() else number, self.unit, self.style)

    def times(self, power: int) -> "Typed":
        """The same with its mark moved so many places to the right."""
        return Typed(self.number.scaleb(power).normalize(), self.unit, self.style)

    def in_unit(self, unit: str) -> "Typed":
        return Typed(self.number, unit, self.style)

    def as_fine_as(self, other: "Typed") -> "Typed":
        """Rounded to the decimals of another."""
        places = max(0, -other.number.as_tuple().exponent)
        return Typed(round(self.number, places), self.unit, self.style)

    def __str__(self) -> str:
        return f"{format(self.number, 'f').replace('.', self.style.mark)} {self.unit}"
