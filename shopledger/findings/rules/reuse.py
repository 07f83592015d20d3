"""Refrigerant charged in a grade that the rulebook does not let back, such as recovered and not recycled."""

from collections.abc import Iterator

from django.db import connection
from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job
from jobs.signing.origins import USED, destination, origins_of
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period

CHARGED = """
SELECT DISTINCT m.voucher_id, a.name, a.grade FROM inventory_movement m JOIN inventory_account a ON a.id = m.source_id
WHERE m.day >= %s AND m.day <= %s AND m.source_class = 1 AND m.target_class = 4 AND m.reversal = %s
  AND a.grade NOT IN ('virgin', '')
"""


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    with connection.cursor() as cursor:
        cursor.execute(CHARGED, [period.first.isoformat(), period.last.isoformat(), False])
        rows = cursor.fetchall()
    jobs = {
        job.voucher_id: job
        for job in Job.objects.filter(state="signed", voucher__in={row[0] for row in rows}).select_related("unit")
    }
    origins = origins_of({code for _, code, grade in rows if grade in USED})
    for voucher, code, grade in sorted(rows):
        job = jobs.get(voucher)
        if job is None:
            continue
        where = destination(job.unit, code, origins) if grade in USED else "other-owner"
        rule = rules.reuse(job.unit.equipment, job.substance, where, job.day)
        if rule is None or grade in rule.grades:
            continue
        yield Finding(
            "high" if rule.enforcement == "refuse" else "medium",
            "reuse",
            cited(rule),
            f"Job {job.title} of {job.day}: {grade} refrigerant of {code} was charged; allowed are "
            f"{', '.join(rule.grades)}.",
            reverse("job", args=[job.pk]),
            job.day,
        )
