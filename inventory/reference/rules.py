"""What a rulebook says, one class for each kind of rule, and the words that its files may use.

Every rule names the text it stands in, the day that text was read, how well it is known, and the days on
which it applies. Masses are whole milligrams, GWP and tonnes of CO₂ equivalent are Decimal.
"""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cache

from inventory.reference.kinds import KINDS, with_trait
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
CONTAINER_KINDS = tuple(KINDS)

Threshold = Decimal | int | None

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

SAFE_FILL_METHODS = {
    "share-of-liquid": "a share of the water capacity × the liquid density at a temperature",
    "p200": "the filling ratio of ADR P200, from table 2 or by (5)(c)",
    "liquid-full": "not full of liquid at a temperature",
    "filling-density": "the filling density of 49 CFR 173.304a(a)(2)",
}


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
class CertificateScheme(Rule):
    """A certificate that people may hold. code "*" stands for any scheme.

    expiry: "never", "may" or "must" carry an expiry day. refresh_years: how often it must be refreshed;
    refresh_first_due: the day by which the first refresher is due for those certified before.
    """

    code: str
    title: str
    aliases: tuple[str, ...] = ()
    expiry: str = field(default="may", metadata={"words": ("never", "may", "must")})
    refresh_years: int | None = None
    refresh_first_due: date | None = None


@dataclass(frozen=True, kw_only=True)
class Grant(Rule):
    """What certificates allow: work × equipment × substances, and only up to a charge where one is given.

    charge_below_mg and sealed_charge_below_mg: less than; charge_most_mg: up to and including.
    """

    schemes: tuple[str, ...]
    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    charge_below_mg: int | None = None
    sealed_charge_below_mg: int | None = None
    charge_most_mg: int | None = None

    def covers(
        self, work: str, equipment: str | None, substance: str, charge_mg: int | None, sealed: bool = False
    ) -> bool:
        """Whether it allows this. Equipment or a charge that is not known counts as within the limits."""
        if work not in self.work:
            return False
        if equipment is not None and not selects_equipment(self.equipment, equipment):
            return False
        if not selects_substance(self.substances, substance):
            return False
        if charge_mg is None:
            return True
        below = self.charge_below_mg
        if sealed and self.sealed_charge_below_mg is not None:
            below = self.sealed_charge_below_mg
        return (below is None or charge_mg < below) and (
            self.charge_most_mg is None or charge_mg <= self.charge_most_mg
        )


@dataclass(frozen=True, kw_only=True)
class CertificateDemand(Rule):
    """Work for which a person must hold a certificate that allows it, valid on the day of the work.

    trainee_months: how long someone without one may work under supervision; None: not at all.
    container_below_mg: only for a container made to hold less than that.
    """

    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})
    trainee_months: int | None = None
    container_below_mg: int | None = None

    def holds_for(self, container_mg: int | None) -> bool:
        """Whether it holds for a container made to hold that much. One that is not known counts as small."""
        return self.container_below_mg is None or container_mg is None or container_mg < self.container_below_mg


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
class LeakCheck(Rule):
    """How often equipment is checked for leaks, by charge. at_least: that much and more; below: less.

    Thresholds are in tonnes of CO₂ equivalent or in mass. sealed_...: the threshold of equipment that is
    hermetically sealed and labelled so; sealed_home_...: of such equipment in a dwelling, besides the others.
    """

    months: int
    months_with_detection: int | None = None
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    co2e_at_least_t: Decimal | None = None
    co2e_below_t: Decimal | None = None
    charge_at_least_mg: int | None = None
    charge_below_mg: int | None = None
    sealed_co2e_at_least_t: Decimal | None = None
    sealed_charge_at_least_mg: int | None = None
    sealed_home_charge_at_least_mg: int | None = None
    detection_required: bool = False

    def applies(self, charge_mg: int, co2e_t: Decimal | None, sealed: bool = False, dwelling: bool = False) -> bool:
        """Whether a charge falls under it. A CO₂ equivalent that is not known reaches no threshold."""
        from_t, from_mg = self.co2e_at_least_t, self.charge_at_least_mg
        if sealed:
            from_t = _higher(from_t, self.sealed_co2e_at_least_t)
            from_mg = _higher(from_mg, self.sealed_charge_at_least_mg)
            if dwelling:
                from_mg = _higher(from_mg, self.sealed_home_charge_at_least_mg)
        if (from_t is not None or self.co2e_below_t is not None) and co2e_t is None:
            return False
        return _within(co2e_t, from_t, self.co2e_below_t) and _within(charge_mg, from_mg, self.charge_below_mg)


