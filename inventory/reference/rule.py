"""What all rules have: where a rule stands and when it applies, the words that its file may use, and what it is asked
of. Masses are whole milligrams, GWP and tonnes of CO₂ equivalent are Decimal."""

from dataclasses import dataclass
from datetime import date
from functools import cache

from inventory.reference.refrigerants import refrigerants

# Work that a certificate may be asked for.
WORK = {
    "recover": "recover refrigerant",
    "charge": "charge refrigerant",
    "leak-check": "check for leaks",
    "purchase": "buy refrigerant",
}

# Kinds of equipment. The part before the slash is the broad kind; alone, it is the usual case of that kind.
EQUIPMENT = {
    "vehicle": "A/C of a car or light vehicle",
    "vehicle/heavy": "A/C of a van, truck, bus or train",
    "vehicle/off-road": "A/C of a farm, construction or other off-road machine",
    "transport": "Refrigeration unit of a truck or trailer",
    "transport/light": "Refrigeration unit of a light vehicle, container or wagon",
    "stationary": "Stationary A/C or heat pump",
    "stationary/refrigeration": "Stationary refrigeration",
    "stationary/process": "Industrial process refrigeration",
    "stationary/small": "Small factory-sealed appliance",
    "other": "Other equipment",
}

GRADES = ("virgin", "recycled", "reclaimed", "recovered", "mixed")

# Where recovered refrigerant goes next, seen from the unit it came from.
DESTINATIONS = ("same-unit", "same-owner", "other-owner")

# Records whose keeping a rulebook may rule.
RECORDS = {
    "job": "jobs and their sheets",
    "purchase": "receipts of refrigerant",
    "sale": "sales of refrigerant",
    "shipment": "refrigerant sent away",
    "certificate": "certificates of people",
    "leak-check": "leak checks and leak rates",
    "disposal": "equipment and containers disposed of",
    "container": "containers and their weighings",
    "equipment": "equipment and its full charge",
}

# Where a caution is shown.
PLACES = (
    "job",
    "identify",
    "recover",
    "leak-check",
    "evacuate",
    "oil",
    "charge",
    "container",
    "receiving",
    "leaving",
    "report",
    "bundle",
)

# What a rule that is not kept does: stop the posting, or show up as a finding.
ENFORCEMENTS = ("refuse", "warn")


@cache
def selects_substance(selectors: tuple[str, ...], designation: str) -> bool:
    """Whether substance selectors hold for a substance.

    "*": every one. A designation: that refrigerant. "contains:HFC": a gas of that kind is in it. "flammable"
    and "high-pressure": as the word says. "not:R-22" takes one out of what the others select.
    """
    found = refrigerants().get(designation)
    if f"not:{designation}" in selectors:
        return False
    for selector in selectors:
        if selector in ("*", designation):
            return True
        if found is None:
            continue
        kind = selector.removeprefix("contains:")
        if kind != selector and kind in found.kinds:
            return True
        if selector == "flammable" and found.is_flammable:
            return True
        if selector == "high-pressure" and found.designation == "R-744":
            return True
    return False


def selects_equipment(selectors: tuple[str, ...], equipment: str) -> bool:
    """Whether equipment selectors hold for a kind of equipment.

    "*": every one. "vehicle/*": that broad kind and all below it. "vehicle", "vehicle/heavy": that one only.
    """
    broad = equipment.partition("/")[0]
    return bool({"*", equipment, f"{broad}/*"} & set(selectors))


PRACTICE = "practice"  # the key of the text that stands for what is done in the trade and written nowhere


@dataclass(frozen=True)
class Text:
    """A text that rules are cited from. read_on: the day it was read, None where it was not."""

    key: str
    title: str
    confidence: str
    edition: str = ""
    address: str = ""
    read_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class Rule:
    """What all rules have: where it stands, and from which day until which day, both included, it applies."""

    text: Text
    citation: str
    confidence: str
    from_day: date | None = None
    until_day: date | None = None
    note: str = ""

    def in_force(self, day: date) -> bool:
        return (self.from_day is None or self.from_day <= day) and (self.until_day is None or day <= self.until_day)

    @property
    def to_be_confirmed(self) -> bool:
        """Whether the text itself was not read: to be confirmed with the authority."""
        return self.confidence != "seen"

    @property
    def place(self) -> str:
        """Where in its text it stands; blank where the text as a whole is cited."""
        return "" if self.citation == self.text.title else self.citation

    def cited(self) -> str:
        """Its text and the place in it, for people to read; marked where the text itself was not read."""
        said = ", ".join(filter(None, [self.text.title, self.place]))
        if self.text.key == PRACTICE or not self.to_be_confirmed:
            return said
        return f"{said} (to be confirmed with the authority)"


@dataclass(frozen=True)
class System:
    """What rules are asked of: a refrigerant system, or refrigerant alone. equipment: a key of EQUIPMENT, None where
    there is none, as in a purchase. charge_mg: None where it is not known. sealed: hermetically, and labelled so.
    dwelling: it stands in one."""

    equipment: str | None
    substance: str
    charge_mg: int | None = None
    sealed: bool = False
    dwelling: bool = False
