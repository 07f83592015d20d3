"""Refrigerant sent to someone without an address, or to a reclaimer or destroyer without a registration."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.receiving.models import Party
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding, cited
from shopledger.reports.report import Period
from shopledger.reports.stock import shipments


def find(period: Period, book: Rulebook) -> Iterator[Finding]:
    parties = {party.name: party for party in Party.objects.all()}
    kept = next((one for one in book.records_kept(period.last) if one.record == "shipment"), None)
    said = set()
    for date, document, name, address, registration, purpose, *_ in shipments(period, None).rows:
        missing = [] if address else ["address"]
        if purpose in {"reclaim", "destroy"} and not registration:
            missing.append("registration")
        if not missing or (name, date, document) in said:
            continue
        said.add((name, date, document))
        party = parties.get(name)
        yield Finding(
            "medium", "destination", cited(kept),
            f"Shipment {document or 'without a document'} of {date} to {name}: no {' and no '.join(missing)} on file.",
            reverse("party-edit", args=[party.pk]) if party else reverse("parties"), date,
        )  # fmt: skip
