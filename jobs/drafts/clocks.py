"""The clocks of a job's pressure test, evacuation and hold: one tap keeps the moment."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone

from inventory.measures.days import said_day
from inventory.text.refusal import Refused
from jobs.drafts.actions import _saved, draft_for, may_be_told
from jobs.drafts.fields import BY_NAME, CLOCKS, FIGURE_OF, JobField, asked_in
from jobs.drafts.models import Job
from jobs.people.models import Person


def tap_clock(job_id: int, *, by: Person, clock: str, at: dt.datetime | None = None) -> Job:
    """Keep this moment, to the minute, as the one of CLOCKS named. One that is set stays: two people, or a late
    answer, do not move it. A stop within the minute of its start is a finger that came down twice.
    at: the moment by the phone's clock, of a tap that found no network. Raises Refused for one that cannot be."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        if _tap(job, clock, _moment(job, at)):
            job.version += 1
            job.save(update_fields=[clock, "version"])
            _saved(job, BY_NAME[clock].step, by)
        return job


REACHED, HELD = "reached", "held"
# What one tap beside a reading of the vacuum keeps: clocks, and readings. At the vacuum reached the valve is shut and
# the pump stopped, and the hold begins with that very reading.
MARKS = {
    REACHED: (("evacuation_ended", "hold_started"), ("vacuum_said", "hold_start_said")),
    HELD: (("hold_ended",), ("hold_end_said",)),
}


@dataclass(frozen=True)
class VacuumRead:
    """said: as it was typed, with its unit; pascal: absolute; sure: reasons for a reading that was asked about."""

    said: str
    pascal: float
    sure: Mapping[str, str] = field(default_factory=dict)


def mark_vacuum(
    job_id: int,
    *,
    by: Person,
    mark: str,
    read: VacuumRead,
    at: dt.datetime | None = None,
) -> Job:
    """Keep a reading of the vacuum with the moment that it was read at. mark: REACHED or HELD; at: as for a clock. What
    is set stays, as for a clock."""
    clocks, readings = MARKS[mark]
    with transaction.atomic():
        job = draft_for(job_id, by)
        moment = _moment(job, at)
        changed = [name for name in clocks if _runs(job, name) and _tap(job, name, moment)]
        for name in readings:
            if not getattr(job, name):
                setattr(job, name, read.said)
                setattr(job, FIGURE_OF[name], read.pascal)
                changed += [name, FIGURE_OF[name]]
        if changed:
            job.reasons = {**job.reasons, **read.sure}
            job.version += 1
            job.save(update_fields=[*changed, "reasons", "version"])
            _saved(job, "evacuate", by)
        return job


def _runs(job: Job, clock: str) -> bool:
    """Whether a clock can be tapped: one that ends something only where that was begun."""
    return clock == "hold_started" or getattr(job, CLOCKS[clock]) is not None


def _moment(job: Job, at: dt.datetime | None) -> dt.datetime:
    """To the minute. Raises Refused for a moment by a phone's clock that cannot be."""
    moment = timezone.now()
    if at is not None:
        if not may_be_told(job, at):
            told = timezone.localtime(at)
            raise Refused(
                f"By the phone's clock this was tapped on {said_day(told)}, {told:%H:%M}, which is before the "
                "job was started or has not come yet. Set the phone's clock, and enter the time by hand."
            )
        moment = min(at, moment)
    return moment.replace(second=0, microsecond=0)


def _tap(job: Job, clock: str, moment: dt.datetime) -> bool:
    """Set a clock, unless it is set, or was begun within the same minute. Whether it was. Raises Refused for the end of
    what was not begun."""
    start = getattr(job, CLOCKS[clock]) if CLOCKS[clock] else None
    if CLOCKS[clock] and start is None:
        raise Refused("This was not begun yet, so it cannot end; tap its start first, or enter both times by hand.")
    if getattr(job, clock) is not None or (start is not None and start >= moment):
        return False
    setattr(job, clock, moment)
    return True


def next_clock(job: Job, step: str = "evacuate") -> JobField | None:
    """The clock of a step that is tapped next; None once all were."""
    return next((one for one in asked_in(step) if one.tap and getattr(job, one.name) is None), None)
