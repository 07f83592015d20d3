"""The sheet to count with: printed, written on by hand, typed in afterwards."""

import io
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Spacer

from inventory.containers.models import Container
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.paper.document import MARGIN, Foot, build, entries_table, text

WIDTH = A4[0] - 2 * MARGIN
HEADER = ("Container", "Kind", "Holds by the book", "Tare", "Gross, or seen", "Remark")
BLIND = {"Holds by the book": "For"}
ROOM_FOR_ONE = 25 * mm  # a heading, and the first row below it
ROOM = "\n\u00a0"  # a row is two lines high, so that there is room to write in it
NOTHING = ["Nothing stands here by the book.", *[""] * 5]
SHARES = (0.18, 0.12, 0.2, 0.12, 0.18, 0.2)
FOUND = ("Container", "Kind", "Weighed when it was found", "Waits since", "Still here?", "Remark")


class Stands(NamedTuple):
    """What stands at a place by the book: the shop's, customers', and what was found and waits to be identified."""

    ours: Iterable[Container]
    theirs: Iterable[Container]
    held: Iterable[Container]


def count_sheet(place: str, stands: Stands, paper: Foot, person, blind: bool = False) -> bytes:
    """A PDF. What the book says is on it, so that a reading that cannot be is seen at once; not where the shop counts
    blind. What is no stock of the shop's has heads and totals of its own."""
    out = io.BytesIO()
    ours, theirs, held = (list(part) for part in stands)
    story = [
        text(f"Count of {place}", "title"),
        Spacer(0, 3 * mm),
        text("Scale: ______________   Day: ______________   Counted by: ______________"),
        Spacer(0, 2 * mm),
        *_part(ours, person, blind),
    ]
    if theirs:
        story += [
            CondPageBreak(ROOM_FOR_ONE),
            text("Customers' cylinders: no stock of the shop's", "heading"),
            *_part(theirs, person, blind),
        ]
    if held:
        story += [
            CondPageBreak(ROOM_FOR_ONE),
            text("Held until known: look whether it is here, it is not weighed for the count", "heading"),
        ]
        story.append(_table(FOUND, [_found(one, person) for one in held]))
    build(out, story, paper)
    return out.getvalue()


def _head(words: str) -> list:
    """A heading, which does not end a page."""
    return [CondPageBreak(ROOM_FOR_ONE), text(words, "heading")]


def _part(containers: Sequence[Container], person, blind: bool) -> list:
    """The table of some containers, and what the book has in all of them."""
    header = [BLIND.get(name, name) for name in HEADER] if blind else HEADER
    table = _table(header, [_row(one, person, blind) for one in containers] or [NOTHING])
    if blind:
        return [table]
    sums: dict[tuple[bool, str], int] = defaultdict(int)
    for one in containers:
        if one.substance:
            sums[one.is_oil, one.substance.code] += one.content
    said = [f"{_shown(held, oil, person)} {code}" for (oil, code), held in sorted(sums.items())]
    return [table, text(f"In all by the book: {', '.join(said)}.", "small")] if said else [table]


def _table(header: Sequence[str], rows: list[list[str]]):
    return entries_table(header, rows, [share * WIDTH for share in SHARES], [False] * 6)


def _shown(quantity: int, oil: bool, person) -> str:
    return show(quantity, person.volume_unit if oil else person.mass_unit)


def _row(one: Container, person, blind: bool) -> list[str]:
    holds = (
        (one.substance.code if one.substance else "")
        if blind
        else f"{_shown(one.content, one.is_oil, person)} {one.substance.code if one.substance else ''}".strip()
    )
    return [one.code, one.kind, holds, show(one.tare_mg, person.mass_unit) if one.tare_mg else "", "", ROOM]


def _found(one: Container, person) -> list[str]:
    weighed = show(one.last_gross, person.mass_unit) if one.last_gross else ""
    return [one.code, one.kind, weighed, said_day(one.arrived_on), "", ROOM]
