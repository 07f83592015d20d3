"""Refrigerant sold that may not be sold so, or without what the seller must have."""

import json
from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.ledger.models import Movement
from inventory.parties.models import Party
from inventory.reference.rule import Gas
from inventory.reference.rulebook import Rulebook
from inventory.shipping.sales import SELL, SaleSaid, origins_of, seen_of, sold
from inventory.verdicts.selling import selling
from shopledger.findings.finding import Finding
from shopledger.reporting.corrections import entries
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["sale"]:
        return
    read = ((voucher, json.loads(voucher.detail)) for voucher in entries("shipment", period))
    sales = {voucher.number: (voucher, detail) for voucher, detail in read if detail.get("purpose") == SELL}
    if not sales:
        return
    buyers = {one.code: one for one in Party.objects.filter(role="buyer")}
    left = Movement.objects.filter(voucher__in=sales, source_class=1, reversal=False, substance__is_oil=False)
    rows = set(left.exclude(target_class=1).values_list("voucher_id", *OF))
    codes = {code for _, code, _, _ in rows}
    origins, containers = origins_of(codes), {one.code: one for one in Container.objects.filter(code__in=codes)}
    for number, code, substance, grade in sorted(rows):
        voucher, detail = sales[number]
        said = SaleSaid.of(detail)
        seen = seen_of(said, buyers.get(detail["party"]), voucher.document)
        gas = Gas(grade, origins=origins[code])
        verdict = selling(rules, sold(said, substance, gas, seen, containers.get(code)), voucher.day)
        if verdict.is_breach or verdict.is_open:
            yield Finding(
                "high" if verdict.is_refused else "medium" if verdict.is_breach else "low",
                "sale",
                verdict.cited,
                f"Sale of {voucher.day}, voucher {number}, {code}: {verdict.said}",
                reverse("voucher", args=[number]),
                voucher.day,
                verdict,
            )


OF = ("source__name", "substance__code", "source__grade")  # container, substance and grade of what left
