"""Equipment whose regular check for leaks, or the check after a repair, is overdue on the period's last day."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from jobs.leaks.queries import checks_due
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period, called, joined, with_code


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for one in checks_due(rules, period.last):
        if not (one.check.overdue or "no check is recorded" in one.check.why):
            continue
        yield Finding(
            "high",
            "leak check",
            one.check.cited,
            joined(
                with_code(called(one.unit.code, one.unit.title)),
                f" was due for a leak check by {one.check.due}: {one.check.why}.",
            ),
            reverse("unit", args=[one.unit.pk]),
        )
