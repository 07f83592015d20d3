"""What the head of a column says: its field, its unit, whether it is of each piece or of all together. Pure."""

import re
from dataclasses import dataclass
from functools import cache

from rapidfuzz import fuzz, process

from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS
from shopledger.sheet_meaning.words import ALL, EACH, HEADS, NEEDLESS, OPEN_AMOUNT, OPEN_WEIGHT, UNITS, plain

SURE, LIKELY = 93, 84  # of 100, as RapidFuzz measures likeness: found by the generator's first forty seeds
WEIGHT, AMOUNT, NEEDED_BY_NONE = "?weight", "?amount", "-"  # what no field is
BRACKETED = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
OF_EACH = re.compile(rf"\b(?:{'|'.join(EACH)})\b(?: [a-z]+)?")
OF_ALL = re.compile(rf"\b(?:{'|'.join(ALL)})\b")
LONGEST = 60  # characters of a head; more is a sentence


@dataclass(frozen=True)
class Head:
    """text: as it stands. field: of HEADS, or one of the above; blank where nobody knows. sure: how sure, of 100.
    each: True of each piece, False of all of a row together, None where it does not say."""

    text: str
    field: str = ""
    sure: int = 0
    unit: str = ""
    each: bool | None = None

    @property
    def is_known(self) -> bool:
        return self.sure >= LIKELY


def unit_said(text: str) -> str:
    """The unit that a text is, as of UNITS; blank where it is none."""
    return UNITS.get(plain(text), "")


@cache
def read_head(text: str, kind: str = "") -> Head:
    """kind: of sheet, whose fields alone it may be; blank for those of all."""
    if not text or len(text) > LONGEST:
        return Head(text)
    unit, left = _without_unit(text)
    words = plain(left)
    each = None
    if OF_EACH.search(words) and words not in _words(kind):
        each, words = True, plain(OF_EACH.sub(" ", words))
    elif OF_ALL.search(words) and words not in _words(kind):
        each, words = False, plain(OF_ALL.sub(" ", words))
    if not words:
        return Head(text, WEIGHT if unit else "", 100 if unit else 0, unit, each)
    field, sure = _field(words, kind)
    return Head(text, field, sure, unit, each)


def fields_of(kind: str) -> tuple[str, ...]:
    return SHEET_KINDS[kind].fields if kind else tuple(HEADS)


@cache
def _words(kind: str) -> dict[str, str]:
    """By each word the field that it says."""
    found = dict.fromkeys(NEEDLESS, NEEDED_BY_NONE)
    found |= dict.fromkeys(OPEN_AMOUNT, AMOUNT) | dict.fromkeys(OPEN_WEIGHT, WEIGHT)
    for field in reversed(fields_of(kind)):  # the first named has the word, where two have it
        found |= dict.fromkeys(HEADS.get(field, ()), field)
    return found


def fields_said(text: str, kind: str) -> set[str]:
    """Every field of the kind over whose column this very text may stand."""
    words = plain(_without_unit(text)[1])
    return {field for field in fields_of(kind) if words in HEADS.get(field, ())}


def _field(words: str, kind: str) -> tuple[str, int]:
    known = _words(kind)
    if words in known:
        return known[words], 100
    if len(words) < 4:  # a letter more or less makes another word of it
        return "", 0
    found = process.extractOne(words, known.keys(), scorer=fuzz.ratio)
    turned = process.extractOne(words, known.keys(), scorer=fuzz.token_sort_ratio)
    best = max((one for one in (found, turned) if one), key=lambda one: one[1])
    return known[best[0]], min(99, int(best[1]))


def _without_unit(text: str) -> tuple[str, str]:
    """The unit, and what is left of the head."""
    for match in BRACKETED.finditer(text):
        said = unit_said(match[1]) or unit_said(re.sub(r"(?i)^(?:in|en)\b", "", match[1].strip()))
        if said:
            return said, f"{text[: match.start()]} {text[match.end() :]}"
    text = BRACKETED.sub(lambda match: f" {match[1]} ", text)
    parts = re.split(r"\s*[/,:]\s*|\s+(?:in|en)\s+|\s+", text.strip())
    if len(parts) > 1:
        said = unit_said(" ".join(parts[-2:])) if len(parts) > 2 else ""
        if said:
            return said, " ".join(parts[:-2])
        if (said := unit_said(parts[-1])) and plain(parts[-1]) != "l":
            return said, " ".join(parts[:-1])
        if said := unit_said(parts[0]):
            return said, " ".join(parts[1:])
    if said := unit_said(text):
        return said, ""
    return "", text
