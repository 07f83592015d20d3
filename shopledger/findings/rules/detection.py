"""Equipment that must have a leak detection system, and has none on the period's last day."""

from collections.abc import Iterator

from django.db.models import Q
from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.detection import detection
from jobs.leaks.regular_checks import systems_of
from jobs.units.models import Unit
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period, called, joined, with_code


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    asking = rules.section("leak_detection", period.last)
    kinds = {kind.partition("/")[0] for rule in asking for kind in rule.equipment}
    if not kinds:
        return
    units = Unit.objects.exclude(refrigerant="").filter(Q(retired_on=None) | Q(retired_on__gt=period.last))
    if "*" not in kinds:
        units = units.filter(kind__in=kinds)
    for unit, system in systems_of(list(units.order_by("code")), period.last).items():
        verdict = detection(rules, system, period.last)
        if not (verdict.is_breach or verdict.is_open):
            continue
        yield Finding(
            "low" if verdict.is_open else "high",
            "leak detection",
            verdict.cited,
            joined(with_code(called(unit.code, unit.title)), f": {verdict.said}"),
            reverse("unit", args=[unit.pk]),
            verdict=verdict,
        )
