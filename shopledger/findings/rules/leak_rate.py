"""Equipment whose leak rate is over the rulebook's threshold; the threshold itself is not over it."""

from collections.abc import Iterator
from fractions import Fraction

from django.urls import reverse

from inventory.reference.leak_rules import LeakRate
from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rulebook import Rulebook
from jobs.leaks.leak_rate import Addition, chronic, deadlines, over
from jobs.leaks.queries import histories_of
from jobs.units.models import Unit
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period, called, joined, with_code


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    units = Unit.objects.filter(
        kind__in=["stationary", "transport"],
        jobs__state="signed",
        jobs__day__gte=period.first,
        jobs__day__lte=period.last,
    ).distinct()
    histories = histories_of(units, period.last)
    basis = rules.gwp_basis(period.last)
    for unit in units:
        full, history = unit.charge_target_mg, histories[unit.pk]
        if not full or not history.additions:
            continue
        value = gwp_or_none(unit.refrigerant, basis)
        rule = rules.leak_rate(unit.equipment, unit.refrigerant, full, value, period.last)
        if rule is None:
            continue
        yield from _over(unit, rule, history.rate(full, period.last), history.additions)
        yield from _chronic(unit, rule, history.additions, full, period)


def _over(unit: Unit, rule: LeakRate, rate: Fraction, additions: list[Addition]) -> Iterator[Finding]:
    if not over(rate, rule.over_percent):
        return
    by = f" by {deadlines(additions[-1].day, rule.repair_days).repair_by}" if rule.repair_days else ""
    yield Finding(
        "high",
        "leak rate",
        cited(rule),
        joined(
            with_code(called(unit.code, unit.title)),
            f" lost {float(rate):.1f} % of its charge in a year; over {rule.over_percent} % it is to be repaired{by}.",
        ),
        reverse("unit", args=[unit.pk]),
    )


def _chronic(unit: Unit, rule: LeakRate, additions: list[Addition], full: int, period: Period) -> Iterator[Finding]:
    """So much lost in a calendar year that it is reported in the next."""
    if rule.chronic_percent is None:
        return
    for year in range(period.first.year, period.last.year + 1):
        lost = sum(one.mg for one in additions if one.day.year == year)
        if chronic(lost, full, int(rule.chronic_percent)):
            yield Finding(
                "high",
                "chronic leak",
                cited(rule),
                joined(
                    with_code(called(unit.code, unit.title)),
                    f" lost {lost * 100 / full:.1f} % of its charge in {year}; at {rule.chronic_percent} % and more it "
                    f"is reported by {year + 1}-{rule.report_due}.",
                ),
                reverse("unit", args=[unit.pk]),
            )
