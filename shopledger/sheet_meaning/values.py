"""What single cells say, where that is certain: figures with units, days, gases, kinds. Pure.

What is not certain is no guess: `Doubt` says between which readings somebody must choose.
"""

import datetime as dt
import re
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from inventory.measures.numbers import ENGLISH, FRENCH, MINUS, Ambiguous, read_number
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.reference import oils, refrigerants
from inventory.reference.substances import UnknownSubstance, substance
from inventory.text.refusal import Refused
from shopledger.sheet_meaning.words import KINDS, MONTHS, NOTHING, UNITS, plain
from shopledger.sheets.grid import DAY, ERROR, NUMBER, TIME, Cell

MASS, VOLUME = ("mg", "g", "kg", "oz", "lb"), ("mL", "L", "fl oz")
FIGURE = r"[0-9][0-9.,'\u2019\u00a0\u2009\u202f ]*|[.,][0-9]+"
WITH_UNIT = re.compile(rf"({FIGURE})\s*([A-Za-z. ]*)")
# 12 x 340 g; 12 cans of 340 g; box of 12 x 340 g. Not `3 of 5 kg`, which is no three of them.
PACK = re.compile(
    rf"(?:[^\W\d_]+\.?\s+(?:(?:of|mit|von|de|con|with)\s+)?)?([0-9]{{1,3}})\s*"
    rf"(?:(?:[^\W\d_]+\s*)?[x×*@]|(?:[^\W\d_]+\s+)?(?:à|je|zu je|pro)|[^\W\d_]+\s+(?:a|de|of|zu|at|von)\s)\s*"
    rf"({FIGURE})\s*([A-Za-z. ]*)",
    re.IGNORECASE,
)
POUNDS_OUNCES = re.compile(r"[0-9]+ ?lbs?\.? ?[0-9.]+ ?oz\.?", re.IGNORECASE)
GAS = re.compile(
    r"(?<![A-Za-z0-9])(?:R|HFC|HFO|HCFC|CFC|HC)[- ]?(?:\d{2,4}|E170)[A-Za-z]{0,3}(?:\([EZ]\))?(?![A-Za-z0-9])", re.I
)
OIL = re.compile(
    r"(?<![A-Za-z])(PAG|POE|PVE|AB|Mineral)(?:[ -]*(?:oil|öl|oel|huile|ISO|VG))*[ -]*(\d{1,3})(?!\d)( YF)?", re.I
)
YEARS_BEFORE, YEARS_AFTER = 40, 59  # a year of two digits: within so many years of today


class Unread(Exception):
    """A cell that says nothing that can be taken; the message says what would be right."""


@dataclass(frozen=True)
class Figure:
    """A number as a text or a cell has it: readings, by decimal mark (`.` or `,`) where they differ, else the same.
    count: of equal pieces, where the cell says it (12 x 340 g). strange: what its number
    format shows that is no unit."""

    readings: dict[str, Decimal]
    unit: str = ""
    count: int | None = None
    doubted: str = ""  # the mark that can be read in two ways
    strange: str = ""

    @property
    def is_certain(self) -> bool:
        return not self.doubted


def is_nothing(cell: Cell) -> bool:
    """Blank, or a dash or word for nothing."""
    return cell.kind != ERROR and (not cell or (cell.kind != NUMBER and plain(cell.text) in NOTHING))


def figure(cell: Cell) -> Figure:
    """The number of a cell, with its unit if it has one. Raises Unread."""
    if cell.kind == ERROR:
        raise Unread(f"this is {cell.text}.")
    if cell.kind == NUMBER:
        unit = unit_of(cell.unit)
        return Figure({".": cell.number, ",": cell.number}, unit, strange="" if unit else cell.unit)
    if cell.kind in {DAY, TIME}:
        raise Unread(
            f"{cell.text} is a day or a time, and a figure stands here; the sheet may have turned it into one."
        )
    text = " ".join(cell.text.split())
    if POUNDS_OUNCES.fullmatch(text):
        grams = Decimal(_try(parse_mass, re.sub(r"(?i)lbs\b", "lb", text))) / 1000
        return Figure({".": grams, ",": grams}, "g")
    if text[:1] in MINUS and WITH_UNIT.fullmatch(text[1:].lstrip()):
        raise Unread(f"{text[:60]} is negative; nothing here can be less than nothing.")
    pack = PACK.fullmatch(text)
    if pack and pack[1] and int(pack[1]):
        return _figure(pack[2], pack[3], text, int(pack[1]))
    match = WITH_UNIT.fullmatch(text)
    if not match:
        raise Unread(f"{text[:60]!r} is no figure with a unit; write e.g. 340 g.")
    return _figure(match[1], match[2], text)


