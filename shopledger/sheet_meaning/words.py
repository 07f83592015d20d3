"""The words that stand over and in sheets, by `words.toml`. Pure."""

import re
import tomllib
import unicodedata
from pathlib import Path

NO_MARKS = re.compile(r"[^0-9a-z%#]+")
FOLDED = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "№": "no"})


def plain(text: str) -> str:
    """A text as it is compared: small letters, no accents, one space for whatever is neither letter nor digit."""
    apart = unicodedata.normalize("NFKD", text.casefold().translate(FOLDED))
    return NO_MARKS.sub(" ", "".join(c for c in apart if not unicodedata.combining(c))).strip()


def _listed(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word.strip() for word in text.replace("\n", " ").split(",") if word.strip()))


def _turned(table: dict[str, str]) -> dict[str, str]:
    """By each word what it says."""
    return {word: ("" if said == "open" else said) for said, words in table.items() for word in _listed(words)}


_TOLD = tomllib.loads(Path(__file__).with_name("words.toml").read_text(encoding="utf-8"))
_LISTS = {name: _listed(words) for name, words in _TOLD["lists"].items()}

HEADS: dict[str, tuple[str, ...]] = {field: _listed(words) for field, words in _TOLD["heads"].items()}
NEEDLESS = _LISTS["needless"]  # over columns that no kind of sheet needs
OPEN_WEIGHT = _LISTS["open_weight"]  # a weight, but not which: asked where nothing else tells
OPEN_AMOUNT = _LISTS["open_amount"]  # how much, or how many
TOTALS = frozenset(_LISTS["totals"])
ENDLESS = frozenset(_LISTS["endless"])  # instead of the day on which a certificate ends
NOTHING = frozenset({"", *_LISTS["nothing"]})
EACH, ALL = _LISTS["each"], _LISTS["all"]
KINDS = _turned(_TOLD["kinds"])  # blank: a disposable or a refillable one
GRADES = _turned(_TOLD["grades"])
ROLES = _turned(_TOLD["roles"])
UNITS = _turned(_TOLD["units"])
MONTHS = {word: int(number) for word, number in _turned(_TOLD["months"]).items()}
