"""A difference that weighing cannot explain, and nobody has."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.counting.queries import without_reason
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for one in without_reason(period.first, period.last).order_by("day", "id"):
        unit = "mL" if one.container.is_oil else "g"
        yield Finding(
            "medium",
            "difference without a reason",
            GOOD_PRACTICE,
            f"{one.container.code} on {one.day}: {one.outcome} of {show(abs(one.difference), unit)}, no reason given.",
            reverse("difference", args=[one.pk]),
            one.day,
        )
