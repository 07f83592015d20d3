"""What somebody said happened to containers, without what came of it. Pure: no Django here.

An event is an act as it was entered: a day, a moment, and ops, each on one container with constant inputs. What an op
does depends on the container's story up to it; `Holdings` works that out, at the moment of entry and again whenever an
earlier act is corrected or entered late. Ops of all events stand in one order, which is kept and never guessed again:
by day, moment, position, and their order in the event.

Position: the number of the act's first voucher. An act that somebody put right behind another one takes that one's
moment and position, and its own number, negative, behind it: so it follows that one before any that followed already.
"""

import datetime as dt
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from inventory.ledger.accounts import AccountClass, Spot

_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
_decode = json.JSONDecoder().decode
CLASSES = {cls.word: cls for cls in AccountClass}
CONTAINER = AccountClass.CONTAINER.word

# What each verb says of its container: the names of its inputs in their order. Weights are gross, in mg; for an oil, a
# count's gross is what is left, in uL. Quantities: mg, or uL of an oil. readability: mg, of the scale. cls and name:
# the account at the other end; for another container its class is `container` and its name the code.
VERBS = {
    "arrive": ("kind", "substance", "is_oil", "grade", "location", "tare", "quantity", "cls", "name"),
    "count": ("gross", "scale", "readability"),
    "draw": ("before", "after", "quantity", "scale", "readability", "shares"),  # shares: (cls, name, quantity) each
    "fill": ("before", "after", "quantity", "scale", "readability", "substance", "cls", "name"),
    "stand": ("location",),
    "regrade": ("grade",),
    "tare": ("tare",),
    "leave": ("cls", "name", "quantity"),  # quantity None: all that is in it
    "retire": ("into",),  # blank: what is left is heel loss
    "residue": ("source",),  # what another container's retirement left, put into this one
    "found": ("gross", "scale", "readability"),  # nobody knows yet what is in it: it weighed this as it was
    "identify": ("substance", "grade", "tare", "gross", "scale", "readability"),  # gross None: it weighs what it did
    "keep": ("owner",),  # empty, and from now on for the gas of this customer; blank: the shop's again
    "whose": ("owner",),  # what follows of the same act is with the equipment of this customer
}


class Op(NamedTuple):
    """One thing said of one container. what: the inputs that VERBS names. at: its moment where the event's is another,
    UTC, as YYYY-MM-DDTHH:MM:SS.ffffffZ."""

    verb: str
    code: str
    what: tuple
    at: str = ""

    def __getattr__(self, name: str) -> object:
        try:
            return self.what[VERBS[self.verb].index(name)]
        except ValueError:
            raise AttributeError(f"{self.verb} says nothing of {name}") from None

    @property
    def others(self) -> list[str]:
        """The codes of the containers at the other end."""
        if self.verb == "draw":
            return [name for cls, name, _ in self.shares if cls == CONTAINER]
        if self.verb == "fill":
            return [self.name] if self.cls == CONTAINER else []
        if self.verb in {"retire", "residue"}:
            return [self.what[0]] if self.what[0] else []
        return []

    @property
    def readings(self) -> int:
        """How many readings of a scale it makes."""
        return _readings(self.verb, self.what)


def _readings(verb: str, what: Sequence) -> int:
    if verb in {"draw", "fill"}:
        return (what[0] is not None) + (what[1] is not None)  # before, after: asked of every op
    return int(verb == "count")


@dataclass(frozen=True)
class Event:
    """on: the day of the act, whatever day its voucher is dated. at: its moment. position: blank before its first
    voucher has a number, which then is its position."""

    on: dt.date
    at: str
    ops: tuple[Op, ...]
    position: tuple[int, ...] = ()

    @property
    def codes(self) -> set[str]:
        return {op.code for op in self.ops}

    def said(self) -> dict[str, object]:
        """As the voucher's detail holds it."""
        ops = [[op.verb, op.code, op.at, *op.what] for op in self.ops]
        found = {"on": self.on.isoformat(), "at": self.at, "ops": ops}
        return found | ({"position": list(self.position)} if self.position else {})


