"""What the papers of a person allow, kind of equipment by kind of equipment. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass

from inventory.reference.rule import EQUIPMENT, TRAITS, WORK, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.buying import buying
from inventory.verdicts.explaining import Explained, explained
from inventory.verdicts.work import Worker, working

BUYING = "purchase"
ON_EQUIPMENT = tuple(work for work in WORK if work != BUYING)
# What holds of the work, and what does not: a shop does it for pay, on what goes on being used.
SAID, SAID_NOT = frozenset({"paid"}), frozenset({"disposal"})
WORDS = {
    "free": "not asked for",
    "met": "allowed",
    "confirm": "to be confirmed",
    "due": "due",
    "open": "depends",
    "breach": "not allowed",
    "refused": "not allowed",
}


@dataclass(frozen=True)
class Cell:
    """Whether one kind of work is allowed: in a word, how that looks, and why."""

    word: str
    look: str
    why: Explained


@dataclass(frozen=True)
class Row:
    """equipment: in words; cells: in the order of ON_EQUIPMENT."""

    equipment: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Allowed:
    rows: tuple[Row, ...]
    buying: Explained


def allowed(rules: Rulebook, substance: str, charge_mg: int | None, worker: Worker, day: dt.date) -> Allowed:
    """What a person may do with a refrigerant. charge_mg: of the equipment, None: not said. What it is beyond its kind
    is not said either: where that decides, the verdict asks for it."""
    rows = []
    for kind, title in EQUIPMENT.items():
        system = System(kind, substance, charge_mg, traits=SAID, undecided=frozenset(TRAITS) - SAID - SAID_NOT)
        found = (explained(working(rules, work, system, worker, day)) for work in ON_EQUIPMENT)
        rows.append(Row(title, tuple(Cell(WORDS[one.answer], one.look, one) for one in found)))
    return Allowed(tuple(rows), explained(buying(rules, System(None, substance), worker.papers, day)))
