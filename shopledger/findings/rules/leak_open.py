"""A unit charged with a leak that was found and not repaired."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.leak_repair import charged_with_leak
from jobs.drafts.models import Job
from jobs.units.systems import system_of
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period, called, joined


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    jobs = Job.objects.filter(
        state="signed", day__gte=period.first, day__lte=period.last, leak_result="found, not repaired"
    )
    for job in jobs.filter(charged_mg__gt=0).select_related("unit").order_by("day", "id"):
        verdict = charged_with_leak(rules, system_of(job.unit, substance=job.substance), job.day)
        yield Finding(
            "high" if verdict.is_refused else "low" if verdict.is_open else "medium",
            "leak not repaired",
            verdict.cited or GOOD_PRACTICE,
            joined(
                f"Job {job.title} of {job.day}: ",
                called(job.unit.code, job.unit.title),
                f" was charged with its leak open. {verdict.said}",
            ),
            reverse("job", args=[job.pk]),
            job.day,
            verdict,
        )