def read(said: dict) -> Event:
    """The event of a voucher's detail."""
    ops = tuple([Op(verb, code, _what(verb, what), at) for verb, code, at, *what in said["ops"]])
    return Event(dt.date.fromisoformat(said["on"]), said["at"], ops, tuple(said.get("position", ())))


def _what(verb: str, values: list) -> tuple:
    """An op's inputs as JSON has them. Of a draw the last are its shares, which are lists themselves."""
    if verb == "draw":
        values = [*values[:-1], tuple(map(tuple, values[-1]))]
    return tuple(values)


class Placed(NamedTuple):
    """An op in the order of all: by position (as text, which sorts so), then index. line: of its first reading among
    those of its voucher. voucher: 0 for the one that is about to be posted."""

    position: str
    index: int
    on: dt.date
    op: Op
    line: int
    voucher: int


def placed(event: Event, voucher: int, number: int = 0) -> Iterator[Placed]:
    """The ops of an event in their places. number: of its first voucher, where its position does not say."""
    numbers, line = event.position or (number or voucher,), 0
    own = position_of(event.on, event.at, numbers)
    for index, op in enumerate(event.ops):
        position = position_of(event.on, op.at, numbers) if op.at else own
        yield Placed(position, index, event.on, op, line, voucher)
        line += op.readings


class Kept(NamedTuple):
    """What is kept of an act beside its voucher. entries: (container, position, ops as text) of each container, in the
    order in which the act names them. readings: the position of each reading, by its line."""

    entries: list[tuple[str, str, str]]
    readings: list[str]


def kept_of(said: Mapping[str, object], voucher: int) -> Kept:
    """said: an event as its voucher's detail holds it, and no object is made of it, since the proof asks for every
    voucher. An entry's position is that of its first op; a moment stands in its text where it is another one."""
    day, at = said["on"], said["at"]
    numbers = "".join(map(_sortable, said.get("position") or (voucher,)))
    own = f"{day} {at} {numbers}"
    found: dict[str, tuple[str, str, list]] = {}
    readings: list[str] = []
    for index, (verb, code, moment, *what) in enumerate(said["ops"]):
        position = f"{day} {moment} {numbers}" if moment else own
        _, first, ops = found.setdefault(code, (position, moment, []))
        ops.append([index, len(readings), verb, "" if moment == first else moment or at, *what])
        readings += [position] * _readings(verb, what)
    return Kept([(code, position, _encode(ops)) for code, (position, _, ops) in found.items()], readings)


def entry_ops(code: str, voucher: int, position: str, text: str) -> list[Placed]:
    """The ops that an entry keeps, in their places. position: of the first."""
    on, at, numbers = dt.date.fromisoformat(position[:10]), position[11:38], position[39:]  # a moment is as long always
    return [
        Placed(
            f"{on} {moment} {numbers}" if moment else position,
            index,
            on,
            Op(verb, code, _what(verb, what), moment or at),
            line,
            voucher,
        )
        for index, line, verb, moment, *what in _decode(text)
    ]


def position_of(on: dt.date, at: str, numbers: tuple[int, ...]) -> str:
    """Text that sorts as the order goes: by day, moment, then the numbers one after another."""
    return f"{on.isoformat()} {at} {''.join(map(_sortable, numbers))}"


def parts_of(position: str) -> tuple[dt.date, str, tuple[int, ...]]:
    """Day, moment and numbers of a position."""
    on, at, numbers = position.split(" ")
    found = (int(digits) - (10**12 if sign == "n" else 0) for sign, digits in re.findall(r"([pn])(\d{12})", numbers))
    return dt.date.fromisoformat(on), at, tuple(found)


def _sortable(number: int) -> str:
    """Lower numbers first, negative ones among them."""
    return f"p{number:012d}" if number >= 0 else f"n{10**12 + number:012d}"


def behind(position: tuple[int, ...], own: int) -> tuple[int, ...]:
    """The position right behind another one, for the act whose first voucher has the number `own`."""
    return (*position, -own)


def spot(cls: str, name: str, substance: str) -> Spot:
    """The account at the other end, outside the shop's containers."""
    return Spot(substance, CLASSES[cls], name)
