"""The hold of a job's vacuum, judged by the shop's own limits, or else by those of its rulebook."""

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from inventory.shop.models import Shop
from jobs.drafts.models import Job
from jobs.planning.pressure_test import COMMON
from jobs.planning.vacuum import PASCALS, Hold, Water, beyond_the_air, highest_vacuum_inhg, hold_verdict, water_in


def limit(shop: Shop, job: Job, key: str, otherwise: float) -> tuple[float, str]:
    """A limit of good practice and whose it is: the shop's own, else the rulebook's on the job's day, else common
    practice."""
    own = getattr(shop, key)
    if own is not None:
        return float(own), "the shop's own limit"
    found = shop.rules.practice(key, job.day)
    return (float(found.value), found.cited()) if found else (otherwise, COMMON)


def practice(shop: Shop, job: Job, key: str, otherwise: float) -> float:
    """A limit of the evacuation, as `limit` has it."""
    return limit(shop, job, key, otherwise)[0]


def minutes(start: dt.datetime | None, end: dt.datetime | None) -> float | None:
    return (end - start).total_seconds() / 60 if start and end else None


def hold_of(job: Job, shop: Shop) -> Hold | None:
    """None where its readings are not both there."""
    if job.hold_start_pa is None or job.hold_end_pa is None:
        return None
    return hold_verdict(
        job.hold_start_pa,
        job.hold_end_pa,
        minutes(job.hold_started, job.hold_ended),
        most_pa=practice(shop, job, "hold_most_micron", 1000) * PASCALS["micron"],
        least_minutes=practice(shop, job, "hold_minutes", 10),
    )


@dataclass
class Vacuum:
    """What is known of the evacuation. highest: inHg that a gauge can read at the shop. running_seconds and
    holding_seconds: since the pump, the hold, was started; None where it does not run. water: what the vacuum does to
    water in the unit, None where its temperature is not known; doubt: of a reading that only weather makes possible."""

    highest: float
    boils_at: float | None
    hold: Hold | None
    minutes: float | None
    least_minutes: float
    running_seconds: int | None
    holding_seconds: int | None
    water: Water | None = None
    doubt: str = ""

    @property
    def running_minutes(self) -> int:
        return (self.running_seconds or 0) // 60

    @property
    def holding_minutes(self) -> int:
        return (self.holding_seconds or 0) // 60


def vacuum(job: Job, shop: Shop) -> Vacuum:
    return Vacuum(
        highest_vacuum_inhg(shop.altitude_m),
        _boils(job.vacuum_pa),
        hold_of(job, shop),
        minutes(job.evacuation_started, job.evacuation_ended),
        practice(shop, job, "evacuation_minutes", 30),
        running(job.evacuation_started, job.evacuation_ended or job.hold_started),
        running(job.hold_started, job.hold_ended),
        water_of(job),
        beyond_the_air(job.vacuum_said, shop.altitude_m) if job.vacuum_said and job.vacuum_pa == 0 else "",
    )


def water_of(job: Job) -> Water | None:
    """What the vacuum reached does to water in the unit; None where it, or the air's temperature there, is not
    known."""
    if not job.vacuum_pa or job.evacuation_c is None:
        return None
    return water_in(job.vacuum_pa, job.evacuation_c)


def running(start: dt.datetime | None, end: dt.datetime | None) -> int | None:
    """Seconds since a start that has no end yet."""
    return max(0, int((timezone.now() - start).total_seconds())) if start and not end else None


def _boils(pressure_pa: float | None) -> float | None:
    if not pressure_pa:
        return None
    from inventory.reference.properties import PropertyUnavailable, water_boiling_temperature

    try:
        return water_boiling_temperature(pressure_pa)
    except PropertyUnavailable:
        return None
