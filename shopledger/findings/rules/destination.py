"""Refrigerant sent to someone without an address, or to a reclaimer or destroyer without a registration."""

import json
from collections.abc import Iterator

from django.urls import reverse

from inventory.parties.models import Party
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.records import Asked, records
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.corrections import entries
from shopledger.reporting.report import Period, called, joined

SAID = {"day", "purpose", "substance", "quantity"}  # what the voucher of a shipment always says


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    parties = {party.code: party for party in Party.objects.all()}
    for voucher in entries("shipment", period).filter(movements__isnull=False).distinct():
        detail = json.loads(voucher.detail)
        code = detail["party"]
        party = parties.get(code)
        missing = [] if party and party.address.strip() else ["address"]
        if detail["purpose"] in {"reclaim", "destroy"} and not (party and party.registration):
            missing.append("registration")
        said = SAID | (set() if "address" in missing else {"who"})
        why = next(iter(records(rules, Asked("shipment", "sender"), said, voucher.day)), None)
        if missing:
            shipment = f"Shipment {voucher.document or 'without a document'} of {voucher.day} to "
            without = f": no {' and no '.join(missing)} on file."
            yield Finding(
                "medium",
                "destination",
                why.cited if why else GOOD_PRACTICE,
                joined(shipment, called(code, party.name if party else code), without),
                reverse("party-edit", args=[party.pk]) if party else reverse("parties"),
                voucher.day,
                why if why and why.is_breach else None,
            )
