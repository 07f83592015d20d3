"""Refrigerant charged in a grade that the rulebook does not let back, such as recovered and not recycled."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.reuse import reuse
from shopledger.findings.charged import charged
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["reuse"]:
        return
    for one in charged(period):
        verdict = reuse(rules, one.system, one.gas, one.job.day)
        if not (verdict.is_breach or verdict.is_open):
            continue
        yield Finding(
            "low" if verdict.is_open else "high" if verdict.is_refused else "medium",
            "reuse",
            verdict.cited,
            f"Job {one.job.title} of {one.job.day}: {one.gas.grade} refrigerant of {one.container} was charged. "
            f"{verdict.said}",
            reverse("job", args=[one.job.pk]),
            one.job.day,
            verdict,
        )
