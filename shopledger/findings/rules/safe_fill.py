"""A container that holds more than its safe fill; the limit itself is not over it."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.containers.safe_fill import limit
from inventory.measures.quantity import show
from inventory.reference.kinds import with_trait
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    held = Container.objects.filter(
        retired_on=None, void=False, water_capacity_mg__isnull=False, account__balance__gt=0
    ).exclude(kind__in=with_trait("is_oil"))
    for one in held.select_related("substance", "account").order_by("code"):
        most = limit(one.water_capacity_mg, one.substance.code)
        if most is not None and one.content > most.mg:
            yield Finding(
                "high",
                "safe fill",
                most.rule,
                f"{one.code} holds {show(one.content, 'g')}, {show(one.content - most.mg, 'g')} over its safe fill.",
                reverse("container", args=[one.code]),
            )
