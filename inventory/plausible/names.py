"""Whether a name that is new may be one that is known, written another way. Pure: no Django here.

Two names that differ only in capitals, accents, spaces or signs are one (`Acme Gas` and `ACME-GAS`); two of which a
letter or two differ may be. How alike they must be is common practice, no source.
"""

import unicodedata
from collections.abc import Iterable

from rapidfuzz import fuzz, process

from inventory.plausible.expected import PRACTICE
from inventory.plausible.judging import ASK, Answer, Reading

ALIKE = 88  # per cent of letters that two names share, in their order
SHORT = 5  # letters: of a shorter name every other one is alike


def plain_name(name: str) -> str:
    """A name without capitals, accents, spaces and signs."""
    parts = unicodedata.normalize("NFKD", name.casefold())
    return "".join(one for one in parts if one.isalnum())


def another_way(typed: str, known: Iterable[str], what: str) -> Answer | None:
    """What is to be asked of a name as it was typed; None where it is known, or like none that is. what: the word for
    such a thing, e.g. `supplier`."""
    names = list(known)
    if typed in names:
        return None
    plain = plain_name(typed)
    found = next((one for one in names if plain and plain_name(one) == plain), None)
    why = f"The {what} {found} is known; this differs only in how it is written."
    if found is None and len(plain) >= SHORT:
        best = process.extractOne(plain, [plain_name(one) for one in names], scorer=fuzz.ratio, score_cutoff=ALIKE)
        if best is not None and _digits(names[best[2]]) == _digits(typed):
            found = names[best[2]]
            why = f"The {what} {found} is known, and this one would be new."
    if found is None:
        return None
    as_typed = Reading(typed, typed)
    return Answer(ASK, as_typed, (Reading(found, found, "name"), as_typed), why, PRACTICE)


def _digits(name: str) -> str:
    """What parts `Van 1` from `Van 2`."""
    return "".join(one for one in name if one.isdigit())
