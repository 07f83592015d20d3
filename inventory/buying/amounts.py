"""What an invoice adds up to. Pure: no Django here. Amounts in whole minor units of a currency."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction


def tax_of(minor: int, percent: Decimal) -> int:
    """The tax on an amount at a rate, rounded once, half to even; what the paper has instead is written as an
    amount."""
    return round(Fraction(percent) * minor / 100)


def difference(lines: Iterable[tuple[int, int]], more: Iterable[int], total: int) -> int:
    """By how much a paper's total is above its lines (count, price of each) and what else it adds up: shipping, tax."""
    return total - sum(count * price for count, price in lines) - sum(more)
