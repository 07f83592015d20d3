"""Refrigerant bought on a day on which nobody of the shop held a certificate that allows buying it."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.buying import buying
from jobs.people.models import Certificate
from shopledger.findings.finding import Finding
from shopledger.reporting.corrections import entries
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    certificates = list(Certificate.objects.all())
    receipts = {one.number: one for one in entries("receipt", period).defer("detail")}
    bought = Container.objects.filter(arrival__in=receipts, substance__is_oil=False).order_by("arrival_id")
    rows = dict.fromkeys(bought.values_list("arrival_id", "substance__code", "nominal"))
    seen = set()
    for number, code, nominal in rows:
        day = receipts[number].day
        papers = {one.scheme for one in certificates if one.valid_on(day)}
        verdict = buying(rules, System(None, code), sorted(papers), day, nominal)
        if verdict.answer in {"free", "met"} or (number, code) in seen:
            continue
        seen.add((number, code))
        yield Finding(
            "medium" if verdict.is_breach else "low",
            "purchase",
            verdict.cited,
            f"Delivery of {day}, voucher {number}: {verdict.said}",
            reverse("voucher", args=[number]),
            day,
            verdict,
        )
