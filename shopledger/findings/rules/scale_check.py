"""A scale whose check is overdue, or that was never checked."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.scales.queries import overdue
from shopledger.findings.finding import Finding
from shopledger.reports.report import Period


def find(period: Period, book: Rulebook) -> Iterator[Finding]:
    for one in overdue(period.last):
        since = f"was due on {one.checked_until}" if one.checked_until else "was never recorded"
        yield Finding(
            "low", "scale check", "good practice", f"The check of scale {one.code} {since}.",
            reverse("scale", args=[one.pk]),
        )  # fmt: skip
