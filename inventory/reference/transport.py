"""How refrigerants travel: UN number, proper shipping name, labels, codes of ADR/RID; and their codes as waste.

transport.csv names the source of each entry and how well it is known. Numbers and names are those of the UN list, which
ADR/RID, the IMDG Code and 49 CFR 172.101 share; classification, category and tunnel codes are those of ADR/RID. What is
said here helps to fill in a paper, and takes no shipper's duty off anybody.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from inventory.reference.kinds import KINDS
from inventory.reference.oils import UnknownOil, parse_oil
from inventory.reference.refrigerants import refrigerants
from inventory.reference.sourced import CONFIDENCES, Source, rows, source

# Most kg (net mass of liquefied gas) of each transport category in one load under ADR 1.1.3.6.3; 20 kg of category 1,
# but 50 kg of UN 1005. Categories 2 and 3 as a guild repeats them, category 1 from memory.
SMALL_LOAD_KG = {"1": 20, "2": 333, "3": 1000}
AMMONIA, AMMONIA_KG = "1005", 50
SMALL_LOAD_TOTAL = 1000  # points: kg × 1000 / the most of its category

# Said of what is empty and not cleaned, and of what goes to disposal, before the name.
EMPTY = "EMPTY, UNCLEANED"
WASTE = "WASTE"


@dataclass(frozen=True)
class Entry:
    """One entry of the dangerous-goods list. number: four digits, blank for what is no dangerous good of class 2.
    labels: of ADR/RID, such as 2.2 or 2.3 + 8. limited_quantity: most in one inner packaging under chapter 3.4; 0 where
    that is not allowed, blank where it is not known. us_division: by 49 CFR 172.101, blank where not known."""

    subject: str
    number: str
    name: str
    technical_name: str
    labels: str
    code: str
    category: str
    tunnel_code: str
    limited_quantity: str
    us_division: str
    source: Source
    us_source: Source
    note: str

    @property
    def is_dangerous(self) -> bool:
        return bool(self.number)

    @property
    def un_number(self) -> str:
        return f"UN {self.number}" if self.number else ""

    @property
    def to_be_confirmed(self) -> bool:
        return self.source.confidence != "seen"

    @property
    def standing(self) -> str:
        """Where it stands, how well it is known and when it was read; marked where the text itself does not say it."""
        read = f", {self.source.read_on}" if self.source.read_on else ""
        said = f"{self.source.title} ({CONFIDENCES[self.source.confidence]}{read})"
        confirm = "; to be confirmed with the authority" if self.to_be_confirmed else ""
        return said + confirm + (f"; {self.note}" if self.note else "")

    def proper_name(self, *, waste: bool = False) -> str:
        """The proper shipping name, with the technical name in brackets where there is one (special provision 274).
        waste: preceded by WASTE (5.4.1.1.3.1)."""
        name = f"{self.name} ({self.technical_name})" if self.technical_name else self.name
        return f"{WASTE} {name}" if waste else name

    def description(self, *, waste: bool = False, empty: bool = False) -> str:
        """The line of a transport document in the order of ADR 5.4.1.1.1: number, name, labels, tunnel code.

        waste: see `proper_name`. empty: of a receptacle that is empty and not cleaned (5.4.1.1.6).
        """
        parts = [self.un_number + " " + self.proper_name(waste=waste), self.labels]
        if self.tunnel_code:
            parts.append(f"({self.tunnel_code})")
        said = ", ".join(filter(None, parts))
        return f"{EMPTY}, {said}" if empty else said

    def small_load_kg(self) -> int | None:
        """Most kg of it alone in one load under ADR 1.1.3.6; None where its category is not known."""
        return AMMONIA_KG if self.number == AMMONIA else SMALL_LOAD_KG.get(self.category)


@cache
def _entries() -> Mapping[str, Entry]:
    found = {}
    for row in rows("transport.csv"):
        if row["kind"] == "waste":
            continue
        said = {
            name: row[name] for name in Entry.__dataclass_fields__ if name in row and name not in ("source", "note")
        }
        found[row["subject"]] = Entry(
            **said,
            source=source(row["source"], row["confidence"], row["note"]),
            us_source=source("us-172-101", "memory"),
            note=row["note"],
        )
    return MappingProxyType(found)


@dataclass(frozen=True)
class WasteCode:
    """code: of the List of Waste, * marks hazardous waste; words: of that list."""

    code: str
    words: str
    source: Source


@cache
def _waste_codes() -> Mapping[str, WasteCode]:
    return MappingProxyType(
        {
            row["subject"]: WasteCode(row["number"], row["name"], source(row["source"], row["confidence"], row["note"]))
            for row in rows("transport.csv")
            if row["kind"] == "waste"
        }
    )


def entry(designation: str) -> Entry | None:
    """The entry of a refrigerant by its designation, in a cylinder; None for an oil or what is not known here."""
    return _entries().get(designation) if designation in refrigerants() else None


def entry_of(designation: str, grade: str, kind: str) -> Entry | None:
    """The entry of a container with what is in it. None for oils and where the gas is not known.

    Mixed gas counts as one that may be flammable; a small single-use can is a gas cartridge. grade: as in the ledger.
    kind: of the container, a key of KINDS.
    """
    gas = refrigerants().get(designation)
    if gas is None:
        return None
    own = _entries()[designation]
    if grade == "mixed":
        return _entries()["unknown, perhaps flammable"]
    if KINDS[kind].small_receptacle and own.is_dangerous:
        is_flammable = own.labels.startswith("2.1")
        return _entries()["small receptacle, flammable" if is_flammable else "small receptacle, not flammable"]
    return own


def small_load_points(loads: Iterable[tuple[Entry, int]]) -> int | None:
    """The points of ADR 1.1.3.6.3 of a load, from each entry and its net mass in mg, rounded up; None where the
    category of one is not known. Up to 1000 a load is carried with fewer duties."""
    total = 0
    for one, milligrams in loads:
        if not one.is_dangerous:
            continue
        most = one.small_load_kg()
        if most is None:
            return None
        factor = {50: 20, 20: 50, 333: 3, 1000: 1}[most]  # as the text rounds them
        total += factor * milligrams
    return -(-total // 1_000_000)


def waste_code(substance: str) -> WasteCode | None:
    """The code of recovered refrigerant or drained oil in the List of Waste (Decision 2000/532/EC), for where that
    list applies; None where none fits. Blends with an HFO count as one."""
    gas = refrigerants().get(substance)
    if gas is None:
        return _waste_codes()[_oil(substance)]
    if gas.designation == "R-744":
        return _waste_codes()["CO2"]
    if gas.kinds & {"HFO", "HCFO"}:
        return _waste_codes()["HFO"]
    if gas.is_fluorinated:
        return _waste_codes()["CFC, HCFC, HFC"]
    return _waste_codes()["hydrocarbon or ammonia"]


def _oil(code: str) -> str:
    try:
        family = parse_oil(code).family.code
    except UnknownOil:
        return "oil, unknown"
    return "oil, mineral" if family == "Mineral" else "oil, synthetic"
