"""A line of a delivery in one go, as the trade writes it: `24 can R-134a 340 g 9,80`. Pure: no Django here.

In any order, but for the count, which comes first:

    count        a whole number at the beginning, also `24x`; one, where there is none
    kind         a word of it, or its beginning: `can`, `refill`, `disp`
    substance    as it is written or near it: `R-134a`, `134a`, `PAG 46`; `134`, where the shop has one gas so called
    net each     a number with its unit: `340 g`, `30lb`, `250 mL`
    price each   after `at` or `@`, with decimals, or alone behind a net: `9.80`, `9,80`, `@ 12`
    deposit each after `deposit` or `dep`: `deposit 60`
    grade        `virgin`, `recycled`, `reclaimed`, `recovered`
    place        one that is known: `Store`

What is left out is as it came last time (`came.py`). What can be read in two ways is refused, with both.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.measures.units import MASS_UNITS, VOLUME_UNITS
from inventory.reference.kinds import KINDS
from inventory.reference.oils import looks_like_oil
from inventory.reference.refrigerants import refrigerants, spelling_meant
from inventory.reference.substances import UnknownSubstance, substance
from inventory.text.refusal import Refused

COUNT = re.compile(r"(\d{1,3})\s*[x×*]?\s+(?=\S)|(\d{1,3})[x×*](?=\S)")
NUMBER = r"\d[\d.,'\u2019]*"
UNITS = "|".join(sorted((re.escape(one) for one in {*MASS_UNITS, *VOLUME_UNITS}), key=len, reverse=True))
AMOUNT = re.compile(rf"(?<!\S)({NUMBER}\s?(?:{UNITS})(?:\s{NUMBER}\s?oz)?)\.?(?!\S)", re.IGNORECASE)
PRICE = re.compile(rf"(?<!\S)(?:at|@)\s?({NUMBER})(?!\S)", re.IGNORECASE)
DEPOSIT = re.compile(rf"(?<!\S)(?:deposit|dep\.?)\s?({NUMBER})(?!\S)", re.IGNORECASE)
ALONE = re.compile(NUMBER)
LONGEST = 200  # characters
EXAMPLE = "24 can R-134a 340 g 9.80"


@dataclass(frozen=True)
class TypedLine:
    """count: of equal containers. kinds: that may be meant, none where none was named. substance: its code. net, price,
    deposit: as they were typed, blank where nothing was. grade, place: blank where none was named."""

    count: int
    kinds: tuple[str, ...]
    substance: str
    is_oil: bool
    net: str = ""
    price: str = ""
    grade: str = ""
    place: str = ""
    deposit: str = ""


def read_line(text: str, *, grades: Iterable[str], places: Iterable[str], here: Iterable[str]) -> TypedLine:
    """What a line says. here: the substances that the shop has had. Raises Refused."""
    rest = " ".join(text.replace("\t", " ").split())
    if not rest:
        raise Refused(f"Type a line as the paper has it, e.g. {EXAMPLE}.")
    if len(rest) > LONGEST:
        raise Refused(f"This is {len(rest)} characters long; a line has {LONGEST} at most.")
    found = COUNT.match(rest)
    count = int(found[1] or found[2]) if found else 1
    rest = rest[found.end() :] if found else rest
    if not 1 <= count <= 500:
        raise Refused("A line is of 1 to 500 equal containers.")
    net, rest = _taken(AMOUNT, rest, "amounts", "the net of one container")
    deposit, rest = _taken(DEPOSIT, rest, "deposits", "the deposit on one container")
    price, rest = _taken(PRICE, rest, "prices", "the price of one container")
    words = rest.split()
    grade = _word(words, grades)
    place = _word(words, places)
    kinds = _kinds(words)
    code, is_oil = _substance(words, frozenset(here))
    if not price and len(words) == 1 and ALONE.fullmatch(words[0]) and (net or not words[0].isdigit()):
        price = words.pop()
    if words:
        raise Refused(_not_understood(words))
    return TypedLine(count, kinds, code, is_oil, net, price, grade, place, deposit)


def _taken(form: re.Pattern[str], text: str, what: str, meant: str) -> tuple[str, str]:
    """The one part of this form, and the text without it."""
    found = form.findall(text)
    if len(found) > 1:
        raise Refused(f"{' and '.join(found)} are two {what}; write {meant} alone.")
    return (found[0] if found else ""), form.sub(" ", text)


def _word(words: list[str], known: Iterable[str]) -> str:
    """The word among these that is known, taken out of them; one of several words as well."""
    for one in sorted(known, key=len, reverse=True):
        parts = one.casefold().split()
        for start in range(len(words) - len(parts) + 1):
            if parts and [word.casefold() for word in words[start : start + len(parts)]] == parts:
                del words[start : start + len(parts)]
                return one
    return ""


def _substance(words: list[str], here: frozenset[str]) -> tuple[str, bool]:
    """The substance among these words, taken out of them. A bare number is one only where no word is: `32`."""
    spots = [(start, 2) for start in range(len(words) - 1)] + [(start, 1) for start in range(len(words))]
    spots.sort(key=lambda spot: words[spot[0]].isdigit() or ALONE.fullmatch(words[spot[0]]) is not None)
    for start, length in spots:
        said = " ".join(words[start : start + length])
        code = _called(said, length)
        if code:
            del words[start : start + length]
            return substance(code)
    for start, word in enumerate(words):
        near = sorted(one for one in here if _plain(one).removeprefix("r").startswith(_plain(word).removeprefix("r")))
        if near and any(letter.isdigit() for letter in word):
            if len(near) > 1:
                raise Refused(f"{word} can be {' or '.join(near)}: write the one that is meant.")
            del words[start]
            return substance(near[0])
    raise Refused(f"Name what is in it, e.g. {EXAMPLE}." if not words else _not_understood(words))


def _called(said: str, length: int) -> str:
    """The code of a substance that is written so; blank for what is none."""
    if said in refrigerants():
        return said
    if looks_like_oil(said):
        first = said.split()[0]
        if length == 2 and looks_like_oil(first):  # what stands behind is another figure: PAG46 4.50
            return ""
        try:
            return substance(said)[0]
        except UnknownSubstance:
            return ""
    return (spelling_meant(said) or "") if length == 1 or said[0].isalpha() else ""


def _plain(text: str) -> str:
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def _kinds(words: list[str]) -> tuple[str, ...]:
    """The kinds that one of these words begins or is a part of, that word taken out."""
    for start, word in enumerate(words):
        typed = word.casefold().strip(".,")
        if len(typed) < 2 or not typed.isalpha():
            continue
        exact = [one.code for one in KINDS.values() if typed in {one.code, one.prefix.casefold()}]
        begun = [one.code for one in KINDS.values() if one.code.startswith(typed)]
        among = [one.code for one in KINDS.values() if any(part.startswith(typed) for part in _parts(one.label))]
        found = exact or begun or among
        if found:
            del words[start]
            return tuple(found)
    return ()


def _parts(label: str) -> list[str]:
    """The words of a label before what stands in brackets."""
    return re.findall(r"[a-z]+", label.partition("(")[0].casefold())


def _not_understood(words: list[str]) -> str:
    said = " ".join(word for word in words if not ALONE.fullmatch(word))
    if not said and ALONE.fullmatch(words[0]):
        return f"Is {words[0]} a weight or a price? Write {words[0]} g or {words[0]} kg, or @ {words[0]} for a price."
    return f'"{said}" is not understood. Write e.g. {EXAMPLE}.'
