"""What the last signed visit of a unit says, offered on the next draft, and what one tap takes over from it.

Taken over is what belongs to the unit or to a habit; what was read, measured or found never is."""

from dataclasses import dataclass

from django.db import transaction
from django.db.models import Sum

from jobs.drafts.actions import draft_for
from jobs.drafts.models import Job
from jobs.drafts.queries import visits_of
from jobs.people.models import Person

# What is done the same way each time. A field that says a reading, a finding or an hour is none of these.
CARRIED_OVER = ("identified_how", "leak_method", "leak_detector")


@dataclass(frozen=True)
class LastTime:
    """visit: the signed job. oils: what was added, by its name, with its volume in uL. offers: fields of the draft that
    are still blank, by name, with what the visit says. ports: where the service ports are, as its unit says it."""

    visit: Job
    oils: tuple[tuple[str, int], ...]
    offers: dict[str, str]
    ports: str

    @property
    def has_range(self) -> bool:
        return self.visit.charge_min_mg is not None or self.visit.charge_max_mg is not None

    @property
    def found(self) -> str:
        """What was found and repaired, in its words."""
        return self.visit.repairs

    @property
    def offered(self) -> list[str]:
        """The values that one tap takes over."""
        return list(self.offers.values())


def last_time(job: Job) -> LastTime | None:
    """What is known from the unit's last signed visit, before a draft; None where it was never here. Two questions."""
    visit = visits_of(job.unit_id, 1, beside=job.number).first()
    if visit is None:
        return None
    oils = (
        visit.lines.filter(action="oil-add", quantity__gt=0)
        .values_list("container__substance__code")
        .annotate(Sum("quantity"))
        .order_by("container__substance__code")
    )
    return LastTime(visit, tuple(oils), _offers(job, visit), job.unit.ports)


def _offers(job: Job, visit: Job) -> dict[str, str]:
    values = {name: getattr(visit, name) for name in CARRIED_OVER}
    return {name: value for name, value in values.items() if value and not getattr(job, name)}


def carry_over(job_id: int, *, by: Person) -> Job:
    """Take over from the unit's last visit what is a habit, into fields of a draft that are blank. No step counts as
    done by that, and a second time takes over nothing: what is filled in stays. It is undone in the fields."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        visit = visits_of(job.unit_id, 1, beside=job.number).first()
        offers = _offers(job, visit) if visit else {}
        for name, value in offers.items():
            setattr(job, name, value)
        if offers:
            job.version += 1
            job.save(update_fields=[*offers, "version"])
        return job
