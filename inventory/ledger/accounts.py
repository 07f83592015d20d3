"""Names of accounts: where a quantity can be. Pure: no Django here.

An account's key is a JSON array [substance, class, name, location, grade], of gas that is kept for somebody also its
owner, so that it can be read by people and machines alike and no name, whatever is in it, can be mistaken for another.
"""

import enum
import json
from typing import NamedTuple


class AccountClass(enum.IntEnum):
    """Container accounts hold the shop's stock; those of class KEPT hold what stands in a container at the shop and is
    a customer's. Neither goes below zero. The others are outside. CUSTOMER: what customers brought and took back.
    FOUND: what was in cylinders that were found here, before anybody knew what it was."""

    CONTAINER = 1
    OPENING = 2
    SUPPLIER = 3
    UNIT = 4
    RECLAIMER = 5
    DESTROYER = 6
    LINE_LOSS = 7
    HEEL_LOSS = 8
    OTHER_LOSS = 9
    WEIGHING_DIFFERENCE = 10
    UNEXPLAINED_GAIN = 11
    UNEXPLAINED_LOSS = 12
    RECLASSIFIED = 13
    BUYER = 14
    KEPT = 15
    CUSTOMER = 16
    FOUND = 17

    __hash__ = int.__hash__  # the one of an enumeration is a function of Python, asked for each account in a dictionary

    @property
    def word(self) -> str:
        return self.name.lower().replace("_", " ")


# Accounts that are named by a party's code, e.g. P-000012.
PARTIES = frozenset({AccountClass.SUPPLIER, AccountClass.RECLAIMER, AccountClass.DESTROYER, AccountClass.BUYER})
NAMED = PARTIES | {AccountClass.CUSTOMER}  # by codes that stand for a name
# Accounts of what is in a container, whosever it is.
HOLDING = frozenset({AccountClass.CONTAINER, AccountClass.KEPT})
HOLDING_SQL = ", ".join(str(int(cls)) for cls in sorted(HOLDING))


class Spot(NamedTuple):
    """One account, by name: the code of a container (location and grade go with it), of a unit, a party or a customer.
    owner: the code of the customer whose gas it is, of class KEPT."""

    substance: str
    cls: AccountClass
    name: str = ""
    location: str = ""
    grade: str = ""
    owner: str = ""

    @property
    def key(self) -> str:
        said = [self.substance, self.cls.word, self.name, self.location, self.grade]
        return json.dumps(said + [self.owner] * bool(self.owner), ensure_ascii=False, separators=(",", ":"))


class Transfer(NamedTuple):
    """One movement to be posted: quantity > 0, whole milligrams (refrigerant) or microlitres (oil).

    reversal: counts, with the opposite sign, where the movement that it takes back counted.
    """

    source: Spot
    target: Spot
    quantity: int
    reversal: bool = False

    def reversed(self) -> "Transfer":
        """The same the other way; the reversal of a reversal counts as the first movement did."""
        return Transfer(self.target, self.source, self.quantity, not self.reversal)
