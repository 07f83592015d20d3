"""Refrigerant that was charged into a unit designed for another, or before it was tested for leaks."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job
from jobs.signing.charging import charge_verdicts
from jobs.signing.doing import designed_for, worked_on
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period

CALLED = {"designed-for": "designed for another", "untested": "charged untested"}


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not (rules.sections["prohibited_charging"] or rules.sections["leak_test"]):
        return
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last, charged_mg__gt=0)
    for job in jobs.exclude(substance="").select_related("unit").order_by("day", "id"):
        said = charge_verdicts(rules, worked_on(job), designed_for(job.unit), job.leak_result, job.day)
        for key, verdict in said.items():
            if verdict.is_open or verdict.is_breach:
                yield _finding(job, CALLED[key], verdict)


def _finding(job: Job, rule: str, verdict: Verdict) -> Finding:
    severity = "low" if verdict.is_open else "high" if verdict.is_refused else "medium"
    what = f"Job {job.title} of {job.day}: {verdict.said}"
    return Finding(severity, rule, verdict.cited, what, reverse("job", args=[job.pk]), job.day, verdict)
