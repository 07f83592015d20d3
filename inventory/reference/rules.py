"""The sections of a rulebook, one class of rule for each; those about people, leaks and containers have files of their
own. Every rule names the text it stands in, the day that text was read, how well it is known, and the days on which it
applies (`rule.py`)."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory.reference.certificate_rules import CertificateDemand, CertificateScheme, Grant
from inventory.reference.container_rules import Retest, SafeFill, SingleUse, SmallCan
from inventory.reference.leak_rules import LeakCheck, LeakRate, LeakRepair
from inventory.reference.rule import (
    DESTINATIONS,
    ENFORCEMENTS,
    GRADES,
    PLACES,
    RECORDS,
    Rule,
    selects_equipment,
)


@dataclass(frozen=True, kw_only=True)
class Retention(Rule):
    """How many years records are kept. records: keys of RECORDS or "*".

    counted_from: the record's own day, or the end of what it is about (work, employment, use).
    """

    records: tuple[str, ...]
    years: int
    counted_from: str = field(default="record", metadata={"words": ("record", "end")})

    def may_go_from(self, day: date) -> date:
        """The first day on which a record of that day (or ended on it) need not be there any more."""
        try:
            return day.replace(year=day.year + self.years)
        except ValueError:  # 29 February, and there is none that year
            return date(day.year + self.years, 3, 1)


@dataclass(frozen=True, kw_only=True)
class GwpChoice(Rule):
    """The GWP basis on which this rulebook counts CO₂ equivalents."""

    basis: str


@dataclass(frozen=True, kw_only=True)
class Reuse(Rule):
    """Grades of refrigerant that may be charged, by the way from the unit it came from to that it goes to."""

    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    destinations: tuple[str, ...] = field(default=DESTINATIONS, metadata={"words": DESTINATIONS})
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class ServiceBan(Rule):
    """Refrigerant that may not be charged any more: of these grades, with a GWP of at least that."""

    grades: tuple[str, ...] = field(metadata={"words": GRADES})
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    gwp_at_least: Decimal | None = None
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class RecordKept(Rule):
    """A record that must be kept, and what must stand in it."""

    record: str = field(metadata={"words": tuple(RECORDS)})
    title: str
    fields: tuple[str, ...]
    equipment: tuple[str, ...] = ("*",)
    charge_over_mg: int | None = None
    charge_below_mg: int | None = None

    def asked_for(self, equipment: str | None = None, charge_mg: int | None = None) -> bool:
        """Whether it is asked for with that equipment and charge; what is not known does not take it away."""
        if equipment is not None and not selects_equipment(self.equipment, equipment):
            return False
        return charge_mg is None or (
            (self.charge_over_mg is None or charge_mg > self.charge_over_mg)
            and (self.charge_below_mg is None or charge_mg < self.charge_below_mg)
        )


@dataclass(frozen=True, kw_only=True)
class Duty(Rule):
    """A duty in words, for what no figure can check."""

    about: str
    sentence: str
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)


@dataclass(frozen=True, kw_only=True)
class Caution(Rule):
    """A short warning, where it is shown and for which substances."""

    key: str
    sentence: str
    places: tuple[str, ...] = field(metadata={"words": (*PLACES, "*")})
    substances: tuple[str, ...] = ("*",)


@dataclass(frozen=True, kw_only=True)
class Practice(Rule):
    """A figure of good practice that a shop may replace by its own, such as how long to evacuate."""

    key: str
    value: Decimal
    unit: str
    label: str


# The section of a rulebook file -> the rules it holds.
SECTIONS: dict[str, type[Rule]] = {
    "retention": Retention,
    "gwp": GwpChoice,
    "scheme": CertificateScheme,
    "grant": Grant,
    "certificate_demand": CertificateDemand,
    "reuse": Reuse,
    "service_ban": ServiceBan,
    "leak_check": LeakCheck,
    "leak_rate": LeakRate,
    "leak_repair": LeakRepair,
    "single_use": SingleUse,
    "retest": Retest,
    "small_can": SmallCan,
    "safe_fill": SafeFill,
    "record": RecordKept,
    "duty": Duty,
    "caution": Caution,
    "practice": Practice,
}
