"""The files beside the database that belong to the records: those that a record names, and no others. In their folders
may lie what a killed process left, and files of another shop."""

from collections.abc import Callable, Iterator
from pathlib import Path

# Each answers the files that its room's records name: the place in the folder of the data, and the path on the disk.
sources: list[Callable[[], Iterator[tuple[str, Path]]]] = []
NAMED = 20


def outside_files() -> list[tuple[str, Path]]:
    """All of them, once each, as the records name them now."""
    return sorted({place: path for source in sources for place, path in source()}.items())


def named(places: list[str], one: str, several: str) -> str:
    """A sentence that names some of them. one, several: what befell it, or them."""
    head, befell = ("One file", one) if len(places) == 1 else (f"{len(places)} files", several)
    rest = f" and {len(places) - NAMED} more" if len(places) > NAMED else ""
    return f"{head} that the records name {befell}: {', '.join(places[:NAMED])}{rest}."
