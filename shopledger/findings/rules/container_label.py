"""Containers whose label does not say what it must of recycled or reclaimed refrigerant."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.containers.queries import label_of
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.container_label import container_label, grave
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    asked = rules.sections["container_label"]
    grades = {grade for rule in asked for grade in rule.grades}
    kinds = {kind for rule in asked for kind in rule.kinds}
    if not grades:
        return
    held = Container.objects.filter(retired_on=None, void=False, grade__in=grades, kind__in=kinds)
    held = held.filter(account__balance__gt=0, arrived_on__lte=period.last).select_related("substance")
    for one in held.order_by("code"):
        for why in container_label(rules, label_of(one), period.last):
            if why.is_breach:
                yield Finding(
                    "medium" if grave(why) else "low",
                    "container label",
                    why.cited,
                    f"{one.code}: {why.said}",
                    reverse("container", args=[one.code]),
                    verdict=why,
                )
