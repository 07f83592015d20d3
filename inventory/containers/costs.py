"""What refrigerant and oil cost. Pure: no Django here. Money in minor units of the shop's currency."""

from collections.abc import Iterable
from fractions import Fraction


def cost(parts: Iterable[tuple[int, int | None, int]]) -> tuple[int, bool]:
    """The cost of amounts taken out of containers: (amount, price of the container, what it came with) each; the
    exact shares are added up and rounded once, half to even. Also whether every container's price was known."""
    total, known = Fraction(0), True
    for amount, price, nominal in parts:
        if price is None or not nominal:
            known = False
            continue
        total += Fraction(price * amount, nominal)
    return round(total), known
