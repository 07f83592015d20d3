"""Amounts of money as whole minor units of a currency (cents), and back. No Django import."""

from decimal import Decimal
from fractions import Fraction

from inventory.measures.numbers import ENGLISH, Style, read_number
from inventory.measures.quantity import grouped
from inventory.text.refusal import Refused

# How many decimals an amount has, where that is not two: ISO 4217, its list of minor units.
_OTHERS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
DECIMALS = {currency: places for places, currencies in _OTHERS.items() for currency in currencies.split()}
LIMIT = 999_999_999  # of the currency, for one container: more than any ever cost


def decimals_of(currency: str) -> int:
    """How many decimals an amount of it has. currency: its code of ISO 4217; two for one that is not known."""
    return DECIMALS.get(currency, 2)


def parse_money(text: str, currency: str, style: Style = ENGLISH) -> int:
    """Minor units, from e.g. `9.80` or `1 250`; the currency is not written. Raises Refused."""
    value = read_number(text, style)
    places = decimals_of(currency)
    plain = " ".join(text.split())
    if value > LIMIT:
        raise Refused(f'"{plain}" is more than {LIMIT} {currency}, the most that is taken. Check the number.')
    minor = Fraction(value) * 10**places
    if minor.denominator != 1:
        has = f"{places} decimals at most" if places else "no decimals"
        raise Refused(
            f'"{plain}" cannot be paid in {currency}: an amount has {has}. Write it so, e.g. {_example(places, style)}.'
        )
    return int(minor)


def show_money(minor: int, currency: str) -> str:
    """E.g. `1 234.50 USD`, with a narrow space."""
    return grouped(f"{_decimal(minor, decimals_of(currency)):f} {currency}")


def plain_money(minor: int, currency: str) -> str:
    """All decimals and no currency, as a file has it and as a field is filled in again: `1234.50`."""
    return f"{_decimal(minor, decimals_of(currency)):f}"


def _decimal(minor: int, places: int) -> Decimal:
    return Decimal(minor).scaleb(-places)


def _example(places: int, style: Style) -> str:
    return f"129{style.mark}{'50'.ljust(places, '0')[:places]}" if places else "129"
