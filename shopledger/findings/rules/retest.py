"""A refillable container in use past its retest day."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.containers.retest import may_fill
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding, cited
from shopledger.reports.report import Period


def find(period: Period, book: Rulebook) -> Iterator[Finding]:
    due = Container.objects.filter(retired_on=None, void=False, retest_due__lte=period.last).select_related("account")
    for one in due.order_by("retest_due", "code"):
        rule = book.retest(one.kind, period.last)
        if rule is None or may_fill(one.retest_due, period.last, rule.through_month_end):
            continue
        yield Finding(
            "medium" if one.content else "low", "retest", cited(rule),
            f"The retest of {one.code} was due on {one.retest_due}; it may be emptied, and is not filled before it.",
            reverse("container", args=[one.code]),
        )  # fmt: skip