def _figure(number: str, unit: str, text: str, count: int | None = None) -> Figure:
    said = unit_of(unit)
    if unit.strip(" .") and not said:
        raise Unread(f"{unit.strip()[:20]!r} in {text[:60]!r} is no unit that is known; write e.g. g, kg, lb, oz, mL.")
    readings, doubted = {}, ""
    for mark, style in ((".", ENGLISH), (",", FRENCH)):
        try:
            readings[mark] = read_number(number.strip(), style)
        except Ambiguous as two:  # a mark and three digits: decimals, or thousands parted
            decimals, whole = two.readings
            own, other = (decimals, whole)
            doubted = "," if mark == "." else "."
            readings[mark] = other
            readings["," if mark == "." else "."] = own
            break
        except Refused as refused:
            raise Unread(refused.message) from None
    return Figure(readings, said, count, doubted)


def unit_of(text: str) -> str:
    return UNITS.get(plain(text), "")


def _try(parse, text: str) -> int:
    try:
        return parse(text)
    except Refused as refused:
        raise Unread(refused.message) from None


def quantity(number: Decimal, unit: str, *, oil: bool) -> int:
    """mg, or uL for an oil, exactly as the ledger reads it. Raises Unread."""
    if number < 0:
        raise Unread(f"{number} is negative; nothing here can be less than nothing.")
    try:
        text = f"{number:f}"
    except (ValueError, OverflowError):
        raise Unread("this number is absurd; check it.") from None
    if len(text) > 40:
        raise Unread("this number is absurd; check it.")
    whole, _, decimals = text.partition(".")
    # A point and no comma: nobody doubts it, whatever stands after it.
    return _try(parse_volume if oil else parse_mass, f"{whole}.{decimals} {unit}" if decimals else f"{whole} {unit}")


def said_g(amount: int, *, oil: bool) -> str:
    """An amount as a log has it: g, or mL of an oil, to the last digit."""
    value = f"{Decimal(amount) / 1000:f}"
    return f"{value.rstrip('0').rstrip('.') if '.' in value else value} {'mL' if oil else 'g'}"


# -- days ------------------------------------------------------------------------------------------

ISO = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ]+([0-9]{1,2}:[0-9]{2})(?::[0-9]{2})?)?")
NUMERIC = re.compile(
    r"([0-9]{1,2})\s?([./-])\s?([0-9]{1,2})\s?\2\s?([0-9]{4}|[0-9]{2})(?:[T ,]+([0-9]{1,2}:[0-9]{2})(?::[0-9]{2})?)?"
)
WORDED = re.compile(
    r"(?:[^0-9]*?\s)?([0-9]{1,2})(?:\.|st|nd|rd|th|er)?[\s.-]*(?:de |of )?([^\W0-9]+)\.?,?[\s.-]*(?:de |del )?"
    r"([0-9]{4}|[0-9]{2})"
)
NO_YEAR = re.compile(r"([0-9]{1,2})\s?([./])\s?([0-9]{1,2})\s?\.?")
WORDED_NO_YEAR = re.compile(r"([0-9]{1,2})(?:\.|st|nd|rd|th|er)?\s*(?:de |of )?([^\W0-9]{3,})\.?")
MONTH_FIRST = re.compile(r"([^\W0-9]+)\.?\s+([0-9]{1,2})(?:st|nd|rd|th)?,?\s+([0-9]{4})")
FIRST_SERIAL, LAST_SERIAL = 32_874, 58_440  # 1 January 1990 to 31 December 2059, as sheets count days
SERIAL_ZERO = dt.date(1899, 12, 30)


class Yearless(Unread):
    """A day that stands there without a year."""


@dataclass(frozen=True)
class Days:
    """What a cell may say: day_first, month_first where they differ, else the same day. serial: it is a bare number.
    dotted: its parts are parted by dots, which means that the day is first: common practice, no source."""

    day_first: dt.datetime | None
    month_first: dt.datetime | None
    serial: bool = False
    dotted: bool = False

    @property
    def is_certain(self) -> bool:
        return self.day_first == self.month_first and not self.serial


