"""Looking up a substance by its code, and saying which one may have been meant."""

import difflib
import re
from collections.abc import Iterable, Mapping

_SHOWN = 40
_PREFIX = re.compile(r"^(?:hcfo|hcfc|hfc|hfo|cfc|hc|r)(?=e?[0-9])")


class UnknownSubstance(LookupError):
    """No refrigerant and no oil has this code. The message says what is near and how a code is written."""


def shown(code: str) -> str:
    """What was typed, in quotes, cut to a length that fits a sentence."""
    text = str(code)
    return f'"{text}"' if len(text) <= _SHOWN else f'"{text[:_SHOWN]}…"'


def folded(code: str) -> str:
    """A code without case, spaces, punctuation and family letters: R-134a and HFC 134A are both 134a."""
    return _PREFIX.sub("", re.sub(r"[^0-9a-z]", "", str(code).casefold()))


def meant(code: str, names: Mapping[str, Iterable[str]]) -> str | None:
    """The one canonical code that this is another spelling of, or None.

    names: canonical code -> other names of the same substance.
    """
    wanted = folded(code)
    if not wanted:
        return None
    found = {
        canonical
        for canonical, others in names.items()
        if wanted in {folded(canonical), *(folded(other) for other in others if other)}
    }
    return found.pop() if len(found) == 1 else None


def near(code: str, canonical: Iterable[str], most: int = 3) -> list[str]:
    """The canonical codes that look most like this one, best first; none where nothing is near."""
    by_folded = {folded(name): name for name in canonical}
    close = difflib.get_close_matches(folded(code), by_folded, n=most, cutoff=0.6)
    return [by_folded[key] for key in close]


def listed(names: Iterable[str]) -> str:
    """Names in a sentence: "a", "a or b", "a, b or c"."""
    names = list(names)
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} or {names[-1]}"
