"""What a count under way found so far, in figures and sentences, before anybody posts it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.containers.models import Container
from inventory.containers.states import Reading
from inventory.counting.actions import Judged, judge
from inventory.counting.models import Count
from inventory.counting.queries import uncounted
from inventory.measures.quantity import show


@dataclass(frozen=True)
class Found:
    """said: sentences. wanting: entries that want a reason first, none of which the figures hide. ready: whether it can
    be posted as it is."""

    said: Sequence[str]
    wanting: Sequence[Judged]
    ready: bool


def totals(readings: Iterable[tuple[Container, Reading]]) -> list[dict[str, object]]:
    """By substance what was read in all, what the book says of it, and the difference; mg, of oils uL."""
    found: dict[str, dict] = {}
    for container, reading in readings:
        if container.substance is not None:
            start = {"substance": container.substance, "book": 0, "net": 0, "difference": 0}
            row = found.setdefault(container.substance.code, start)
            for name in ("book", "net", "difference"):
                row[name] += getattr(reading, name)
    return [found[code] for code in sorted(found)]


def found_so_far(count: Count, person, blind: bool = False) -> Found:
    """blind: no figures while anything is left to count. It takes the writer's turn, and nothing stays of it."""
    judged = judge(count)
    seen = sum(one.entry.is_seen for one in judged)
    left = sum(uncounted(count, theirs).count() for theirs in (False, True))
    said = [f"{len(judged) - seen} weighed, {seen} seen, {left} neither: the book stands for what was not weighed."]
    faults = [one for one in judged if one.why or one.used_since]
    blind = blind and bool(left)
    said += [f"{one.entry.container.code}: {_fault(one, blind)}" for one in faults[:5]]
    if blind:
        return Found([*said, "Counted blind: the figures are shown once nothing is left to count."], [], False)
    for whose, theirs in (("", False), ("Customers' ", True)):
        of = [one for one in judged if one.reading and bool(one.entry.container.kept_for) == theirs]
        said += [_total(whose, row, person) for row in totals((one.entry.container, one.reading) for one in of)]
    outside = [one for one in judged if one.outside]
    said += [_difference(one, person) for one in outside[:5]]
    wanting = [one for one in outside if not one.entry.reason]
    return Found(said, wanting, bool(judged) and not (faults or wanting))


def _fault(one: Judged, blind: bool) -> str:
    if one.used_since:
        return "something was recorded for it since; weigh it again."
    return "this is not posted as it was read; weigh it again." if blind else one.why


def _total(whose: str, row: dict, person) -> str:
    net, book, apart = (_shown(row["substance"], row[name], person) for name in ("net", "book", "difference"))
    return f"{whose}{row['substance'].code}: {net} weighed, {book} by the book, difference {apart}."


def _difference(one: Judged, person) -> str:
    container, reason = one.entry.container, one.entry.get_reason_display()
    apart = _shown(container, one.reading.difference, person)
    said = f"the reason given: {reason}" if reason else "it wants a reason first"
    return f"{container.code}: {apart}, more than weighing can explain; {said}."


def _shown(of, quantity: int, person) -> str:
    return show(quantity, person.volume_unit if of.is_oil else person.mass_unit)
