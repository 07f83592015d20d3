"""Test pressures as they are stamped on cylinders, as whole kilopascals, and back. No Django import."""

import re
from decimal import Decimal
from fractions import Fraction

from inventory.measures.numbers import ENGLISH, Style, read_with_unit
from inventory.text.refusal import Refused

# Kilopascals in each unit. psi: the exact definitions of the pound, standard gravity and the inch, NIST SP 811.
KPA = {
    "bar": Decimal(100),
    "kpa": Decimal(1),
    "mpa": Decimal(1000),
    "psi": Decimal("0.45359237") * Decimal("9.80665") / Decimal("0.00064516") / 1000,
}
LEAST_KPA, MOST_KPA = 100, 100_000  # 1 and 1000 bar
EXAMPLE = "48 bar or 700 psi"

_UNIT = re.compile(r"(bar|kpa|mpa|psi)g?", re.IGNORECASE)


def parse_pressure(text: str, style: Style = ENGLISH) -> int:
    """Whole kilopascals, from e.g. `48 bar`, `4,8 MPa` or `700 psi`, half to even.

    Raises Refused for what is none, and for what no cylinder is tested at.
    """
    number, unit = read_with_unit(text, style, what="pressure", right=EXAMPLE)
    plain = " ".join(text.split())
    match = _UNIT.fullmatch(unit)
    if not match:
        raise Refused(f'"{plain[:40]}" is no pressure. Write a number and bar, MPa, kPa or psi, e.g. {EXAMPLE}.')
    kilopascals = round(Fraction(number) * Fraction(KPA[match[1].lower()]))  # half to even
    if not LEAST_KPA <= kilopascals <= MOST_KPA:
        raise Refused(
            f'"{plain}" is no test pressure of a cylinder: those are from 1 to 1000 bar. '
            f"Check the number and its unit, e.g. {EXAMPLE}."
        )
    return kilopascals


def show_pressure(kilopascals: int) -> str:
    """In bar, exactly: 4826 is `48.26 bar`."""
    return f"{(Decimal(kilopascals) / 100).normalize():f} bar"
