"""Equipment whose leak rate is over the rulebook's threshold; the threshold itself is not over it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from django.urls import reverse

from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rulebook import Rulebook
from inventory.reference.rules import LeakRate
from jobs.units.leak_rate import Addition, chronic, deadlines, over, rolling
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
    tight: dict[int, dt.date] = {}  # the last check that found no leak: earlier additions are of leaks that were mended
    seen: set[int] = set()
    jobs = with_amounts(Job.objects.filter(unit__in=found, state="signed", day__lte=period.last))
    for job in jobs.order_by("day", "id"):
        first, unit = job.unit_id not in seen, found[job.unit_id]
        seen.add(job.unit_id)
        # The first charge of a whole unit is an installation, no loss (82.157(b)).
        installed = first and not job.recovered and unit.charge_target_mg and job.charged >= unit.charge_target_mg * 0.9
        if job.charged > job.recovered and not installed:
            additions[job.unit_id].append(Addition(job.day, job.charged - job.recovered))
        if job.leak_result == "none found":
            tight[job.unit_id] = job.day
    basis = book.gwp_basis(period.last)
    for unit in found.values():
        full = unit.charge_target_mg
        if not full or not additions[unit.pk]:
            continue
        value = gwp_or_none(unit.refrigerant, basis)
        rule = book.leak_rate(unit.equipment, unit.refrigerant, full, value, period.last)
        if rule is None:
            continue
        yield from _over(
            unit, rule, rolling(additions[unit.pk], full, period.last, tight.get(unit.pk)), additions[unit.pk]
        )
        yield from _chronic(unit, rule, additions[unit.pk], full, period)


def _over(unit: Unit, rule: LeakRate, rate: Fraction, additions: list[Addition]) -> Iterator[Finding]:
    if not over(rate, rule.over_percent):
        return
    by = f" by {deadlines(additions[-1].day, rule.repair_days).repair_by}" if rule.repair_days else ""
    yield Finding(
        "high", "leak rate", cited(rule),
        f"{unit.title} ({unit.code}) lost {float(rate):.1f} % of its charge in a year; over {rule.over_percent} % it "
        f"is to be repaired{by}.", reverse("unit", args=[unit.pk]),
    )  # fmt: skip


def _chronic(
    unit: Unit, rule: LeakRate, additions: list[Addition], full: int, period: Period
) -> Iterator[Finding]:  # fmt: skip
    """So much lost in a calendar year that it is reported in the next."""
    if rule.chronic_percent is None:
        return
    for year in range(period.first.year, period.last.year + 1):
        lost = sum(one.mg for one in additions if one.day.year == year)
        if chronic(lost, full, int(rule.chronic_percent)):
            yield Finding(
                "high", "chronic leak", cited(rule),
                f"{unit.title} ({unit.code}) lost {lost * 100 / full:.1f} % of its charge in {year}; at "
                f"{rule.chronic_percent} % and more it is reported by {year + 1}-{rule.report_due}.",
                reverse("unit", args=[unit.pk]),
            )  # fmt: skip
