"""A certificate whose refresher course or evaluation is overdue on the period's last day."""

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse

from inventory.measures.months import add_months
from inventory.reference.certificate_rules import CertificateScheme
from inventory.reference.rulebook import Rulebook
from jobs.people.models import STAFF, Certificate
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period, called, joined


def refresh_due(scheme: CertificateScheme, issued: dt.date) -> dt.date | None:
    """The last day of the refresher: so many years after the issue, and not before the first day that the rule names
    for those who were certified earlier."""
    if scheme.refresh_years is None:
        return scheme.refresh_first_due
    due = add_months(issued, 12 * scheme.refresh_years)
    return max(due, scheme.refresh_first_due) if scheme.refresh_first_due else due


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    held = Certificate.objects.filter(person__is_active=True, person__role__in=STAFF).select_related("person")
    latest: dict[tuple[int, str], Certificate] = {}
    for one in held.order_by("issued", "id"):
        latest[one.person_id, one.scheme.casefold()] = one
    for one in latest.values():
        scheme = rules.scheme(one.scheme, period.last)
        due = refresh_due(scheme, one.issued) if scheme and one.valid_on(period.last) else None
        if due is not None and due < period.last:
            yield Finding(
                "medium",
                "refresher",
                cited(scheme),
                joined(
                    "The refresher of ",
                    called(one.person.username, one.person.name),
                    f"'s certificate {one} was due by {due}. Enter the renewed certificate.",
                ),
                reverse("certificate-edit", args=[one.pk]),
            )
