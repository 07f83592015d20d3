"""Published values read from this room's data files, each with where it stands and how well it is known."""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent

# How well a value is known, best first.
CONFIDENCES = {
    "seen": "read in the source",
    "computed": "computed from the source",
    "secondary": "read in a publication that repeats the source",
    "derived": "our reading of the source, to be confirmed",
    "estimated": "an estimate, to be confirmed",
    "memory": "from memory, to be confirmed",
}


@dataclass(frozen=True)
class Source:
    """Where a value stands, the day that text was read (None: it was not) and how well the value is known."""

    title: str
    confidence: str
    read_on: date | None = None
    note: str = ""

    def __str__(self) -> str:
        parts = [f"{self.title} ({CONFIDENCES[self.confidence]})"]
        if self.note:
            parts.append(self.note)
        return ". ".join(parts)


@dataclass(frozen=True)
class Fact:
    """One published value as its file writes it."""

    value: str
    source: Source

    @property
    def number(self) -> Decimal:
        return Decimal(self.value)


def weakest(confidences: Iterable[str]) -> str:
    """The least certain of some confidence words: what a value computed from all of them deserves."""
    order = list(CONFIDENCES)
    return max(confidences, key=order.index)


def rows(file_name: str) -> Iterator[dict[str, str]]:
    """The rows of a CSV file of this room, by column name."""
    with (FOLDER / file_name).open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


@cache
def _titles() -> dict[str, tuple[str, date | None]]:
    return {
        row["key"]: (row["title"], date.fromisoformat(row["read_on"]) if row["read_on"] else None)
        for row in rows("sources.csv")
    }


def source(key: str, confidence: str, note: str = "") -> Source:
    """The source of that key in sources.csv. ValueError where key or confidence is none that is known."""
    if key not in _titles():
        raise ValueError(f"sources.csv has no source {key!r}.")
    if confidence not in CONFIDENCES:
        raise ValueError(f"Confidence is one of {', '.join(CONFIDENCES)}, not {confidence!r}.")
    title, read_on = _titles()[key]
    return Source(title, confidence, read_on, note)


def facts(file_name: str) -> dict[str, dict[str, Fact]]:
    """All values of a file by subject and fact; columns: subject, fact, value, source, confidence, note.

    Subjects keep the order of the file. ValueError where the same fact stands twice.
    """
    found: dict[str, dict[str, Fact]] = {}
    for row in rows(file_name):
        subject = next(iter(row.values()))
        of_subject = found.setdefault(subject, {})
        if row["fact"] in of_subject:
            raise ValueError(f"{file_name} says {row['fact']} of {subject} twice.")
        of_subject[row["fact"]] = Fact(row["value"], source(row["source"], row["confidence"], row["note"]))
    return found