def _higher(one: Threshold, other: Threshold) -> Threshold:
    return max((value for value in (one, other) if value is not None), default=None)


def _within(value: Threshold, at_least: Threshold, below: Threshold) -> bool:
    return (at_least is None or value >= at_least) and (below is None or value < below)


@dataclass(frozen=True, kw_only=True)
class LeakRate(Rule):
    """The leak rate over which a leak must be repaired. over_percent: that rate itself is not over it.

    full_charge_at_least_mg, gwp_over: equipment under it. chronic_percent: a loss in a calendar year from
    which on a report is due on report_due (month-day of the next year). inspect_months: how often equipment is
    inspected for leaks once its rate was over the limit, until it was not for inspect_until_months;
    inspect_large_months: how often from a full charge of inspect_large_from_mg on.
    """

    over_percent: Decimal
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    methods: tuple[str, ...] = field(default=("annualizing", "rolling"), metadata={"words": ("annualizing", "rolling")})
    full_charge_at_least_mg: int | None = None
    gwp_over: Decimal | None = None
    repair_days: int | None = None
    verify_days: int | None = None
    follow_up_days: int | None = None
    chronic_percent: Decimal | None = None
    report_due: str = ""
    inspect_months: int | None = None
    inspect_large_from_mg: int | None = None
    inspect_large_months: int | None = None
    inspect_until_months: int = 12

    def applies(self, full_charge_mg: int, gwp: Decimal | None) -> bool:
        if self.full_charge_at_least_mg is not None and full_charge_mg < self.full_charge_at_least_mg:
            return False
        return self.gwp_over is None or (gwp is not None and gwp > self.gwp_over)


@dataclass(frozen=True, kw_only=True)
class LeakRepair(Rule):
    """What a leak that was found asks for.

    stops_charge: no refrigerant goes in before the repair. recheck_after_hours, recheck_within_months: when
    the repaired place is checked again.
    """

    stops_charge: bool
    equipment: tuple[str, ...] = ("*",)
    substances: tuple[str, ...] = ("*",)
    recheck_after_hours: int | None = None
    recheck_within_months: int | None = None
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class SingleUse(Rule):
    """Containers into which no refrigerant may go, neither from another container nor by recovery."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class Retest(Rule):
    """How often a container is tested. years: what to suggest where the container's stamp names no day.
    tare_loss_percent: one whose tare is down by so much or more is tested again before its day."""

    kinds: tuple[str, ...] = field(metadata={"words": CONTAINER_KINDS})
    years: int
    fill_when_overdue: bool = False
    use_when_overdue: bool = True
    through_month_end: bool = True
    tare_loss_percent: Decimal | None = None
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})


@dataclass(frozen=True, kw_only=True)
class SmallCan(Rule):
    """Small cans: the most they are made to hold, and whether buying them needs a certificate.

    self_sealing_from: cans made on or after that day close by themselves and leak at most that many g a year.
    """

    holds_most_mg: int | None = None
    holds_below_mg: int | None = None
    substances: tuple[str, ...] = ("*",)
    needs_certificate: bool
    self_sealing_from: date | None = None
    leak_most_g_year: Decimal | None = None

    def is_small(self, designed_for_mg: int) -> bool:
        return (self.holds_most_mg is None or designed_for_mg <= self.holds_most_mg) and (
            self.holds_below_mg is None or designed_for_mg < self.holds_below_mg
        )


@dataclass(frozen=True, kw_only=True)
class SafeFill(Rule):
    """One limit on what a refillable container may hold; the lowest limit governs. share: a fraction."""

    method: str = field(metadata={"words": tuple(SAFE_FILL_METHODS)})
    at_celsius: Decimal | None = None
    share: Decimal | None = None
    kinds: tuple[str, ...] = field(default=tuple(with_trait("refillable")), metadata={"words": CONTAINER_KINDS})

    def __post_init__(self) -> None:
        if self.method in ("share-of-liquid", "liquid-full") and self.at_celsius is None:
            raise ValueError(f"at_celsius: is missing: {self.method} needs a temperature.")
        if self.method == "share-of-liquid" and not (self.share and 0 < self.share <= 1):
            raise ValueError("share: write a fraction above 0 and up to 1.")


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
