"""The order of what happened about the leaks of a unit, and what needs something else first. Pure: no Django here."""

import datetime as dt
from collections.abc import Iterable, Sequence
from itertools import groupby
from operator import attrgetter
from typing import Protocol

# What comes after something else: the kind that must be there before it, and what is said where it is not.
AFTER = {
    "follow-up-test": (
        "initial-test",
        "A follow-up test comes after a successful initial verification test; enter that one first.",
    ),
    "back-in-use": ("mothballed", "It was not mothballed by then; enter the day of mothballing first."),
    "extension-granted": ("extension-asked", "An extension is asked for before it is granted; enter that first."),
    "plan-done": ("plan", "A plan comes before it is carried out; enter the plan first."),
}
RESTING = ("mothballed", "back-in-use")  # they take turns, the first one first


class Event(Protocol):
    pk: int | None
    kind: str
    day: dt.date
    at: dt.datetime | None
    passed: bool | None


def in_order(events: Iterable[Event]) -> list[Event]:
    """By day. Those of one day by their times where each has one, else as they were entered, what is not entered yet
    last."""
    found: list[Event] = []
    for _, of_one_day in groupby(sorted(events, key=attrgetter("day")), key=attrgetter("day")):
        those = list(of_one_day)
        timed = all(one.at is not None for one in those)
        found += sorted(those, key=attrgetter("at") if timed else _as_entered)
    return found


def _as_entered(event: Event) -> tuple[bool, int]:
    return event.pk is None, event.pk or 0


def need_met(event: Event, before: Sequence[Event]) -> bool:
    """Whether what an event needs is among those before it, which are in order."""
    if event.kind in RESTING:
        last = next((one.kind for one in reversed(before) if one.kind in RESTING), RESTING[1])
        return last != event.kind
    needed, _ = AFTER.get(event.kind, ("", ""))
    return not needed or any(one.kind == needed and one.passed is not False for one in before)


def first_unmet(events: Iterable[Event]) -> Event | None:
    """The first of them that does not have before it what it needs; None where each has."""
    ordered = in_order(events)
    return next((one for at, one in enumerate(ordered) if not need_met(one, ordered[:at])), None)
