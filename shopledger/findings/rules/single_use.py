"""What was done with containers that are made for a single use, and must not be: filled, charged from, bought, sold."""

import datetime as dt
from collections.abc import Iterator
from typing import NamedTuple

from django.db import connection
from django.urls import reverse

from inventory.containers.holdings import PURPOSES
from inventory.containers.models import Container
from inventory.ledger.accounts import HOLDING_SQL, AccountClass
from inventory.reference.kinds import with_trait
from inventory.reference.rulebook import Rulebook
from inventory.shipping.sales import SELL
from inventory.verdicts.single_use import single_use
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period

# The first voucher by which something went into, or out of, each single-use container in a period, and how many did.
MOVED = """
SELECT MIN(m.voucher_id), MIN(m.day), COUNT(DISTINCT m.voucher_id), c.code, c.kind, b.code FROM inventory_movement m
JOIN inventory_account a ON a.id = m.{end}_id JOIN inventory_account o ON o.id = m.{other}_id
JOIN inventory_container c ON c.code = a.name JOIN inventory_substance b ON b.id = m.substance_id
WHERE m.day >= %s AND m.day <= %s AND m.{end}_class IN ({held}) AND m.reversal = %s AND c.kind IN ({kinds})
  AND (m.{other}_class = %s OR ({filled} AND m.{other}_class = m.{end}_class AND o.name <> a.name))
  AND NOT EXISTS (SELECT 1 FROM inventory_voucher r WHERE r.reverses_id = m.voucher_id)
GROUP BY c.code, c.kind, b.code ORDER BY 1
"""


class Done(NamedTuple):
    """Something done with a container. times: in how many vouchers of the period."""

    voucher: int
    day: dt.date
    times: int
    code: str
    kind: str
    substance: str


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for act, of in ACTS:
        if not any(act in rule.acts for rule in rules.sections["single_use"]):
            continue
        for done in of(period):
            why = single_use(rules, done.kind, done.substance, act, done.day)
            if why.is_breach:
                more = f", and {done.times - 1} more of the period" if done.times > 1 else ""
                yield Finding(
                    "high" if why.is_refused else "medium",
                    "single-use container",
                    why.cited,
                    f"{done.code}, voucher {done.voucher}{more}: {why.said}",
                    reverse("voucher", args=[done.voucher]),
                    done.day,
                    why,
                )


def _filled(period: Period) -> list[Done]:
    """From a unit, or out of another container."""
    return _moved(period, "target", "source", AccountClass.UNIT, filled=True)


def _charged_from(period: Period) -> list[Done]:
    return _moved(period, "source", "target", AccountClass.UNIT)


def _sold(period: Period) -> list[Done]:
    return _moved(period, "source", "target", PURPOSES[SELL])


def _moved(period: Period, end: str, other: str, beyond: AccountClass, *, filled: bool = False) -> list[Done]:
    """beyond: the class of account at the other end. filled: or another container."""
    kinds = with_trait("single_use")
    marks = {"end": end, "other": other, "filled": "1 = 1" if filled else "1 = 0", "held": HOLDING_SQL}
    statement = MOVED.format(kinds=", ".join(["%s"] * len(kinds)), **marks)
    days = [period.first.isoformat(), period.last.isoformat()]
    given = [*days, False, *kinds, beyond.value]
    with connection.cursor() as cursor:
        cursor.execute(statement, given)
        rows = cursor.fetchall()
    return [Done(row[0], _day(row[1]), *row[2:]) for row in rows]


def _day(value: object) -> dt.date:
    """SQLite answers MIN of days as text."""
    return value if isinstance(value, dt.date) else dt.date.fromisoformat(str(value))


def _bought(period: Period) -> list[Done]:
    found = Container.objects.filter(kind__in=with_trait("single_use"), void=False, arrival__kind="receipt")
    found = found.filter(arrived_on__gte=period.first, arrived_on__lte=period.last).order_by("arrival_id", "code")
    rows = found.values_list("arrival_id", "arrived_on", "code", "kind", "substance__code")
    return [Done(number, day, 1, code, kind, substance or "") for number, day, code, kind, substance in rows]


ACTS = (("fill", _filled), ("use", _charged_from), ("purchase", _bought), ("supply", _sold))
