"""So much refrigerant that had got out of a leaking unit when it was filled again that the release is reported.

What got out is read as what went in at a visit on which a leak was found, less what was recovered: more may have.
"""

from collections.abc import Iterator

from django.db.models import F
from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.releases import released
from jobs.drafts.models import Job
from jobs.signing.doing import worked_on
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period

LEAKED = ("found and repaired", "found, not repaired")
MADE_UP = ("", "leak")  # what a charge is: not said, or what makes up for a leak


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["release_report"]:
        return
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last)
    jobs = jobs.filter(leak_result__in=LEAKED, charge_why__in=MADE_UP, charged_mg__gt=F("recovered_mg"))
    for job in jobs.select_related("unit").order_by("day", "id"):
        verdict = released(rules, worked_on(job), job.charged_mg - job.recovered_mg, job.day)
        if verdict.by is not None or verdict.is_open:
            severity = "low" if verdict.is_open else "high"
            what = f"Job {job.title} of {job.day}, on which a leak was found: {verdict.said}"
            yield Finding(severity, "release", verdict.cited, what, reverse("job", args=[job.pk]), job.day, verdict)
