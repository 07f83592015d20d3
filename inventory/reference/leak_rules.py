"""Rules about leaks: how often equipment is checked, the rate over which a leak is repaired, and what a leak that was
found asks for. Masses are whole milligrams."""

from dataclasses import dataclass, field
from decimal import Decimal

from inventory.reference.rule import ENFORCEMENTS, Scoped, System

Threshold = Decimal | int | None


@dataclass(frozen=True, kw_only=True)
class LeakCheck(Scoped):
    """How often equipment is checked for leaks, by charge. at_least: that much and more; below: less.

    Thresholds are in tonnes of CO₂ equivalent or in mass; charge_over_mg: more than that. each_calendar_year: besides,
    in each year of the calendar. sealed_...: the threshold of equipment that is
    hermetically sealed and labelled so; sealed_home_...: of such equipment in a dwelling, besides the others.
    """

    months: int
    months_with_detection: int | None = None
    co2e_at_least_t: Decimal | None = None
    co2e_below_t: Decimal | None = None
    charge_at_least_mg: int | None = None
    charge_below_mg: int | None = None
    charge_over_mg: int | None = None
    each_calendar_year: bool = False
    sealed_co2e_at_least_t: Decimal | None = None
    sealed_charge_at_least_mg: int | None = None
    sealed_home_charge_at_least_mg: int | None = None
    detection_required: bool = False

    def applies(self, system: System, co2e_t: Decimal | None) -> bool:
        """Whether a charge falls under it. A CO₂ equivalent that is not known reaches no threshold."""
        from_t, from_mg = self.co2e_at_least_t, self.charge_at_least_mg
        if system.sealed:
            from_t = _higher(from_t, self.sealed_co2e_at_least_t)
            from_mg = _higher(from_mg, self.sealed_charge_at_least_mg)
            if system.dwelling:
                from_mg = _higher(from_mg, self.sealed_home_charge_at_least_mg)
        if (from_t is not None or self.co2e_below_t is not None) and co2e_t is None:
            return False
        if self.charge_over_mg is not None and system.charge_mg <= self.charge_over_mg:
            return False
        return _within(co2e_t, from_t, self.co2e_below_t) and _within(system.charge_mg, from_mg, self.charge_below_mg)


def _higher(one: Threshold, other: Threshold) -> Threshold:
    return max((value for value in (one, other) if value is not None), default=None)


def _within(value: Threshold, at_least: Threshold, below: Threshold) -> bool:
    return (at_least is None or value >= at_least) and (below is None or value < below)


@dataclass(frozen=True, kw_only=True)
class LeakRate(Scoped):
    """The leak rate over which a leak must be repaired. over_percent: that rate itself is not over it.

    full_charge_at_least_mg, gwp_over: equipment under it. chronic_percent: a loss in a calendar year from
    which on a report is due on report_due (month-day of the next year). inspect_months: how often equipment is
    inspected for leaks once its rate was over the limit, until it was not for inspect_until_months;
    inspect_large_months: how often from a full charge of inspect_large_from_mg on.
    """

    over_percent: Decimal
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
class LeakRepair(Scoped):
    """What a leak that was found asks for.

    stops_charge: no refrigerant goes in before the repair. repair_days: how soon it is repaired, isolated or emptied.
    recheck_after_hours, recheck_within_months: when
    the repaired place is checked again.
    """

    stops_charge: bool
    repair_days: int | None = None
    recheck_after_hours: int | None = None
    recheck_within_months: int | None = None
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})
