"""A single-use container into which something was put after it came."""

from collections.abc import Iterator

from django.db import connection
from django.urls import reverse

from inventory.reference.kinds import with_trait
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period

FILLED = """
SELECT DISTINCT m.voucher_id, m.day, a.name, c.kind FROM inventory_movement m
JOIN inventory_account a ON a.id = m.target_id JOIN inventory_account s ON s.id = m.source_id
JOIN inventory_container c ON c.code = a.name
WHERE m.day >= %s AND m.day <= %s AND m.target_class = 1 AND m.reversal = %s AND c.kind IN ({kinds})
  AND (m.source_class = 4 OR (m.source_class = 1 AND s.name <> a.name))
"""


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    with connection.cursor() as cursor:
        kinds = with_trait("single_use")
        statement = FILLED.format(kinds=", ".join(["%s"] * len(kinds)))
        cursor.execute(statement, [period.first.isoformat(), period.last.isoformat(), False, *kinds])
        rows = cursor.fetchall()
    for voucher, _, code, kind in sorted(rows, key=lambda row: row[0]):
        rule = rules.single_use(kind, period.last)
        if rule is not None:
            yield Finding(
                "high",
                "single-use container",
                cited(rule),
                f"Voucher {voucher}: something was put into {code}, which is made for a single use.",
                reverse("voucher", args=[voucher]),
            )
