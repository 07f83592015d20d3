"""A container as the rules see it, and what a weighing said of it. Pure: no Django here, whole numbers.

Quantities are milligrams for refrigerants and microlitres for oils.
"""

import datetime as dt
from dataclasses import dataclass
from operator import attrgetter
from typing import NamedTuple

from inventory.ledger.accounts import AccountClass, Spot
from inventory.measures.quantity import show
from inventory.reference.kinds import KINDS, Kind

# What is taken by quantity out of a container of a size of its own is at most 5/4 of the most it was recorded to hold:
# cans are filled a little over, machines show a little off. Common practice, no source.
MOST_OVER = (5, 4)
GRADES = ("virgin", "recycled", "reclaimed", "recovered", "mixed")


@dataclass(slots=True)
class ContainerState:
    """What a container's story comes to. tare None: to be taken at the first weighing. readability: that of the scale
    of its last weighing, None before the first. nominal: what it came with. most: what it was recorded to hold at most
    so far. arrival: the voucher of its arrival. last: the position of the last act of its story. owner: the code of the
    customer whose gas it is for, blank: the shop's. unknown: it was found, and nobody said yet what is in it. Days are
    those of the acts."""

    code: str
    kind: str
    substance: str = ""
    is_oil: bool = False
    grade: str = ""
    location: str = ""
    tare: int | None = None
    balance: int = 0
    readability: int | None = None
    void: bool = False  # its arrival was taken back: the code may be given again
    nominal: int = 0
    most: int = 0
    arrival: int = 0
    arrived_on: dt.date | None = None
    opened_on: dt.date | None = None
    retired_on: dt.date | None = None
    last_scale: str = ""
    last_weighed_on: dt.date | None = None
    last_gross: int | None = None
    last: str = ""
    owner: str = ""
    unknown: bool = False

    @property
    def traits(self) -> Kind:
        return KINDS[self.kind]

    @property
    def retired(self) -> bool:
        return self.retired_on is not None

    @property
    def spot(self) -> Spot:
        cls = AccountClass.KEPT if self.owner else AccountClass.CONTAINER
        return Spot(self.substance, cls, self.code, self.location, self.grade, self.owner)

    def cannot_give(self, quantity: int) -> bool:
        """Whether more is said to have come out of it than one of its kind can ever have held: what nobody can fill, or
        fills with nothing but what a like one left, never held much more than it was recorded to hold."""
        sized = self.traits.single_use or self.traits.is_oil
        return sized and MOST_OVER[1] * quantity > MOST_OVER[0] * self.most

    def said(self, quantity: int) -> str:
        return show(quantity, "mL" if self.is_oil else "g")


class ScaleSeen(NamedTuple):
    """The scale of a reading. readability in mg."""

    code: str
    readability: int


NO_SCALE = ScaleSeen("", 0)  # an oil's level is read off its bottle


class Reading(NamedTuple):
    """A gross weight (for oil: the volume left) and what it said. difference = net - book, as posted. Its fields in
    their order are what a voucher's detail says of it."""

    code: str
    role: str  # before, after, count
    scale: str
    readability: int
    gross: int
    tare: int
    book: int
    net: int
    difference: int
    tolerance: int
    outcome: str  # agrees, tare taken, weighing difference, unexplained gain, unexplained loss


# What a reading comes to, which another act of its container may change: `judgement` of one, and the names.
JUDGED = ("tare", "book", "net", "difference", "tolerance", "outcome")
judgement = attrgetter(*JUDGED)
