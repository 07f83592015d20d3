"""A scale that was used in the period while its check was overdue, or was never recorded."""

from collections.abc import Iterator

from django.db.models import Exists, OuterRef
from django.urls import reverse

from inventory.containers.models import Weighing
from inventory.reference.rulebook import Rulebook
from inventory.scales.queries import overdue
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    used = Weighing.objects.filter(scale=OuterRef("pk"), day__gte=period.first, day__lte=period.last)
    for one in overdue(period.last).filter(Exists(used)):
        since = f"was due on {one.checked_until}" if one.checked_until else "was never recorded"
        yield Finding(
            "low",
            "scale check",
            GOOD_PRACTICE,
            f"The check of scale {one.code} {since}.",
            reverse("scale", args=[one.pk]),
        )
