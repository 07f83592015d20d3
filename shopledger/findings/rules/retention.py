"""Records that are older than they must be kept: they may go, and none younger may."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.ledger.models import Voucher
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.retention import OnFile, kept
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    oldest = Voucher.objects.order_by("day").values_list("day", flat=True).first()
    if oldest is None:
        return
    why = kept(rules, OnFile("job", oldest), period.last)
    if why.answer != "free" or not why.rules:
        return
    years = why.rules[0].years
    yield Finding(
        "low",
        "retention",
        why.cited,
        f"Records reach back to {oldest}; what is older than {years} years need not be kept any more, and nothing "
        "younger may go. The ledger itself deletes nothing.",
        reverse("ledger"),
        verdict=why,
    )