def days(cell: Cell, today: dt.date, year: int | None = None) -> Days:
    """year: of days that stand there without one. Raises Unread, Yearless."""
    if cell.kind == ERROR:
        raise Unread(f"this is {cell.text}.")
    if cell.kind == DAY:
        return Days(cell.when, cell.when)
    if cell.kind == NUMBER:
        if cell.number != int(cell.number) or not FIRST_SERIAL <= cell.number <= LAST_SERIAL:
            raise Unread(f"{cell.text[:30]} is no day; write it as 2026-03-02.")
        when = dt.datetime.combine(SERIAL_ZERO + dt.timedelta(int(cell.number)), dt.time.min)
        return Days(when, when, serial=True)
    text = " ".join(cell.text.split())
    if match := ISO.fullmatch(text):
        when = _day(match[1], match[2], match[3], match[4], today)
        return _both(when, when, text)
    if match := NUMERIC.fullmatch(text):
        one, other, said, time = match[1], match[3], match[4], match[5]
        both = _both(_day(said, other, one, time, today), _day(said, one, other, time, today), text)
        return replace(both, dotted=match[2] == ".")
    for match, day, month, of in ((WORDED.fullmatch(text), 1, 2, 3), (MONTH_FIRST.fullmatch(text), 2, 1, 3)):
        if match and (number := MONTHS.get(plain(match[month]))):
            when = _day(match[of], str(number), match[day], None, today)
            return _both(when, when, text)
    if re.fullmatch("[0-9]{5}", text) and FIRST_SERIAL <= int(text) <= LAST_SERIAL:
        when = dt.datetime.combine(SERIAL_ZERO + dt.timedelta(int(text)), dt.time.min)
        return Days(when, when, serial=True)
    if whole := _with_year(text, year):
        return days(Cell(whole, cell.kind), today)
    raise Unread(f"{text[:40]!r} is no day of the calendar; write it as 2026-03-02.")


def _with_year(text: str, year: int | None) -> str:
    """A day that has no year, with this one; blank for what is no such day. Raises Yearless where the year is not
    known."""
    match, worded = NO_YEAR.fullmatch(text), WORDED_NO_YEAR.fullmatch(text)
    if match and 1 <= min(int(match[1]), int(match[3])) <= 12 and max(int(match[1]), int(match[3])) <= 31:
        whole = f"{match[1]}{match[2]}{match[3]}{match[2]}{year}"
    elif worded and plain(worded[2]) in MONTHS:
        whole = f"{worded[1]} {worded[2]} {year}"
    else:
        return ""
    if year is None:
        raise Yearless(f"{text[:40]!r} has no year; write it as 2026-03-02.")
    return whole


def _both(day_first: dt.datetime | None, month_first: dt.datetime | None, text: str) -> Days:
    if day_first is None and month_first is None:
        raise Unread(f"{text[:40]!r} is no day of the calendar; write it as 2026-03-02.")
    return Days(day_first, month_first)


def _day(year: str, month: str, day: str, time: str | None, today: dt.date) -> dt.datetime | None:
    number = int(year)
    if len(year) == 2:
        number += 2000 if 2000 + number <= today.year + YEARS_AFTER - YEARS_BEFORE else 1900
    try:
        clock = dt.time.fromisoformat(time.zfill(5)) if time else dt.time.min
        return dt.datetime.combine(dt.date(number, int(month), int(day)), clock)
    except ValueError:
        return None


# -- gases and kinds -------------------------------------------------------------------------------


@lru_cache(maxsize=4096)
def gas(text: str) -> tuple[str, bool] | None:
    """The code of the one substance that a text names, and whether it is an oil; None where it names none for sure."""
    text = " ".join(text.split())
    for said in (*((text,) if text.isascii() else ()), *_named(text)):
        try:
            return substance(said)
        except UnknownSubstance:
            if meant := refrigerants.spelling_meant(said):
                return meant, False
    return None


def _named(text: str) -> list[str]:
    """The one gas or oil that stands in a longer text; nothing where several do."""
    found = {refrigerants.spelling_meant(said) or said for said in GAS.findall(text)}
    found |= {f"{family} {grade}{more.upper()}" for family, grade, more in OIL.findall(text)}
    return sorted(found) if len(found) == 1 else []


def gases() -> list[str]:
    """All that can be named, refrigerants first."""
    usual = [f"{family.code} {grade}" for family in oils.oil_families().values() for grade in family.grades]
    return [*refrigerants.refrigerants(), *usual]


def kind_words(text: str) -> str | None:
    """The kind that a text says: a code, blank for one of two that nobody can tell apart, None for none."""
    words = plain(text)
    if words in KINDS:
        return KINDS[words]
    parts = words.split()
    runs = {" ".join(parts[at : at + size]) for size in (3, 2, 1) for at in range(len(parts) + 1 - size)}
    said = {KINDS[run] for run in runs if run in KINDS}
    certain = said - {""}
    if len(certain) == 1:
        return certain.pop()
    return "" if said == {""} else None
