"""What a rulebook answers to one question about one thing, with all that is needed to see why. Pure: no Django here.

How it is opened, on a page and in the footnote of a PDF, is in `explaining`. What it says is kept with jobs and stands
in files: it calls things by their codes, and names nobody.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.reference.rule import PRACTICE, Rule

# What a verdict can be. Nothing is ever a breach because something was not said: that is "open".
ANSWERS = {
    "free": "no rule asks anything",
    "met": "as the rule asks",
    "confirm": "allowed here; to be confirmed with the authority",
    "due": "to be done by a day",
    "breach": "not as the rule asks",
    "refused": "not as the rule asks, and refused",
    "open": "cannot be judged",
}


@dataclass(frozen=True)
class Figure:
    """One thing that a verdict was worked out from, in words: `full charge`, `22 lb`."""

    label: str
    value: str


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """answer: of ANSWERS. said: one whole sentence. rules: what it leans on, the first before the others; figures: what
    it was worked out from. readings: where the text allows more than one, which was taken. changes: what would change
    it, each a whole sentence. ask: what must be said before it can be judged, each in words that go on after "say".
    by: the last day, where something is due."""

    answer: str
    said: str
    rules: tuple[Rule, ...] = ()
    figures: tuple[Figure, ...] = ()
    readings: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()
    by: dt.date | None = None

    def __post_init__(self) -> None:
        if self.answer not in ANSWERS:
            raise ValueError(f"{self.answer!r} is no answer: write {', '.join(ANSWERS)}.")
        if self.is_open != bool(self.ask):
            raise ValueError("A verdict is open where something must be said first, and only there.")

    @property
    def is_open(self) -> bool:
        """Whether it cannot be judged before something is said."""
        return self.answer == "open"

    @property
    def is_breach(self) -> bool:
        return self.answer in {"breach", "refused"}

    @property
    def is_refused(self) -> bool:
        return self.answer == "refused"

    @property
    def cited(self) -> str:
        """Where it is written: each rule once."""
        return "; ".join(dict.fromkeys(rule.cited() for rule in self.rules))

    @property
    def to_be_confirmed(self) -> bool:
        """Whether any rule that it leans on was not read in the text itself."""
        return any(rule.to_be_confirmed and rule.text.key != PRACTICE for rule in self.rules)

    def late_on(self, day: dt.date) -> bool:
        return self.by is not None and self.by < day


def cannot_be_judged(what: str, asks: Iterable[str], rules: tuple[Rule, ...], **more) -> Verdict:
    """A verdict on what depends on things that nobody has said. what: the thing, as a sentence begins."""
    ask = tuple(dict.fromkeys(asks))
    return Verdict(
        answer="open", said=f"{what} cannot be judged: say {' and '.join(ask)}.", rules=rules, ask=ask, **more
    )
