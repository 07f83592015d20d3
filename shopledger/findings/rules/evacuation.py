"""A system that was open and was charged without an evacuation on record, or a reason."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    jobs = Job.objects.filter(
        state="signed",
        day__gte=period.first,
        day__lte=period.last,
        system_opened=True,
        evacuation_ended=None,
        vacuum_pa=None,
    )
    for job in jobs.filter(charged_mg__gt=0).order_by("day", "id"):
        if job.reasons.get("evacuation"):
            continue
        yield Finding(
            "medium",
            "no evacuation",
            GOOD_PRACTICE,
            f"Job {job.title} of {job.day}: the system was open and was charged; no evacuation is recorded.",
            reverse("job", args=[job.pk]),
            job.day,
        )
