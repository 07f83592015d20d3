"""A delivery without its document number, or without the paper itself."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.receiving.queries import without_paper
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.records import Asked, records
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period

# What the voucher of a delivery always says: its day, the supplier, and each container with what is in it.
SAID = {"day", "who", "substance", "quantity", "container"}


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for voucher in without_paper(period.first, period.last):
        said = SAID | ({"document"} if voucher.document else set())
        why = next(iter(records(rules, Asked("purchase", "buyer"), said, voucher.day)), None)
        if voucher.document:
            severity, what = "low", f"the paper of document {voucher.document} is not attached"
        else:
            severity, what = "medium", "no document is named, and none is attached"
        yield Finding(
            severity,
            "invoice",
            why.cited if why else GOOD_PRACTICE,
            f"Delivery of {voucher.day}, voucher {voucher.number}: {what}.",
            reverse("voucher", args=[voucher.number]),
            voucher.day,
            why if why and why.is_breach else None,
        )
