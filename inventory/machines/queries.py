"""Questions about machines: what they did, and what the authority knows of them."""

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db import connection

from inventory.attachments.queries import attachments_by_subject
from inventory.containers.events import read
from inventory.containers.models import Container
from inventory.ledger.accounts import HOLDING_SQL, AccountClass
from inventory.ledger.models import Voucher
from inventory.machines.models import Machine
from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.verdicts.machine import machine_stated
from inventory.verdicts.verdict import Verdict


@dataclass(frozen=True)
class Run:
    """What a machine did: it recycled what a container held, or took refrigerant out of a unit (its code) into its own
    tank. does: of `machine_rules.DOES`."""

    machine: Machine
    does: str
    substance: str
    voucher: int
    day: dt.date
    unit: str = ""


INTO_TANKS = """
SELECT MAX(m.voucher_id), MAX(m.day), t.name, s.name, b.code FROM inventory_movement m
JOIN inventory_account t ON t.id = m.target_id JOIN inventory_account s ON s.id = m.source_id
JOIN inventory_substance b ON b.id = m.substance_id
JOIN inventory_voucher v ON v.number = m.voucher_id
WHERE m.day >= %s AND m.day <= %s AND m.source_class = %s AND m.target_class IN ({held}) AND m.reversal = %s
  AND t.name IN ({tanks})
  AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = v.number)
GROUP BY t.name, s.name, b.code
"""


def runs_of(first: dt.date, last: dt.date) -> list[Run]:
    """What machines did in a period, in the order of the vouchers: one run for each container that was recycled, one
    for each unit and refrigerant that went into a machine's own tank."""
    machines = list(Machine.objects.select_related("container"))
    return sorted([*_recycled(machines, first, last), *_recovered(machines, first, last)], key=lambda run: run.voucher)


def _recycled(machines: Iterable[Machine], first: dt.date, last: dt.date) -> list[Run]:
    by_name = {str(one): one for one in machines}
    found = Voucher.objects.standing().filter(kind="regrade", day__gte=first, day__lte=last).order_by("number")
    said = []
    for voucher in found.filter(detail__contains='"machine":'):
        detail = json.loads(voucher.detail)
        machine = by_name.get(detail.get("machine", ""))
        codes = [op.code for op in read(detail["event"]).ops if op.verb == "regrade"] if machine else []
        said += [(machine, code, voucher) for code in codes]
    substances = dict(
        Container.objects.filter(code__in=[code for _, code, _ in said]).values_list("code", "substance__code")
    )
    return [Run(one, "recycle", substances.get(code) or "", voucher.number, voucher.day) for one, code, voucher in said]


def _recovered(machines: Iterable[Machine], first: dt.date, last: dt.date) -> list[Run]:
    by_tank = {one.container.code: one for one in machines if one.container is not None}
    if not by_tank:
        return []
    statement = INTO_TANKS.format(held=HOLDING_SQL, tanks=", ".join(["%s"] * len(by_tank)))
    with connection.cursor() as cursor:
        cursor.execute(statement, [first.isoformat(), last.isoformat(), AccountClass.UNIT.value, False, *by_tank])
        rows = cursor.fetchall()
    days = Voucher.objects.in_bulk([row[0] for row in rows])
    return [
        Run(by_tank[tank], by_tank[tank].does, substance, number, days[number].day, unit)
        for number, _, tank, unit, substance in rows
    ]


def with_copy(machines: Iterable[Machine]) -> set[int]:
    """Those machines, by their ids, of whose statement a copy is here: it is said, and a file is there."""
    said = [one.pk for one in machines if one.statement_copy]
    files = attachments_by_subject(f"machine:{pk}" for pk in said)
    return {pk for pk in said if files.get(f"machine:{pk}")}


def said_of(machine: Machine, shop: Shop, has_copy: bool) -> set[str]:
    """What is known of the owner's statement about a machine, of `machine_rules.STATED`."""
    known: Mapping[str, object] = {
        "purchaser": shop.name,
        "establishment": shop.address.strip(),
        "maker": machine.make,
        "model": machine.model,
        "made-on": machine.made_on,
        "serial": machine.serial,
        "signed": machine.statement_by,
        "sent-on": machine.statement_sent_on,
        "sent-to": machine.statement_to,
        "copy": has_copy,
    }
    return {name for name, value in known.items() if value}


def statement_of(machine: Machine, rules: Rulebook, shop: Shop, day: dt.date) -> Verdict | None:
    """Whether the authority was told of a machine, as far as that is asked; None where it is not."""
    has_copy = machine.pk in with_copy([machine])
    return machine_stated(rules, machine.equipment, said_of(machine, shop, has_copy), day)
