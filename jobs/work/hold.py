"""The hold of a job's vacuum, judged by the shop's own limits, or else by those of its rulebook."""

import datetime as dt

from inventory.shop.models import Shop
from jobs.work.models import Job
from jobs.work.vacuum import PASCALS, Hold, hold_verdict


def practice(shop: Shop, job: Job, key: str, otherwise: float) -> float:
    """A limit of the evacuation: the shop's own, else the rulebook's on the job's day, else common practice."""
    own = getattr(shop, key)
    if own is not None:
        return float(own)
    found = shop.book.practice(key, job.day)
    return float(found.value) if found else otherwise


def minutes(start: dt.datetime | None, end: dt.datetime | None) -> float | None:
    return (end - start).total_seconds() / 60 if start and end else None


def hold_of(job: Job, shop: Shop) -> Hold | None:
    """None where its readings are not both there."""
    if job.hold_start_pa is None or job.hold_end_pa is None:
        return None
    return hold_verdict(
        job.hold_start_pa, job.hold_end_pa, minutes(job.hold_started, job.hold_ended),
        most_pa=practice(shop, job, "hold_most_micron", 1000) * PASCALS["micron"],
        least_minutes=practice(shop, job, "hold_minutes", 10),
    )  # fmt: skip
