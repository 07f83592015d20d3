"""Equipment whose regular check for leaks, or the check after a repair, is overdue on the period's last day; and
equipment of which that cannot be judged."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from jobs.leaks.queries import checks_due
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period, called, joined, with_code


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for one in checks_due(rules, period.last):
        check = one.check
        if not (check.overdue or check.is_open or "no check is recorded" in check.why):
            continue
        said = f": {check.why}" if check.is_open else f" was due for a leak check by {check.due}: {check.why}."
        yield Finding(
            "low" if check.is_open else "high",
            "leak check",
            check.cited,
            joined(with_code(called(one.unit.code, one.unit.title)), said),
            reverse("unit", args=[one.unit.pk]),
            verdict=check.verdict,
        )
