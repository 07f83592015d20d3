"""Refrigerant bought on a day on which nobody of the shop held a certificate that allows buying it."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from jobs.people.models import Certificate
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.corrections import entries
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    certificates = list(Certificate.objects.all())
    receipts = {one.number: one for one in entries("receipt", period).defer("detail")}
    bought = Container.objects.filter(arrival__in=receipts, substance__is_oil=False).order_by("arrival_id")
    seen = set()
    for number, code, nominal in bought.values_list("arrival_id", "substance__code", "nominal"):
        voucher = receipts[number]
        demand = rules.certificate_demand("purchase", None, code, voucher.day, nominal)
        small = rules.small_can(code, nominal, voucher.day)
        if demand is None or (small is not None and not small.needs_certificate) or (number, code) in seen:
            continue
        valid = [one for one in certificates if one.valid_on(voucher.day)]
        if any(rules.grant(one.scheme, "purchase", System(None, code), voucher.day) for one in valid):
            continue
        seen.add((number, code))
        yield Finding(
            "medium",
            "purchase",
            cited(demand),
            f"Delivery of {voucher.day}, voucher {number}: nobody held a certificate that allowed to buy {code}.",
            reverse("voucher", args=[number]),
            voucher.day,
        )
