"""A delivery without its document number, or without the paper itself."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.receiving.queries import without_paper
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    kept = next((one for one in rules.records_kept(period.last) if one.record == "purchase"), None)
    for voucher in without_paper(period.first, period.last):
        if voucher.document:
            severity, what = "low", f"the paper of document {voucher.document} is not attached"
        else:
            severity, what = "medium", "no document is named, and none is attached"
        yield Finding(
            severity,
            "invoice",
            cited(kept),
            f"Delivery of {voucher.day}, voucher {voucher.number}: {what}.",
            reverse("voucher", args=[voucher.number]),
            voucher.day,
        )
