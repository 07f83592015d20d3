"""A unit charged with a leak that was found and not repaired."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period, called, joined


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    jobs = Job.objects.filter(
        state="signed", day__gte=period.first, day__lte=period.last, leak_result="found, not repaired"
    )
    for job in jobs.filter(charged_mg__gt=0).select_related("unit").order_by("day", "id"):
        rule = rules.leak_repair(job.unit.equipment, job.substance, job.day)
        yield Finding(
            "high" if rule is not None and rule.stops_charge else "medium",
            "leak not repaired",
            cited(rule),
            joined(
                f"Job {job.title} of {job.day}: ",
                called(job.unit.code, job.unit.title),
                " was charged with its leak open.",
            ),
            reverse("job", args=[job.pk]),
            job.day,
        )
