"""Names spelled in several ways: what is surely the same is, what may be is asked. Pure."""

import contextlib
import re
import unicodedata
from collections import Counter

from rapidfuzz import fuzz

from shopledger.sheet_meaning.asking import Asking, Pending

ALIKE = 86  # of 100, from which two names may be one: found by the generator's first forty seeds
SAID = {"supplier": "supplier", "customer": "customer", "location": "place"}


def bare_name(name: str) -> str:
    """A name without case, marks and spaces. Accents stay: a u with and without one may be two people's."""
    bare = "".join(c for c in unicodedata.normalize("NFKC", name).casefold() if c.isalnum())
    return bare or name


def same_names(
    field: str, counted: Counter, known: tuple[str, ...], places: dict[str, str], asking: Asking
) -> dict[str, str]:
    """By each spelling in the sheet the name that is meant: as the ledger has it, else as it stands most often with
    capital letters. Two
    that differ in case, marks and spaces alone are one; two that are merely alike are asked about."""
    chosen: dict[str, str] = {}  # bare -> name
    for name in known:
        chosen.setdefault(bare_name(name), name)
    ours = set(chosen)
    for name, _count in sorted(counted.items(), key=lambda item: (item[0] == item[0].lower(), -item[1], item[0])):
        chosen.setdefault(bare_name(name), name)
    strange = [key for key in dict.fromkeys(bare_name(name) for name in counted) if key not in ours]
    weight = Counter()
    for name, count in counted.items():
        weight[bare_name(name)] += count
    strange.sort(key=lambda key: (weight[key], key))  # the rarer spelling is the mistaken one
    meant: dict[str, str] = {}
    apart: set[frozenset[str]] = set()  # those of which somebody said that they are two
    for key in strange:
        left = [one for one in chosen if one != key and one not in meant and frozenset((key, one)) not in apart]
        other = _like(key, left)
        if other is None:
            continue
        one, two = chosen[key], chosen[other]
        said = f"Is {one} the same {SAID.get(field, field)} as {two}?"
        choices = (("yes", f"yes, it is {two}"), ("no", f"no, {one} is another"))
        answer = "yes"  # as long as nobody answered; an open question keeps all from loading
        with contextlib.suppress(Pending):
            answer = asking.ask(f"same:{field}:{key}:{other}", said, choices, places.get(one, ""))
        if answer == "yes":
            meant[key] = other
        else:
            apart.add(frozenset((key, other)))
    final = {}
    for name in counted:
        key = bare_name(name)
        while key in meant:
            key = meant[key]
        final[name] = chosen[key]
    return final


def _like(key: str, others: list[str]) -> str | None:
    """The most alike, where it may be the same: numbers in a name tell two apart."""
    best, found = ALIKE, None
    digits = re.sub(r"\D", "", key)
    for other in others:
        if re.sub(r"\D", "", other) != digits or min(len(key), len(other)) < 4:
            continue
        ratio = fuzz.ratio(key, other)
        if ratio >= best:
            best, found = ratio, other
    return found
