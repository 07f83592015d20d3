"""Whether somebody else changed what a page showed, field by field. Pure: no Django here.

A page carries a short mark of each value that it showed. When it is sent back there are three values of a
field: the one shown, the one typed, and the one recorded by now. Only where all three differ did two people
write different things; elsewhere each keeps what they wrote.
"""

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass


def mark(value: object) -> str:
    """Twelve characters that stand for a value. A moment counts in any zone, a line end in either form."""
    if isinstance(value, dt.datetime):
        value = value.astimezone(dt.UTC).isoformat()
    elif isinstance(value, str):
        value = value.replace("\r\n", "\n")
    return hashlib.sha256(repr(value).encode()).hexdigest()[:12]


def marks(values: Mapping[str, object]) -> dict[str, str]:
    """The marks of several fields, for a page to carry."""
    return {name: mark(value) for name, value in values.items()}


@dataclass(frozen=True)
class Merge:
    """values: what to record. clashes: fields that were typed here and recorded differently by someone else."""

    values: dict[str, object]
    clashes: tuple[str, ...]


def merge(shown: Mapping[str, str], typed: Mapping[str, object], recorded: Mapping[str, object]) -> Merge:
    """Put together what was typed with what was recorded meanwhile. shown: `marks` of what the page showed;
    a field without a mark takes what was typed."""
    values: dict[str, object] = {}
    clashes = []
    for name, mine in typed.items():
        before, now = shown.get(name), mark(recorded[name])
        if before is None or before == now or mark(mine) == now:
            values[name] = mine
        elif mark(mine) != before:
            clashes.append(name)
    return Merge(values, tuple(clashes))
