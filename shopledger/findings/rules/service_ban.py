"""Refrigerant charged that the rulebook no longer lets into that equipment, by its GWP and grade."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.ledger.models import Movement
from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["service_ban"]:
        return
    charged = Movement.objects.filter(
        day__gte=period.first,
        day__lte=period.last,
        source_class=1,
        target_class=4,
        reversal=False,
        substance__is_oil=False,
        voucher__kind="job",
    )
    rows = set(charged.values_list("voucher_id", "substance__code", "source__grade"))
    jobs = {
        job.voucher_id: job
        for job in Job.objects.filter(state="signed", voucher__in={row[0] for row in rows}).select_related("unit")
    }
    for voucher, code, grade in sorted(rows):
        job = jobs.get(voucher)
        if job is None:
            continue
        value = gwp_or_none(code, rules.gwp_basis(job.day))
        rule = rules.service_ban(job.unit.equipment, code, grade, value, job.day)
        if rule is not None:
            yield Finding(
                "high",
                "service ban",
                cited(rule),
                f"Job {job.title} of {job.day}: {grade} {code} (GWP {value}) was charged; it may not be any more.",
                reverse("job", args=[job.pk]),
                job.day,
            )
