"""Equipment whose leak rate is over the rulebook's threshold; the threshold itself is not over it."""

from collections import defaultdict
from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rulebook import Rulebook
from jobs.units.leak_rate import Addition, over, rolling
from jobs.units.models import Unit
from jobs.work.models import Job
from jobs.work.queries import with_amounts
from shopledger.findings.finding import Finding, cited
from shopledger.reports.report import Period


def find(period: Period, book: Rulebook) -> Iterator[Finding]:
    units = Unit.objects.filter(
        kind__in=["stationary", "transport"], jobs__state="signed", jobs__day__gte=period.first,
        jobs__day__lte=period.last,
    ).distinct()  # fmt: skip
    found = {unit.pk: unit for unit in units}
    additions: dict[int, list[Addition]] = defaultdict(list)
    for job in with_amounts(Job.objects.filter(unit__in=found, state="signed", day__lte=period.last)):
        if job.charged > job.recovered:
            additions[job.unit_id].append(Addition(job.day, job.charged - job.recovered))
    basis = book.gwp_basis(period.last)
    for unit in found.values():
        full = unit.charge_target_mg
        if not full or not additions[unit.pk]:
            continue
        rule = book.leak_rate(unit.equipment, unit.refrigerant, full, gwp_or_none(unit.refrigerant, basis), period.last)
        rate = rolling(additions[unit.pk], full, period.last)
        if rule is not None and over(rate, rule.over_percent):
            yield Finding(
                "high", "leak rate", cited(rule),
                f"{unit.title} ({unit.code}) lost {float(rate):.1f} % of its charge in a year; over "
                f"{rule.over_percent} % it is to be repaired"
                + (f" within {rule.repair_days} days." if rule.repair_days else "."),
                reverse("unit", args=[unit.pk]),
            )  # fmt: skip
