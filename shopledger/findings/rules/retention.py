"""Records that are older than they must be kept: they may go, and none younger may."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.ledger.models import Voucher
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    oldest = Voucher.objects.order_by("day").values_list("day", flat=True).first()
    rule = rules.retention("job", period.last)
    if oldest is None or rule is None or rule.may_go_from(oldest) > period.last:
        return
    yield Finding(
        "low",
        "retention",
        cited(rule),
        f"Records reach back to {oldest}; what is older than {rule.years} years need not be kept any more, and nothing "
        "younger may go. The ledger itself deletes nothing.",
        reverse("ledger"),
    )
