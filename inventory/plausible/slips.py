"""The slips of whoever types a reading, and what was meant if exactly one of them was made. Pure: no Django here.

That these are the slips people make is common practice, no source; none is ever put right without being asked about.
"""

from collections.abc import Iterator
from decimal import Decimal

from inventory.plausible.expected import Known, Other
from inventory.plausible.typed import Typed

# Each slip in words, the commonest first: readings that are as near as each other are named in this order.
SLIPS = {
    "unit": "another unit",
    "tare": "the container's own weight left off",
    "comma": "the decimal mark moved",
    "doubled": "a digit typed twice",
    "lost": "a digit left out",
}
ORDER = tuple(SLIPS)
DIGITS = "0123456789"
MOST_DIGITS = 9  # of a number that one more may be put into; no scale or gauge shows more


def others(typed: Typed, known: Known, digits: bool = True) -> Iterator[Other]:
    """Every reading that is one slip away. digits: also by a digit lost or doubled, of which there are dozens: whoever
    asks keeps those that fit well."""
    yield from (_read("unit", typed.in_unit(unit), known) for unit in known.mistaken.get(typed.unit, ()))
    yield from known.besides(typed)
    if typed.number:
        yield from (_read("comma", typed.times(power), known) for power in (-1, 1, -2, 2))
    if digits:
        yield from (_read("doubled", typed.of(spelled), known) for spelled in _undoubled(typed.digits))
        yield from (_read("lost", typed.of(spelled), known) for spelled in _filled_in(typed.digits))


def _read(slip: str, typed: Typed, known: Known) -> Other:
    return Other(slip, typed, known.value(typed.number, typed.unit))


def _undoubled(digits: str) -> Iterator[str]:
    """Each pair of like digits that stand together, as one."""
    for place in range(len(digits) - 1):
        if digits[place] == digits[place + 1] and digits[place : place + 1].isdigit():
            left = digits[:place] + digits[place + 1 :]
            if Decimal(left) != Decimal(digits):
                yield left


def _filled_in(digits: str) -> Iterator[str]:
    """One digit more, at each place; no zero before or behind all others, which changes nothing."""
    if len(digits) > MOST_DIGITS:
        return
    seen = {digits}
    for place in range(len(digits) + 1):
        for digit in DIGITS:
            filled = digits[:place] + digit + digits[place:]
            if filled not in seen and Decimal(filled) != Decimal(digits):
                seen.add(filled)
                yield filled
