"""What all rules have: where a rule stands, when it applies and to what, and the words that its file may use. Masses
are whole milligrams, GWP and tonnes of CO₂ equivalent are Decimal."""

from dataclasses import dataclass, field
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
    "vehicle/heavy": "A/C of a van or truck",
    "vehicle/bus": "A/C of a bus or coach",
    "vehicle/train": "A/C of a train, metro, tram, ship or aircraft",
    "vehicle/off-road": "A/C of a farm, construction or other off-road machine",
    "transport": "Refrigeration unit of a truck or trailer",
    "transport/light": "Refrigeration unit of a light vehicle, container or wagon",
    "stationary": "Stationary A/C or heat pump",
    "stationary/refrigeration": "Stationary refrigeration",
    "stationary/process": "Industrial process refrigeration",
    "stationary/small": "Small factory-sealed appliance",
    "other": "Other equipment",
}

# What an appliance is, more closely than its kind: where a rule depends on it.
USES = {
    "chiller": "Chiller",
    "supermarket": "Supermarket rack system",
    "walk-in": "Walk-in cooler or freezer",
    "stand-alone": "Stand-alone retail food refrigerator or freezer",
    "household": "Household refrigerator or freezer",
    "room-ac": "Self-contained room A/C or heat pump",
    "vending": "Vending machine",
    "ice-machine": "Commercial ice machine",
    "water-cooler": "Water cooler",
    "very-low-temperature": "Very low temperature refrigeration",
    "absorption": "Absorption unit",
    "ice-rink": "Ice rink",
    "hydrocarbon-process": "Process that works with hydrocarbons themselves",
    "other": "Another one, none of these",
}

