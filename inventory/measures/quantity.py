"""Quantities as people write them, as whole numbers, and back.

Refrigerant is kept in whole milligrams (mg), oil in whole microlitres (uL). Arithmetic is exact; the one rounding, to
the whole milligram or microlitre, is half to even. No Django import.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

from inventory.measures.numbers import ENGLISH, MARKS, NUMBER, Style, exact_number_of, plain_text, sign_and_body
from inventory.measures.units import (
    DIMENSIONS,
    MASS,
    MASS_LIMIT_MG,
    MASS_UNITS,
    POUNDS_AND_OUNCES,
    VOLUME,
    VOLUME_LIMIT_UL,
    VOLUME_UNITS,
    WATER,
    Dimension,
    Unit,
)
from inventory.text.refusal import Refused

# Reading what people write


def parse_mass(text: str, *, signed: bool = False) -> int:
    """Milligrams, from e.g. `412 g`, `0.412 kg`, `14.5 oz`, `1 lb 2.5 oz`.

    signed: a minus sign is taken as well. Raises Refused.
    """
    return parse(text, MASS, signed=signed)


def parse_volume(text: str) -> int:
    """Microlitres, from e.g. `35 mL`, `0,75 L`, `8 fl oz` (US). Raises Refused."""
    return parse(text, VOLUME)


def parse_water_capacity(text: str) -> int:
    """Milligrams of water that fill a container, from a mass (`47.6 lb`) or a volume (`27 L`).

    A litre counts as one kilogram, as cylinder stamps are read in the trade: common practice, no source.
    Raises Refused.
    """
    return parse(text, WATER)


def parse(text: str, dimension: str, *, signed: bool = False, assume: str | None = None, style: Style = ENGLISH) -> int:
    """The whole milligrams (mass, water) or microlitres (volume) that the text says.

    dimension: MASS, VOLUME or WATER. signed: a minus sign is taken as well.
    assume: the unit of a number written without one, for a field beside which that unit stands in sight.
    style: how whoever wrote it writes numbers.
    Raises Refused with a sentence that says what is wrong and what would be right.
    """
    kind = DIMENSIONS[dimension]
    if assume is not None and assume not in kind.styles:
        raise ValueError(f"{assume!r} is no unit of {dimension}")
    plain = plain_text(text, "quantity", kind.example)
    negative, body = sign_and_body(plain, "quantity", kind.example, signed=signed)
    said = _Said(plain, kind, style)
    parts = _parts(body, said)
    if len(parts) == 1:
        size, unit = _one_part(*parts[0], said, assume)
    else:
        size, unit = _pounds_and_ounces(parts, said)
    value = _half_even(size.numerator, size.denominator)
    limit, most = (MASS_LIMIT_MG, "2000 kg") if unit.symbol in MASS_UNITS else (VOLUME_LIMIT_UL, "1000 L")
    # The limit is set on what would be kept, so that the shortest text for a quantity at the limit is taken.
    if value > limit:
        raise Refused(
            f'"{plain}" is more than {most}, the most that is taken. '
            f"Check the number and its unit, e.g. {kind.example}."
        )
    return -value if negative else value


_NEXT_NUMBER = re.compile(r"[.,]?[0-9]")

_SPELLINGS = {symbol.lower(): symbol for symbol in (*MASS_UNITS, *VOLUME_UNITS)} | {"floz": "fl oz"}
_UNIT = re.compile(r"(?:mg|g|kg|oz|lb|ml|l)\.?|fl(?:\. ?| )?oz\.?")
# Common spellings that are not taken, because a unit has one name here; the refusal names it.
_OTHER_NAMES = {
    other: symbol
    for symbol, others in {
        "mg": "milligram milligrams",
        "g": "gr gm gms gram grams gramm gramme grammes",
        "kg": "kgs kilo kilos kilogram kilograms",
        "oz": "ozs ounce ounces",
        "lb": "lbs # pound pounds",
        "mL": "mls cc ccm cm3 milliliter milliliters millilitre millilitres",
        "L": "ltr ltrs lt liter liters litre litres",
    }.items()
    for other in others.split()
}


@dataclass(frozen=True)
class _Said:
    """The whole text, what it should be, and how whoever wrote it writes numbers."""

    plain: str
    kind: Dimension
    style: Style

    def number(self, number: str, symbol: str) -> Fraction:
        return Fraction(exact_number_of(number, self.style, plain=self.plain, unit=symbol))


def _parts(body: str, said: _Said) -> list[tuple[str, str]]:
    """Pairs of a number and what follows it, both as written: `1 lb 2.5 oz` gives (1, lb), (2.5, oz)."""
    plain, kind = said.plain, said.kind
    parts, at = [], 0
    while at < len(body):
        number = NUMBER.match(body, at)
        if number is None:
            raise Refused(f'"{plain}" does not begin with a number. Type a number, then its unit, e.g. {kind.example}.')
        following = _NEXT_NUMBER.search(body, number.end())
        end = following.start() if following else len(body)
        rest = body[number.end() : end].strip()
        if rest[:1] in MARKS:
            raise Refused(
                f'In "{plain}" no digit follows the decimal {MARKS[rest[0]]}. '
                f"Leave it out or add the digits, and write the unit, e.g. {kind.example}."
            )
        parts.append((number.group(), rest))
        at = end
    if not parts:
        raise Refused(f'"{plain}" holds no number. Type a number, then its unit, e.g. {kind.example}.')
    return parts


def _one_part(number: str, unit_text: str, said: _Said, assume: str | None) -> tuple[Fraction, Unit]:
    plain, kind = said.plain, said.kind
    if unit_text:
        unit = _unit(unit_text, plain, kind)
    elif assume is None:
        raise Refused(f'"{plain}" has no unit. Write one of {kind.listed} after the number, e.g. {kind.example}.')
    elif assume == POUNDS_AND_OUNCES:
        said.number(number, "lb")
        raise Refused(
            f'"{plain}" can be pounds or ounces. Write {number} lb or {number} oz, or both as in 1 lb 2.5 oz.'
        )
    else:
        unit = kind.units[assume]
    return said.number(number, unit.symbol) * unit.size, unit


def _pounds_and_ounces(parts: list[tuple[str, str]], said: _Said) -> tuple[Fraction, Unit]:
    plain, kind = said.plain, said.kind
    if any(not unit_text for _, unit_text in parts):
        raise Refused(f'In "{plain}" a number has no unit. Write one number and one unit, e.g. {kind.example}.')
    worded = all(any(c.isalpha() for c in unit_text) for _, unit_text in parts)  # else e.g. a range, 5 - 6 g
    units = [_unit(unit_text, plain, kind) for _, unit_text in parts] if worded else []
    if [unit.symbol for unit in units] != ["lb", "oz"]:
        together = " Only pounds and ounces go together, as in 1 lb 2.5 oz." if kind.compound else ""
        raise Refused(
            f'"{plain}" holds {len(parts)} numbers. Write one number and one unit, e.g. {kind.example}.{together}'
        )
    pounds = said.number(parts[0][0], "lb")
    ounces = said.number(parts[1][0], "oz")
    if pounds.denominator != 1:
        raise Refused(
            f'In "{plain}" the pounds are not whole. Write whole pounds and ounces, e.g. 1 lb 2.5 oz, '
            "or pounds alone, e.g. 1.5 lb."
        )
    if ounces >= 16:
        raise Refused(
            f'In "{plain}" there are 16 ounces or more beside the pounds. A pound has 16 ounces: '
            "write ounces under 16, e.g. 1 lb 2.5 oz, or ounces alone, e.g. 18.5 oz."
        )
    return pounds * units[0].size + ounces * units[1].size, units[0]


def _unit(unit_text: str, plain: str, kind: Dimension) -> Unit:
    lowered = unit_text.lower() if unit_text.isascii() else unit_text
    if not _UNIT.fullmatch(lowered):
        name = _OTHER_NAMES.get(lowered.rstrip("."))
        right = f'Write {name} for "{unit_text}"; the units are' if name in kind.units else "Use"
        raise Refused(
            f'In "{plain}" the unit "{unit_text}" is not known here. {right} {kind.listed}, e.g. {kind.example}.'
        )
    spelling = " ".join(lowered.replace(".", " ").split())
    symbol = _SPELLINGS[spelling]
    if symbol in kind.units:
        return kind.units[symbol]
    if kind.name == VOLUME:
        hint = " For US fluid ounces write fl oz, e.g. 8 fl oz." if symbol == "oz" else ""
        has, wants = "mass", "volume"
    else:
        hint = " For ounces of mass write oz, e.g. 14.5 oz." if symbol == "fl oz" else ""
        has, wants = "volume", "mass"
    raise Refused(
        f'In "{plain}" the unit {symbol} is one of {has}, and a {wants} is wanted here: '
        f"use {kind.listed}, e.g. {kind.example}.{hint}"
    )


# Showing what is kept


def exact(value: int, unit: str) -> str:
    """The shortest text in the unit that is read as the same integer again, e.g. `14.5 oz`, `1 lb 2.5 oz`.

    value: mg or uL, of any sign. unit: a symbol of MASS_UNITS or VOLUME_UNITS, or `lb oz`.
    A text typed in the unit with at most 4 decimals of oz or fl oz, 5 of lb, 6 of kg or L, 3 of g or mL comes
    back as typed, but for zeros at either end; beyond that the milligram or microlitre is the limit.
    """
    number, places = _shortest(_whole(value), _unit_of(unit).size)
    return _written(value < 0, number, places, unit, pad=False)


def exact_number(value: int, unit: str) -> str:
    """As exact, without the unit, for a field beside which the unit stands. Pounds and ounces keep theirs."""
    text = exact(value, unit)
    return text if unit == POUNDS_AND_OUNCES else text.removesuffix(f" {unit}")


NARROW = "\u202f"  # the narrow no-break space, which parts thousands here and is read again as such
LARGER = {"g": "kg", "mL": "L"}  # in which large quantities are shown
LARGE = 10_000_000  # mg or uL: 10 kg, 10 L


def show(value: int, unit: str) -> str:
    """The quantity for people to read, in kg from 10 kg on where the unit is g, in L from 10 L on where it is mL.

    Exact where the display places hold it, else rounded to them. Places: mg 0, g 1, kg 3, oz 2, lb 3, mL 1, L 3,
    fl oz 2; kg in place of g, and L of mL, 4, so that no digit is lost. Rounded half to even and then with all
    places written, so that 411.0 g (rounded) differs from 411 g (exact). Thousands are parted by a narrow space.
    """
    larger = LARGER.get(unit) if abs(_whole(value)) >= LARGE else None
    return grouped(_shown(value, larger, _unit_of(unit).places + 3) if larger else plainly(value, unit))


def show_in(value: int, unit: str) -> str:
    """As show, always in that unit: for a figure beside a field, or a column, of one unit."""
    return grouped(plainly(value, unit))


def plainly(value: int, unit: str) -> str:
    """As show_in, without spaces between thousands: for programs."""
    return _shown(value, unit, _unit_of(unit).places)


_THOUSANDS = re.compile(r"(?<![0-9.])([0-9]{4,})")


def grouped(text: str) -> str:
    """A text with its whole numbers, and what stands before a decimal point, in groups of three: `1 250.5 g`."""
    return _THOUSANDS.sub(lambda found: f"{int(found[1]):,}".replace(",", NARROW), text)


def ungrouped(text: str) -> str:
    """A text that people read, as files hold it: nothing between thousands."""
    return text.replace(NARROW, "")


def _shown(value: int, unit: str, most_places: int) -> str:
    size = _unit_of(unit).size
    number, places = _shortest(_whole(value), size, most_places)
    pad = number is None
    if pad:
        places = most_places
        number = _half_even(abs(value) * 10**places * size.denominator, size.numerator)
    return _written(value < 0, number, places, unit, pad)


def csv_value(value: int) -> str:
    """Grams or millilitres with three decimals and a decimal point, exactly: mg or uL over 1,000."""
    whole, thousandths = divmod(abs(_whole(value)), 1_000)
    return f"{'-' if value < 0 else ''}{whole}.{thousandths:03d}"


def _unit_of(unit: str) -> Unit:
    if unit == POUNDS_AND_OUNCES:
        return MASS_UNITS["oz"]
    found = MASS_UNITS.get(unit) or VOLUME_UNITS.get(unit)
    if found is None:
        known = ", ".join((*MASS_UNITS, *VOLUME_UNITS))
        raise ValueError(f"{unit!r} is no unit: use one of {known} or {POUNDS_AND_OUNCES}")
    return found


def _whole(value: int) -> int:
    if type(value) is not int:
        raise TypeError(f"a quantity is a whole number of mg or uL, not {value!r}")
    return value


def _half_even(numerator: int, denominator: int) -> int:
    """The quotient of two integers that are not negative, rounded to the nearest integer, half to even."""
    quotient, rest = divmod(numerator, denominator)
    twice = 2 * rest
    return quotient + (twice > denominator or (twice == denominator and quotient % 2 == 1))


def _shortest(value: int, size: Fraction, most_places: int | None = None) -> tuple[int | None, int]:
    """The number n and the fewest places p for which n / 10**p units are read as |value| again.

    If any number of p places is read as the value, the one nearest to it is. Without most_places it ends at
    the latest where a place is worth less than one mg or uL. With it, n is None where more are needed.
    """
    value, places = abs(value), 0
    while most_places is None or places <= most_places:
        power = 10**places
        number = _half_even(value * power * size.denominator, size.numerator)
        if _half_even(number * size.numerator, power * size.denominator) == value:
            return number, places
        places += 1
    return None, places


def _written(negative: bool, number: int, places: int, unit: str, pad: bool) -> str:
    """number / 10**places in the unit. pad: all places are written, else none that is zero at the end."""
    sign = "-" if negative and number else ""
    if unit != POUNDS_AND_OUNCES:
        return f"{sign}{_decimal(number, places)} {unit}"
    pounds, ounces = divmod(number, 16 * 10**places)
    if not pounds:
        return f"{sign}{_decimal(ounces, places)} oz"
    if not ounces and not pad:
        return f"{sign}{pounds} lb"
    return f"{sign}{pounds} lb {_decimal(ounces, places)} oz"


def _decimal(number: int, places: int) -> str:
    if not places:
        return str(number)
    whole, decimals = divmod(number, 10**places)
    return f"{whole}.{decimals:0{places}d}"
