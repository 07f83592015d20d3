"""What follows for a blend from the gases in it. Pure: exact Decimal arithmetic."""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal, Inexact, localcontext

Composition = tuple[tuple[str, Decimal], ...]


def parse_composition(text: str) -> Composition:
    """The gases of a blend and their mass fractions, from "R-32:0.5;R-125:0.5".

    ValueError where the fractions do not add up to 1.
    """
    parts = (part.split(":") for part in text.split(";"))
    composition = tuple((designation, Decimal(fraction)) for designation, fraction in parts)
    if sum(fraction for _, fraction in composition) != 1:
        raise ValueError(f"Mass fractions do not add up to 1: {text}.")
    return composition


def weighted(parts: Iterable[tuple[Decimal, Decimal | None]]) -> Decimal | None:
    """Sum of mass fraction × value, exact; None where a value is missing.

    The mixture rule of Regulation (EU) 2024/573 Annex VI and of 40 CFR 84.64.
    """
    total = Decimal(0)
    with localcontext() as context:
        context.prec = 60
        context.traps[Inexact] = True
        for fraction, value in parts:
            if value is None:
                return None
            total += fraction * value
    return total


def molar_mass(parts: Iterable[tuple[Decimal, Decimal | None]]) -> Decimal | None:
    """1 / sum(mass fraction / molar mass), g/mol, to four decimals; None where a molar mass is missing."""
    moles = Decimal(0)
    for fraction, of_part in parts:
        if of_part is None:
            return None
        moles += fraction / of_part
    return (1 / moles).quantize(Decimal("0.0001"), ROUND_HALF_UP)
