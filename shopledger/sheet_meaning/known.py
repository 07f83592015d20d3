"""What the ledger knows already, as far as a sheet may name it. Pure."""

import datetime as dt
import re
from collections import Counter
from dataclasses import dataclass, field

from shopledger.sheet_meaning.words import plain


@dataclass(frozen=True)
class Held:
    """A container that is here: mg."""

    substance: str
    kind: str
    is_oil: bool
    recovers: bool
    tare: int | None = None


@dataclass(frozen=True)
class Known:
    """people: name by username. names: by the field of a sheet (supplier, customer, location) what is called so.
    seen: digests of rows that were loaded from sheets, with how often each; loaded: of whole sheets. money_places: the
    decimals of an amount in the shop's currency."""

    today: dt.date
    containers: dict[str, Held] = field(default_factory=dict)
    people: dict[str, str] = field(default_factory=dict)
    names: dict[str, tuple[str, ...]] = field(default_factory=dict)
    jobs: frozenset[str] = frozenset()
    seen: Counter = field(default_factory=Counter)
    loaded: frozenset[str] = frozenset()
    money_places: int = 2

    def container(self, said: str) -> str:
        """The code of a container that a sheet calls so: can 7 is CAN-0007 where no other is; else as it stands."""
        if said in self.containers:
            return said
        return self._by_bare.get(bare(said)) or said

    @property
    def _by_bare(self) -> dict[str, str]:
        found = self.__dict__.get("_bare")
        if found is None:
            counted = Counter(bare(code) for code in self.containers)
            found = {bare(code): code for code in self.containers if counted[bare(code)] == 1}
            object.__setattr__(self, "_bare", found)
        return found

    def free_codes(self, prefix: str, taken: set[str]):
        """The next free codes, without end: as the program gives them to what comes in."""
        pattern = re.compile(rf"{re.escape(prefix)}-(\d{{1,9}})")
        used = [int(match[1]) for code in (*self.containers, *taken) if (match := pattern.fullmatch(code))]
        number = max(used, default=0)
        while True:
            number += 1
            yield f"{prefix}-{number:04d}"


def bare(code: str) -> str:
    """A code without case, marks, and noughts before its numbers."""
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", plain(code).replace(" ", ""))
