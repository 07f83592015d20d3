"""The one reader of numbers as people, files and scales write them. Exact: a Decimal, never a float. No Django import.

Where two people could read two numbers, none is read: the refusal names both. What each style takes is the table of
tests/inventory/test_numbers.py.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal

from inventory.text.refusal import Refused

TEXT_LIMIT = 60  # characters; the longest sensible number with its unit is a third of that


@dataclass(frozen=True)
class Style:
    """How somebody writes numbers. mark: the decimal mark in what is shown to them. doubted: the mark that, before
    three digits, can as well part the thousands. grouped: whether thousands may be parted at all."""

    name: str
    mark: str
    doubted: str
    grouped: bool = True


ENGLISH = Style("English", ".", doubted=",")  # a person or a file in English, the CSV of a log, the API
GERMAN = Style("German", ",", doubted=".")
SPANISH = Style("Spanish", ",", doubted=".")
FRENCH = Style("French", ",", doubted=".")
SCALE = Style("a scale", ".", doubted="", grouped=False)  # no scale parts thousands: each mark is its decimal one


class Ambiguous(Refused):
    """A number that can be read in two ways. readings: both, the one with decimals first."""

    def __init__(self, message: str, readings: tuple[Decimal, Decimal]):
        super().__init__(message)
        self.readings = readings


def read_number(text: str, style: Style = ENGLISH, *, signed: bool = False) -> Decimal:
    """The number that the text says, which is a number alone.

    signed: a minus is taken as well. Raises Refused, or Ambiguous, with a sentence that says what would be right.
    """
    plain = plain_text(text, "number", example(style))
    negative, body = sign_and_body(plain, "number", example(style), signed=signed)
    if not NUMBER.fullmatch(body):
        raise Refused(_no_number(body, plain, style))
    value = exact_number_of(body, style, plain=plain)  # minus a Decimal would round it to the context's digits
    return value.copy_negate() if negative else value


def read_with_unit(
    text: str, style: Style = ENGLISH, *, what: str, right: str, signed: bool = False
) -> tuple[Decimal, str]:
    """A number and what follows it, as written, from e.g. `48 bar`; a unit of "" where nothing does.

    what: the word for such a reading; right: an example of it. Raises Refused.
    """
    plain = plain_text(text, what, right)
    negative, body = sign_and_body(plain, what, right, signed=signed)
    number = NUMBER.match(body)
    if not number:
        raise Refused(f'"{plain}" does not begin with a number. Type a number, then its unit, e.g. {right}.')
    unit = body[number.end() :].strip()
    if unit[:1] in MARKS:
        raise Refused(_no_digit_after(unit[0], plain, f"and write the unit, e.g. {right}"))
    value = exact_number_of(number.group(), style, plain=plain, unit=unit)
    return (value.copy_negate() if negative else value), unit


def example(style: Style) -> str:
    """A number with decimals as somebody of that style writes it."""
    return f"12{style.mark}5"


def written(value: Decimal, style: Style = ENGLISH) -> str:
    """The shortest text that is read as this number again, in the same style."""
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text in {"-0", ""}:
        text = "0"
    whole, _, decimals = text.partition(".")
    if not decimals:
        return whole
    # The style's own mark is never the doubted one, so that three digits after it are read as decimals.
    return f"{whole}{style.mark}{decimals}"


# What every number is, alone or before a unit

NUMBER = re.compile(r"[.,]?[0-9](?:[0-9.,'\u2019_ ]*[0-9])?")
MARKS = {".": "point", ",": "comma"}
MINUS = "-\u2212\u2013"  # hyphen, minus sign, en dash: all are typed for a minus
_NOT_FINITE = re.compile(r"(?:nan|inf|infinity)\b|\u221e", re.IGNORECASE)
_EXPONENT = re.compile(r"[0-9] ?[eE] ?[+-]? ?[0-9]")
_FRACTION = re.compile(r"[0-9] ?[/\u2044] ?[0-9]")


def plain_text(text: str, what: str, right: str) -> str:
    """The text with every kind of space as one ordinary space, or Refused for what cannot hold a number.

    what: the word for what is read, e.g. `quantity`; right: an example of it.
    """
    if not isinstance(text, str):
        raise TypeError(f"a {what} is read from text, not from {type(text).__name__}")
    if len(text) > TEXT_LIMIT:
        raise Refused(
            f"A {what} has at most {TEXT_LIMIT} characters and this has {len(text)}. {_type(what)}, e.g. {right}."
        )
    if not (text.isascii() and text.isprintable()):  # nearly all that is read is, and nothing in it cannot be seen
        _refuse_unseen(text, what, right)
    plain = " ".join(text.split())
    if not plain:
        raise Refused(f"The {what} is blank. Type a {what}, e.g. {right}.")
    if not plain.isascii() and any(c.isnumeric() and not c.isascii() for c in plain):
        raise Refused(
            f'"{plain}" holds a figure other than the digits 0 to 9. Write plain digits and a decimal point, '
            f"e.g. {right}, or 0.5 for a half."
        )
    return plain


def _refuse_unseen(text: str, what: str, right: str) -> None:
    for place, character in enumerate(text, start=1):
        category = unicodedata.category(character)
        if category[0] == "C" or category in {"Zl", "Zp"}:
            raise Refused(
                f"Character {place} of the {what} is U+{ord(character):04X}, which cannot be seen. "
                f"Type the {what} anew, e.g. {right}."
            )


def sign_and_body(plain: str, what: str, right: str, *, signed: bool) -> tuple[bool, str]:
    """Whether it is negative, and what stands after the sign. Raises Refused for what is written as no plain number."""
    negative = plain[0] in MINUS
    body = plain[1:].lstrip() if negative or plain[0] == "+" else plain
    if _NOT_FINITE.match(body):
        raise Refused(f'"{plain}" is not a finite number. {_type(what)}, e.g. {right}.')
    if negative and not signed:
        raise Refused(f'"{plain}" is negative, and this {what} cannot be. Type it without a minus, e.g. {right}.')
    if _EXPONENT.search(body):
        raise Refused(f'"{plain}" is written with an exponent. Write the number out, e.g. {right}.')
    if _FRACTION.search(body):
        also = "" if what == "number" else ", with its unit"
        raise Refused(f'"{plain}" holds a fraction. Write it as a decimal, e.g. 0.5 for 1/2{also}.')
    return negative, body


def exact_number_of(number: str, style: Style, *, plain: str, unit: str = "") -> Decimal:
    """The number that digits and marks between them say: what NUMBER matches.

    plain: the whole text, for the sentence; unit: what is written after a number in it. Raises Refused, Ambiguous.
    """
    after = f" {unit}" if unit else ""
    marks = [character for character in number if not character.isdigit()]
    if not marks:
        return Decimal(number)
    if len(marks) == 1 and marks[0] in MARKS:
        return _with_one_mark(number, marks[0], style, plain, after)
    parted = _GROUPED.fullmatch(number)
    if parted is None or not style.grouped:
        raise Refused(_does_not_fit(number, marks, style, plain, after))
    return _ungrouped(parted)


def _with_one_mark(number: str, mark: str, style: Style, plain: str, after: str) -> Decimal:
    whole, _, decimals = number.partition(mark)
    value = Decimal(f"{whole or '0'}.{decimals}")
    if mark != style.doubted or len(decimals) != 3:
        return value
    other = Decimal(whole + decimals)
    if value == other:  # nothing, either way
        return value
    one, two = (f"{written(reading, style)}{after}" for reading in (value, other))
    said = f'"{plain}"' if plain == number else f'In "{plain}" the number {number}'
    raise Ambiguous(f"{said} can be {one} or {two}: write {one} or {two}, whichever is meant.", (value, other))


# Thousands in groups of three, all parted alike; at their end a decimal mark that is not what parts them.
_GROUPED = re.compile(
    r"(?P<groups>[1-9][0-9]{0,2}(?P<part>[.,' \u2019])[0-9]{3}(?:(?P=part)[0-9]{3})*)"
    r"(?:(?!(?P=part))[.,](?P<decimals>[0-9]+))?"
)


def _ungrouped(parted: re.Match) -> Decimal:
    digits = "".join(character for character in parted["groups"] if character.isdigit())
    return Decimal(f"{digits}.{parted['decimals']}" if parted["decimals"] else digits)


def _does_not_fit(number: str, marks: list[str], style: Style, plain: str, after: str) -> str:
    said = f'"{plain}" holds' if plain == number else f'In "{plain}" the number {number} holds'
    parted = _GROUPED.fullmatch(number.replace("_", " "))
    meant = ""
    if parted:
        value = f"{written(_ungrouped(parted), style)}{after}"
        meant = f"; if {value} is meant, write {value}"
    groups = ", thousands in groups of three or together" if style.grouped else ""
    return (
        f"{said} separators between its digits that leave its value open. "
        f"Write it with digits and at most one decimal {MARKS[style.mark]}{groups}{meant}."
    )


def _no_number(body: str, plain: str, style: Style) -> str:
    number = NUMBER.match(body)
    rest = body[number.end() :].strip() if number else ""
    if rest and rest in MARKS:
        return _no_digit_after(rest, plain, f"e.g. {example(style)}")
    if number:
        return f'"{plain}" holds more than a number. Write the number alone, e.g. {example(style)}.'
    return f'"{plain}" is no number. Write one with digits, e.g. {example(style)}.'


def _no_digit_after(mark: str, plain: str, end: str) -> str:
    return f'In "{plain}" no digit follows the decimal {MARKS[mark]}. Leave it out or add the digits, {end}.'


def _type(what: str) -> str:
    return "Type a number" if what == "number" else "Type a number and its unit"
