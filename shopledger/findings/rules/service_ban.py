"""Refrigerant charged that the rulebook no longer lets into that equipment: by its GWP, grade, origin and label; what
depletes ozone among it."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.service_ban import service_ban
from shopledger.findings.charged import charged
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["service_ban"]:
        return
    for one in charged(period):
        verdict = service_ban(rules, one.system, one.gas, one.job.day)
        if not (verdict.is_breach or verdict.is_open):
            continue
        yield Finding(
            "low" if verdict.is_open else "high",
            "service ban",
            verdict.cited,
            f"Job {one.job.title} of {one.job.day}: {one.gas.grade} {one.system.substance} of {one.container} was "
            f"charged. {verdict.said}",
            reverse("job", args=[one.job.pk]),
            one.job.day,
            verdict,
        )
