"""Work for which the company itself must hold a certificate, and has none on file that was valid on the day."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.verdicts.verdict import Verdict
from inventory.verdicts.work import company
from jobs.drafts.models import Job
from jobs.signing.doing import worked_on, works_of
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["company_demand"]:
        return
    shop = Shop.current()
    jobs = Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last)
    found: dict[str, list[tuple[Job, Verdict]]] = {"breach": [], "open": []}
    for job in jobs.select_related("unit").prefetch_related("lines").order_by("day", "id"):
        works = works_of((line.action for line in job.lines.all()), job.leak_checked)
        verdict = company(rules, works, worked_on(job), shop.is_certified_on(job.day), job.day)
        if verdict.is_breach or verdict.is_open:
            found["open" if verdict.is_open else "breach"].append((job, verdict))
    for answer, those in found.items():
        if those:
            (job, verdict), more = those[0], len(those) - 1
            others = f" So it is with {more} more of the period." if more else ""
            yield Finding(
                "low" if answer == "open" else "medium",
                "company certificate",
                verdict.cited,
                f"Job {job.title} of {job.day}: {verdict.said}{others}",
                reverse("settings"),
                job.day,
                verdict,
            )
