"""Containers that ended otherwise than rules ask: with refrigerant in them, or nobody says where they went."""

import json
from collections.abc import Iterator
from typing import NamedTuple

from django.urls import reverse

from inventory.containers.events import read
from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.container_disposal import Ended, container_disposal
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


class Gone(NamedTuple):
    """A container that was retired by a voucher. lost_mg: what was left in it and went nowhere."""

    voucher: Voucher
    code: str
    lost_mg: int
    taken_by: str
    statement: bool


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if not rules.sections["container_disposal"]:
        return
    gone = [*_retired(period), *_sent(period)]
    rows = Container.objects.filter(code__in={one.code for one in gone}).values_list("code", "kind", "substance__code")
    known = {code: (kind, substance or "") for code, kind, substance in rows}
    for one in sorted(gone, key=lambda one: (one.voucher.number, one.code)):
        kind, substance = known.get(one.code, ("", ""))
        ended = Ended(kind, substance, one.lost_mg, one.taken_by, one.statement)
        for why in container_disposal(rules, ended, one.voucher.day):
            if why.is_breach:
                yield Finding(
                    "medium",
                    "container disposal",
                    why.cited,
                    f"{one.code}, voucher {one.voucher.number}: {why.said}",
                    reverse("voucher", args=[one.voucher.number]),
                    one.voucher.day,
                    why,
                )


def _standing(kind: str, period: Period) -> Iterator[tuple[Voucher, dict]]:
    found = Voucher.objects.standing().filter(kind=kind, day__gte=period.first, day__lte=period.last)
    for voucher in found.order_by("number"):
        yield voucher, json.loads(voucher.detail)


def _retired(period: Period) -> Iterator[Gone]:
    for voucher, detail in _standing("retirement", period):
        proof = (detail.get("taken_by", ""), bool(detail.get("statement")))
        for code, left in detail["containers"].items():
            yield Gone(voucher, code, 0 if detail.get("into") else left, *proof)


def _sent(period: Period) -> Iterator[Gone]:
    """What left whole: whoever got it took it over, with all that was in it."""
    for voucher, detail in _standing("shipment", period):
        for code in dict.fromkeys(op.code for op in read(detail["event"]).ops if op.verb == "retire"):
            yield Gone(voucher, code, 0, detail["party"], False)
