"""The clocks of a job's evacuation and hold: one tap keeps the moment."""

import datetime as dt

from django.db import transaction
from django.utils import timezone

from inventory.measures.days import said_day
from inventory.text.refusal import Refused
from jobs.drafts.actions import _saved, draft_for, may_be_told
from jobs.drafts.fields import BY_NAME, CLOCKS, JobField
from jobs.drafts.models import Job
from jobs.people.models import Person


def tap_clock(job_id: int, *, by: Person, clock: str, at: dt.datetime | None = None) -> Job:
    """Keep this moment, to the minute, as the one of CLOCKS named. One that is set stays: two people, or a late
    answer, do not move it. A stop within the minute of its start is a finger that came down twice.
    at: the moment by the phone's clock, of a tap that found no network. Raises Refused for one that cannot be."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        moment = timezone.now()
        if at is not None:
            if not may_be_told(job, at):
                told = timezone.localtime(at)
                raise Refused(
                    f"By the phone's clock this was tapped on {said_day(told)}, {told:%H:%M}, which is before the "
                    "job was started or has not come yet. Set the phone's clock, and enter the time by hand."
                )
            moment = min(at, moment)
        moment = moment.replace(second=0, microsecond=0)
        start = getattr(job, CLOCKS[clock]) if CLOCKS[clock] else None
        if getattr(job, clock) is None and (start is None or start < moment):
            setattr(job, clock, moment)
            job.version += 1
            job.save(update_fields=[clock, "version"])
            _saved(job, BY_NAME[clock].step, by)
        return job


def next_clock(job: Job) -> JobField | None:
    """The clock that is tapped next; None once all were."""
    return next((BY_NAME[name] for name in CLOCKS if getattr(job, name) is None), None)
