"""A certificate whose refresher course or evaluation is overdue on the period's last day."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.certificates import refresher
from jobs.people.models import STAFF, Certificate
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period, called, joined


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    held = Certificate.objects.filter(person__is_active=True, person__role__in=STAFF).select_related("person")
    latest: dict[tuple[int, str], Certificate] = {}
    for one in held.order_by("issued", "id"):
        latest[one.person_id, one.scheme.casefold()] = one
    for one in latest.values():
        verdict = refresher(rules, one.scheme, one.issued, period.last)
        if one.valid_on(period.last) and verdict.late_on(period.last):
            yield Finding(
                "medium",
                "refresher",
                verdict.cited,
                joined(
                    "The refresher of ",
                    called(one.person.username, one.person.name),
                    f"'s certificate {one} was due by {verdict.by}. Enter the renewed certificate.",
                ),
                reverse("certificate-edit", args=[one.pk]),
                verdict=verdict,
            )
