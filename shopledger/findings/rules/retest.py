"""A refillable container in use past its retest day, or so much lighter than it was that it is tested before."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.containers.retest import worn
from inventory.counting.models import TareChange
from inventory.ledger.models import stands
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.retested import retested
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    due = Container.objects.filter(retired_on=None, void=False, retest_due__lte=period.last).select_related("account")
    for one in due.order_by("retest_due", "code"):
        filled = retested(rules, one.kind, one.retest_due, period.last)
        if not filled.is_breach:
            continue
        used = retested(rules, one.kind, one.retest_due, period.last, "use")
        emptied = "must not be emptied either before it" if used.is_breach else "may be emptied"
        yield Finding(
            "medium" if one.content else "low",
            "retest",
            filled.cited,
            f"The retest of {one.code} was due on {one.retest_due}; it {emptied}, and is not filled before it.",
            reverse("container", args=[one.code]),
            verdict=filled,
        )
    yield from _worn(period, rules)


def _worn(period: Period, rules: Rulebook) -> Iterator[Finding]:
    """Containers whose tare is down by as much as the rulebook names."""
    changes = TareChange.objects.filter(container__retired_on=None, container__void=False, old_mg__gt=0)
    changes = changes.filter(stands("voucher__"))
    first: dict[int, TareChange] = {}
    for change in changes.select_related("container").order_by("container__code", "id"):
        first.setdefault(change.container_id, change)
    for change in first.values():
        one = change.container
        rule = rules.retest(one.kind, period.last)
        if rule is None or rule.tare_loss_percent is None or not one.tare_mg:
            continue
        if worn(change.old_mg, one.tare_mg, rule.tare_loss_percent):
            yield Finding(
                "medium",
                "tare loss",
                cited(rule),
                f"The tare of {one.code} was {show(change.old_mg, 'g')} and is {show(one.tare_mg, 'g')}; down by "
                f"{rule.tare_loss_percent} % or more, it is tested again before it is filled.",
                reverse("container", args=[one.code]),
            )
