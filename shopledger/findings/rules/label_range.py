"""A charge over the most on the label; the most itself is not over it."""

from collections.abc import Iterator

from django.db.models import F
from django.urls import reverse

from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period, Worded, joined


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last, charge_max_mg__isnull=False)
    for job in jobs.filter(charged_mg__gt=F("charge_max_mg")).order_by("day", "id"):
        over = show(job.charged_mg - job.charge_max_mg, "g")
        reason = job.reasons.get("over", "")
        yield Finding(
            "low" if reason else "medium",
            "charge over the label",
            GOOD_PRACTICE,
            joined(
                f"Job {job.title} of {job.day}: {over} over the most on the label",
                Worded(f"; reason given: {reason}.", "; a reason was given.") if reason else ", no reason given.",
            ),
            reverse("job", args=[job.pk]),
            job.day,
        )
