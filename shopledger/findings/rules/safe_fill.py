"""A container that holds more than its safe fill, or is too weak for its gas; the limit itself is not over it."""

from collections.abc import Iterator

from django.db.models import Q
from django.urls import reverse

from inventory.containers.filled import Fill
from inventory.containers.models import Container
from inventory.containers.safe_fill import too_weak
from inventory.measures.quantity import show
from inventory.reference.kinds import KINDS, with_trait
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    by_kind = {kind: rules.safe_fill(kind, period.last) for kind in KINDS}
    stamped = Q(water_capacity_mg__isnull=False) | Q(stamped_most_mg__isnull=False) | Q(test_pressure_kpa__isnull=False)
    held = Container.objects.filter(stamped, retired_on=None, void=False, account__balance__gt=0).exclude(
        kind__in=with_trait("is_oil")
    )
    for one in held.select_related("substance", "account").order_by("code"):
        fill = Fill(one.cylinder, one.substance.code, one.content, by_kind[one.kind])
        if fill.room_mg is not None and fill.room_mg < 0:
            yield Finding(
                "high",
                "safe fill",
                str(fill.limits[0]),
                f"{one.code} holds {show(one.content, 'g')}, {show(-fill.room_mg, 'g')} over its safe fill.",
                reverse("container", args=[one.code]),
                verdict=fill.verdict(),
            )
        weak = too_weak(one.cylinder, one.substance.code, by_kind[one.kind])
        if weak:
            asked = next(rule for rule in by_kind[one.kind] if rule.method == "p200")
            where = reverse("container", args=[one.code])
            yield Finding("high", "test pressure", asked.cited(), f"{one.code} {weak}.", where)
