"""The pressure test of a job, judged by the shop's own limits, or else by those of its rulebook."""

from dataclasses import dataclass

from inventory.shop.models import Shop
from jobs.drafts.clocks import next_clock
from jobs.drafts.fields import JobField
from jobs.drafts.hold import limit, minutes, running
from jobs.drafts.models import Job
from jobs.planning.pressure_test import (
    LEAST_MINUTES,
    MOST_PERCENT,
    Limits,
    PressureTest,
    Reading,
    pressure_verdict,
)


def limits_of(job: Job, shop: Shop) -> Limits:
    least, minutes_by = limit(shop, job, "test_minutes", LEAST_MINUTES)
    most, percent_by = limit(shop, job, "test_most_percent", MOST_PERCENT)
    return Limits(least, most, minutes_by, percent_by)


def pressure_test_of(job: Job, shop: Shop) -> PressureTest | None:
    """None where its readings are not both there."""
    if job.test_start_pa is None or job.test_end_pa is None:
        return None
    return pressure_verdict(
        job.test_medium,
        Reading(job.test_start_pa, job.test_start_c),
        Reading(job.test_end_pa, job.test_end_c),
        minutes(job.test_started, job.test_ended),
        limits_of(job, shop),
    )


@dataclass(frozen=True)
class UnderTest:
    """What is known of the pressure test, for its step. verdict: None where a reading is missing; minutes: None where a
    clock is; standing_seconds: since the test pressure was reached, None where it does not stand."""

    limits: Limits
    verdict: PressureTest | None
    minutes: float | None
    standing_seconds: int | None
    clock: JobField | None

    @property
    def standing_minutes(self) -> int:
        return (self.standing_seconds or 0) // 60


def under_test(job: Job, shop: Shop) -> UnderTest:
    return UnderTest(
        limits_of(job, shop),
        pressure_test_of(job, shop),
        minutes(job.test_started, job.test_ended),
        running(job.test_started, job.test_ended),
        next_clock(job, "test"),
    )
