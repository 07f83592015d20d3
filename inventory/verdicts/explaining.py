"""A verdict opened: all of it as text, with its rules in our words. Pure: no Django here.

A page and the footnote of a PDF are drawn from this, and a signed job keeps it, so that its sheet says for good what
was said when it was signed, whatever the rulebook, the program and its words become.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace

from inventory.measures.days import said_days
from inventory.reference.rule import PRACTICE, Rule
from inventory.reference.wording import said
from inventory.verdicts.verdict import Verdict

Pairs = tuple[tuple[str, str], ...]

# Each answer in a word, and how its badge looks.
WORDS = {
    "free": ("no rule", "idle"),
    "met": ("as asked", "good"),
    "confirm": ("to be confirmed", "warn"),
    "due": ("due", "warn"),
    "breach": ("not as asked", "bad"),
    "refused": ("refused", "bad"),
    "open": ("cannot be judged", "warn"),
}
UNREAD = {"answer", "grounds", "confirm"}  # no sentences
CONFIRM = "to be confirmed with the authority"


@dataclass(frozen=True)
class Ground:
    """One rule of a verdict. cited: its text and the place in it; sentence: its own, if it has one; words: label and
    value of all else that it says; applies: the days on which it does, blank where it always does; known: how well it
    is known; read_on: the day its text was read, blank where it was not; confirm: to be, with the authority."""

    cited: str
    sentence: str = ""
    words: Pairs = ()
    applies: str = ""
    known: str = ""
    read_on: str = ""
    note: str = ""
    confirm: bool = False


@dataclass(frozen=True)
class Explained:
    """A verdict opened. answer: a key of ANSWERS; said: its sentence; figures: what it was worked out from, label and
    value; readings, changes, ask: as in a verdict."""

    answer: str
    said: str
    grounds: tuple[Ground, ...] = ()
    figures: Pairs = ()
    readings: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        """The answer in a word."""
        return WORDS[self.answer][0]

    @property
    def look(self) -> str:
        """How the badge of the answer looks."""
        return WORDS[self.answer][1]

    @property
    def opens(self) -> bool:
        """Whether there is more to it than its sentence."""
        return any((self.grounds, self.figures, self.readings, self.changes, self.ask))

    @property
    def kept(self) -> dict[str, object]:
        """What JSON keeps of it: what is blank is left out."""
        return {**_kept(self), **({"grounds": [_kept(one) for one in self.grounds]} if self.grounds else {})}


def explained(verdict: Verdict) -> Explained:
    """A verdict with its rules in words, each once."""
    return Explained(
        verdict.answer,
        verdict.said,
        tuple(_ground(rule) for rule in dict.fromkeys(verdict.rules)),
        tuple((one.label, one.value) for one in verdict.figures),
        verdict.readings,
        verdict.changes,
        verdict.ask,
    )


def revived(kept: Mapping[str, object]) -> Explained:
    """What was kept of a verdict, as it was."""
    grounds = tuple(Ground(**_tuples(one)) for one in kept.get("grounds", ()))
    return Explained(**_tuples({**kept, "grounds": ()}) | {"grounds": grounds})


def as_read(one: Explained) -> Explained:
    """It with its days as people say them; what is kept and compared has them as 2026-03-02."""
    return replace(_read(one), grounds=tuple(_read(ground) for ground in one.grounds))


def _read(one: Explained | Ground) -> Explained | Ground:
    texts = {each.name: getattr(one, each.name) for each in fields(one) if each.name not in UNREAD}
    return replace(one, **{name: _days_said(value) for name, value in texts.items()})


def _days_said(value: object) -> object:
    if isinstance(value, tuple):
        return tuple(map(_days_said, value))
    return said_days(value) if isinstance(value, str) else value


def _ground(rule: Rule) -> Ground:
    shown, practice = said(rule), rule.text.key == PRACTICE
    return Ground(
        rule.source,
        shown.sentence,
        tuple(shown.pairs),
        _applies(rule.from_day, rule.until_day),
        "what is done in the trade, written nowhere" if practice else rule.known,
        str(rule.text.read_on or ""),
        rule.note,
        rule.to_be_confirmed and not practice,
    )


def _applies(first: dt.date | None, last: dt.date | None) -> str:
    return " ".join(part for part in (first and f"from {first}", last and f"until {last}") if part)


def _kept(one: Ground | Explained) -> dict[str, object]:
    found = {each.name: getattr(one, each.name) for each in fields(one) if each.name != "grounds"}
    return {name: _listed(value) for name, value in found.items() if value}


def _listed(value: object) -> object:
    return [_listed(one) for one in value] if isinstance(value, tuple) else value


def _tuples(found: Mapping[str, object]) -> dict[str, object]:
    return {name: _tupled(value) for name, value in found.items()}


def _tupled(value: object) -> object:
    return tuple(map(_tupled, value)) if isinstance(value, list) else value


def told(one: Explained, earlier: Mapping[Explained, int]) -> Iterator[tuple[str, str]]:
    """It as a note of a paper: label, blank for its sentence, and text of one part after the other. earlier: the
    notes before it, with their numbers; what stands whole in one of them is pointed at."""
    yield "", one.said
    same = next((at for note, at in earlier.items() if _basis(note) == _basis(one)), None)
    if same is not None and (one.figures or one.grounds):
        yield "", f"Figures and rules are those of note {same}."
    else:
        yield from _based(one, earlier)
    if one.readings:
        yield "The text allows more than one reading; taken is", " ".join(one.readings)
    if one.changes:
        yield "What would change it", " ".join(one.changes)
    if one.ask:
        yield "To be said first", f"{'; '.join(one.ask)}."


def _basis(one: Explained) -> tuple[Pairs, tuple[Ground, ...]]:
    return one.figures, one.grounds


def _based(one: Explained, earlier: Mapping[Explained, int]) -> Iterator[tuple[str, str]]:
    if one.figures:
        yield "Worked out from", f"{_pairs(one.figures).rstrip('.')}."
    for ground in one.grounds:
        first = next((at for note, at in earlier.items() if ground in note.grounds), None)
        yield "Rule", f"{_whole(ground)}." if first is None else f"{ground.cited}; in words in note {first}."


def _whole(ground: Ground) -> str:
    """A rule in one line."""
    parts = [
        ground.cited,
        ground.sentence.rstrip("."),
        _pairs(ground.words),
        f"applies {ground.applies}" if ground.applies else "",
        ground.note.rstrip("."),
        ground.known,
        f"read on {ground.read_on}" if ground.read_on else "",
        CONFIRM if ground.confirm else "",
    ]
    return "; ".join(filter(None, parts))


def _pairs(pairs: Pairs) -> str:
    return "; ".join(f"{label}: {value}" for label, value in pairs)
