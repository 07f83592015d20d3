"""Rules about leaks: how often equipment is checked, and what a leak that was found asks for. Masses are whole
milligrams."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory.reference.refrigerants import refrigerants
from inventory.reference.rule import ENFORCEMENTS, Scoped, System

Threshold = Decimal | int | None
PARTS = ("CFC", "HCFC", "HCFO", "HFC", "HFO", "PFC")  # kinds of gases of which a charge can be weighed alone


def part_mg(system: System, parts: tuple[str, ...]) -> Decimal | None:
    """What gases of these kinds weigh in a charge, in mg; of no kinds: all of it. None where the charge is not known,
    or the refrigerant."""
    found = refrigerants().get(system.substance)
    if system.charge_mg is None or (parts and found is None):
        return None
    return system.charge_mg * found.part_of(frozenset(parts)) if parts else Decimal(system.charge_mg)


@dataclass(frozen=True, kw_only=True)
class LeakCheck(Scoped):
    """How often equipment is checked for leaks, by charge. at_least: that much and more; below: less.

    Thresholds are in tonnes of CO₂ equivalent or in mass; charge_over_mg: more than that. parts: of PARTS, which alone
    are weighed; blank: the whole charge. each_calendar_year: besides, in each year of the calendar. sealed_...: the
    threshold of equipment that is hermetically sealed and labelled so; sealed_home_...: that takes the place of these
    where such equipment stands in a dwelling, in whole charge. counts_as_done: what else is as good as the check.
    """

    months: int
    months_with_detection: int | None = None
    co2e_at_least_t: Decimal | None = None
    co2e_below_t: Decimal | None = None
    charge_at_least_mg: int | None = None
    charge_below_mg: int | None = None
    charge_over_mg: int | None = None
    parts: tuple[str, ...] = field(default=(), metadata={"words": PARTS})
    each_calendar_year: bool = False
    sealed_co2e_at_least_t: Decimal | None = None
    sealed_charge_at_least_mg: int | None = None
    sealed_home_charge_at_least_mg: int | None = None
    counts_as_done: str = ""

    @property
    def asks_charge(self) -> bool:
        """Whether it depends on the charge."""
        names = ("co2e_at_least_t", "co2e_below_t", "charge_at_least_mg", "charge_below_mg", "charge_over_mg")
        return any(getattr(self, name) is not None for name in names)

    def applies(self, system: System, co2e_t: Decimal | None) -> bool:
        """Whether a charge, which must be known, falls under it. A CO₂ equivalent that is not known reaches no
        threshold."""
        mass = part_mg(system, self.parts) if self.asks_charge else Decimal(0)
        if mass is None or (self.charge_over_mg is not None and mass <= self.charge_over_mg):
            return False
        if (self.co2e_at_least_t is not None or self.co2e_below_t is not None) and co2e_t is None:
            return False
        within = _within(co2e_t, self.co2e_at_least_t, self.co2e_below_t)
        return (
            within and _within(mass, self.charge_at_least_mg, self.charge_below_mg) and not self._free(system, co2e_t)
        )

    def thresholds(self, system: System) -> tuple[Decimal | None, int | None, int | None]:
        """From how much on such a system falls under it, whatever its charge is now: in tonnes of CO₂ equivalent, in mg
        of its parts, and in mg of the whole charge where it is sealed and stands in a dwelling. None: not by that."""
        home = self.sealed_home_charge_at_least_mg
        if not system.sealed or (system.dwelling and home is not None):
            return self.co2e_at_least_t, self.charge_at_least_mg, home if system.sealed else None
        return (
            self.sealed_co2e_at_least_t or self.co2e_at_least_t,
            self.sealed_charge_at_least_mg or self.charge_at_least_mg,
            None,
        )

    def _free(self, system: System, co2e_t: Decimal | None) -> bool:
        """Whether it is sealed, labelled so, and small enough to be left out."""
        if not system.sealed:
            return False
        home = self.sealed_home_charge_at_least_mg
        if system.dwelling and home is not None:
            return system.charge_mg < home
        from_t, from_mg = self.sealed_co2e_at_least_t, self.sealed_charge_at_least_mg
        if from_t is None and from_mg is None:
            return False
        return not _within(co2e_t, from_t, None) or not _within(part_mg(system, self.parts), from_mg, None)


def _within(value: Threshold, at_least: Threshold, below: Threshold) -> bool:
    return (at_least is None or value >= at_least) and (below is None or value < below)


@dataclass(frozen=True, kw_only=True)
class LeakDetection(Scoped):
    """Equipment that a leak detection system must watch: from a charge on, in tonnes of CO₂ equivalent, in mass of
    `parts` as in LeakCheck; with a GWP over that. installed_from, installed_until: the days between which it was
    installed, both included. by_day: the day from which on it must be there; days: how long after the installation it
    may come. audit_months: how often the system itself is checked."""

    co2e_at_least_t: Decimal | None = None
    charge_at_least_mg: int | None = None
    parts: tuple[str, ...] = field(default=(), metadata={"words": PARTS})
    gwp_over: Decimal | None = None
    installed_from: date | None = None
    installed_until: date | None = None
    by_day: date | None = None
    days: int | None = None
    audit_months: int | None = None

    @property
    def asks_installation(self) -> bool:
        return self.installed_from is not None or self.installed_until is not None or self.days is not None

    def covers(self, system: System, co2e_t: Decimal | None, gwp: Decimal | None) -> bool:
        """Whether a charge, which must be known, falls under it, whenever it was installed. A CO₂ equivalent or a GWP
        that is not known reaches no threshold."""
        mass = part_mg(system, self.parts)
        if self.co2e_at_least_t is not None and (co2e_t is None or co2e_t < self.co2e_at_least_t):
            return False
        if self.charge_at_least_mg is not None and (mass is None or mass < self.charge_at_least_mg):
            return False
        return self.gwp_over is None or (gwp is not None and gwp > self.gwp_over)

    def installed_then(self, installed_on: date) -> bool:
        after = self.installed_from is None or installed_on >= self.installed_from
        return after and (self.installed_until is None or installed_on <= self.installed_until)


@dataclass(frozen=True, kw_only=True)
class LeakRepair(Scoped):
    """What a leak that was found asks for.

    stops_charge: no refrigerant goes in before the repair. repair_days: how soon it is repaired, isolated or emptied.
    recheck_within_months: by when the repaired place of equipment that is checked regularly is checked again;
    recheck_after_hours: not before so many hours of running, blank: at once, if need be.
    """

    stops_charge: bool
    repair_days: int | None = None
    recheck_after_hours: int | None = None
    recheck_within_months: int | None = None
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})
