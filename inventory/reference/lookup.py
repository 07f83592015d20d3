"""Looking up a substance by its code, and saying which one may have been meant."""

import difflib
import os
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
    """The canonical codes that look most like this one, best first; none where nothing is near. Of those that are as
    near, such as R-134a and R-142b to R-134b, the ones that begin alike come first."""
    wanted, by_folded = folded(code), {folded(name): name for name in canonical}

    def nearness(key: str) -> tuple[float, int]:
        alike = difflib.SequenceMatcher(None, key, wanted).ratio()
        return alike, len(os.path.commonprefix([key, wanted]))

    close = difflib.get_close_matches(wanted, by_folded, n=len(by_folded) or 1, cutoff=0.6)
    return [by_folded[key] for key in sorted(close, key=nearness, reverse=True)[:most]]


def listed(names: Iterable[str]) -> str:
    """Names in a sentence: "a", "a or b", "a, b or c"."""
    names = list(names)
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} or {names[-1]}"
