"""Repairs of leaks after which the place was checked again too late: what was not checked at all is a leak check that
is overdue."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.leak_repair import check_again
from jobs.drafts.models import Job
from jobs.leaks.regular_checks import REPAIRED, systems_of, visits_of_units
from jobs.units.models import Unit
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period, called, joined, with_code


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not any(rule.recheck_within_months for rule in rules.section("leak_repair", period.last)):
        return
    jobs = Job.objects.filter(state="signed", day__lte=period.last, leak_result=REPAIRED)
    units = list(Unit.objects.filter(pk__in=jobs.order_by().values("unit")).order_by("code"))
    systems, seen = systems_of(units, period.last), visits_of_units([unit.pk for unit in units], period.last)
    for unit in units:
        repairs = seen[unit.pk].repairs
        for at, (repaired_on, since) in enumerate(repairs):
            verdict = check_again(rules, systems[unit], repaired_on, since, period.last)
            checked_in = any(period.first <= one.day <= period.last for one in since)
            if not verdict.is_breach or (verdict.by is not None and at == len(repairs) - 1) or not checked_in:
                continue
            yield Finding(
                "medium",
                "check after a repair",
                verdict.cited,
                joined(with_code(called(unit.code, unit.title)), f": {verdict.said}"),
                reverse("unit", args=[unit.pk]),
                repaired_on,
                verdict,
            )
