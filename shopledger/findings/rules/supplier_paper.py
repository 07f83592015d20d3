"""Recycled or reclaimed refrigerant that was bought, and no label and no paper of its supplier says who made it."""

import json
from collections import defaultdict
from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.models import Container
from inventory.parties.models import PartyPaper
from inventory.receiving.origins import known_origin
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.origin import origin
from shopledger.findings.finding import Finding
from shopledger.reporting.corrections import entries
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    grades = {grade for rule in rules.sections["record"] if "facility" in rule.fields for grade in rule.grades} - {"*"}
    if not grades:
        return
    receipts = {one.number: one for one in entries("receipt", period)}
    bought = Container.objects.filter(arrival__in=receipts, substance__is_oil=False, grade__in=grades)
    rows = bought.order_by("arrival_id", "code").values_list("arrival_id", "substance__code", "grade", "facility")
    papers: dict[str, list[PartyPaper]] = defaultdict(list)
    for paper in PartyPaper.objects.select_related("party"):
        papers[paper.party.code].append(paper)
    for number, substance, grade, facility in dict.fromkeys(rows):
        receipt = receipts[number]
        supplier = json.loads(receipt.detail).get("supplier", "")
        known = known_origin(facility, papers[supplier], receipt.day)
        why = origin(rules, substance, grade, receipt.day, known)
        if why is not None and why.is_open:
            said = f"Delivery of {receipt.day}, voucher {number}: {why.said}"
            page = reverse("voucher", args=[number])
            yield Finding("low", "supplier paper", why.cited, said, page, receipt.day, why)