# What holds of a unit or does not, in the words of the question that is asked where nobody has decided it.
TRAITS = {
    "light-commercial": "it is a residential or light commercial A/C or heat pump",
    "open-drive": "its compressor is driven from outside, by an open shaft",
    "process": "at least half of its capacity serves an industrial process",
    "process-shutdown": "a repair needs an industrial process shutdown",
    "military": "it is military equipment",
    "below-minus-50": "it cools products to below -50 °C",
    "sealed": "it is hermetically sealed, and labelled so",
    "dwelling": "it stands in a dwelling",
    "detection": "it has a leak detection system",
    "paid": "the work is done for pay",
    "bound": "it is one of the systems that this rulebook binds",
    "disposal": "the refrigerant is recovered for disposal of the unit",
    "by-station": "it is done with an automated recovery and charging station",
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

    "*": every one. A designation: that refrigerant. "contains:HFC": a gas of that kind is in it. "flammable": as the
    word says. "pressure:low" and so on: of that pressure class (40 CFR 82.152). "not:R-22" and "without:HFC" take
    out of what the others select: that one, or all that contain such a gas.
    """
    found = refrigerants().get(designation)
    kinds = frozenset() if found is None else found.kinds
    if f"not:{designation}" in selectors or any(f"without:{kind}" in selectors for kind in kinds):
        return False
    words = {"*", designation, *(f"contains:{kind}" for kind in kinds)}
    if found is not None:
        words |= {"flammable"} if found.is_flammable else set()
        words |= {f"pressure:{found.pressure_class}"} if found.pressure_class else set()
    return not words.isdisjoint(selectors)


def selects_equipment(selectors: tuple[str, ...], equipment: str) -> bool:
    """Whether equipment selectors hold for a kind of equipment.

    "*": every one. "vehicle/*": that broad kind and all below it. "vehicle", "vehicle/heavy": that one only.
    """
    broad = equipment.partition("/")[0]
    return bool({"*", equipment, f"{broad}/*"} & set(selectors))


# How well a rule is known: all but the first are to be confirmed with the authority.
KNOWN = {
    "seen": "read in the text itself",
    "reading": "our reading of a text that does not say it in these words",
    "secondary": "read in a summary, not in the text itself",
    "memory": "from memory",
}
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
    def known(self) -> str:
        """How well it is known, in words."""
        return KNOWN[self.confidence]

    @property
    def place(self) -> str:
        """Where in its text it stands; blank where the text as a whole is cited."""
        return "" if self.citation == self.text.title else self.citation

    @property
    def source(self) -> str:
        """Its text and the place in it, for people to read."""
        return ", ".join(filter(None, [self.text.title, self.place]))

    def cited(self) -> str:
        """Its source, marked where the text itself was not read."""
        if self.text.key == PRACTICE or not self.to_be_confirmed:
            return self.source
        return f"{self.source} (to be confirmed with the authority)"


@dataclass(frozen=True)
class System:
    """What rules are asked of: a refrigerant system, or refrigerant alone. equipment: a key of EQUIPMENT, None where
    there is none, as in a purchase. charge_mg: None where it is not known. sealed: hermetically, and labelled so.
    dwelling: it stands in one. use: a key of USES, blank where nobody has said it. traits: keys of TRAITS that hold;
    undecided: those of which nobody has said whether they do."""

    equipment: str | None
    substance: str
    charge_mg: int | None = None
    sealed: bool = False
    dwelling: bool = False
    use: str = ""
    traits: frozenset[str] = frozenset()
    undecided: frozenset[str] = frozenset()
    installed_on: date | None = None

    @property
    def holding(self) -> frozenset[str]:
        """All of TRAITS that hold."""
        named = {"sealed": self.sealed, "dwelling": self.dwelling}
        return self.traits | {name for name, holds in named.items() if holds}


@dataclass(frozen=True)
class Gas:
    """Refrigerant on its way into a system. grade: one of GRADES. destination: one of DESTINATIONS, for what came out
    of a unit. origins: the kinds of equipment that it came out of; empty where that is not known. own: whether this
    shop recovered it, None: not known. labelled: whether its container says that it is recycled or reclaimed, by whom
    and in which batch, as far as the grade asks for it."""

    grade: str
    destination: str = "other-owner"
    origins: frozenset[str] = frozenset()
    own: bool | None = None
    labelled: bool = False


@dataclass(frozen=True)
class Bearing:
    """Whether a rule is about a system: True, False, or None where it depends on what nobody has said. asks: what must
    be said then, each in words that go on after "say whether" or "say"."""

    holds: bool | None
    asks: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        raise TypeError("A bearing has three values: ask whether `holds` is True, False or None.")


BEARS, BEARS_NOT = Bearing(True), Bearing(False)
USE_ASKED = "what kind of appliance it is"
EQUIPMENT_ASKED = "what equipment it is for"


@dataclass(frozen=True, kw_only=True)
class Scoped(Rule):
    """A rule about systems. equipment, substances: selectors. uses: of USES. only: of TRAITS, which must all hold;
    unless: of TRAITS, each of which takes a system out. regime: a name that exemptions may take systems out of."""

    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    uses: tuple[str, ...] = field(default=("*",), metadata={"words": ("*", *USES)})
    only: tuple[str, ...] = field(default=(), metadata={"words": tuple(TRAITS)})
    unless: tuple[str, ...] = field(default=(), metadata={"words": tuple(TRAITS)})
    regime: str = ""

    def bears_on(self, system: System) -> Bearing:
        """Whether it is about a system, exemptions aside (Rulebook.bears_on)."""
        if system.equipment is not None and not selects_equipment(self.equipment, system.equipment):
            return BEARS_NOT
        if not selects_substance(self.substances, system.substance):
            return BEARS_NOT
        if "*" not in self.uses and system.use and system.use not in self.uses:
            return BEARS_NOT
        if system.holding & set(self.unless) or set(self.only) - system.holding - system.undecided:
            return BEARS_NOT
        open_traits = [name for name in (*self.only, *self.unless) if name in system.undecided]
        asks = [f"whether {TRAITS[name]}" for name in open_traits]
        if "*" not in self.uses and not system.use:
            asks.append(USE_ASKED)
        return Bearing(None, tuple(asks)) if asks else BEARS


@dataclass(frozen=True, kw_only=True)
class Exemption(Scoped):
    """Systems that no rule of a regime is about."""

    def bears_on(self, system: System) -> Bearing:
        """Whether it takes a system out. Where no equipment is named, as in a purchase, it depends on that."""
        found = super().bears_on(system)
        if found.holds is False or system.equipment is not None or "*" in self.equipment:
            return found
        return Bearing(None, tuple(dict.fromkeys((EQUIPMENT_ASKED, *found.asks))))
