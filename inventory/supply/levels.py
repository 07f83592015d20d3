"""What the shop had of a substance day by day, beside what is enough."""

import datetime as dt
from collections.abc import Sequence

from django.db import connection

from inventory.ledger.models import Substance
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.paper.chart import Picture, step_line
from inventory.supply.models import ReorderPoint

# What can be charged: what was only recovered does not count, as in `supplies`.
USABLE = "a.cls = 1 AND a.grade NOT IN ('recovered', 'mixed')"
CHANGES = f"""
SELECT day, SUM(change) FROM (
  SELECT m.day, m.quantity AS change FROM inventory_movement m JOIN inventory_account a ON a.id = m.target_id
  WHERE m.substance_id = %s AND m.target_class = 1 AND {USABLE}
  UNION ALL
  SELECT m.day, -m.quantity FROM inventory_movement m JOIN inventory_account a ON a.id = m.source_id
  WHERE m.substance_id = %s AND m.source_class = 1 AND {USABLE}
) AS changes GROUP BY day ORDER BY day
"""


def levels(substance: Substance, first: dt.date, last: dt.date) -> list[tuple[dt.date, int]]:
    """The usable stock of the whole shop at the end of each day on which it changed, mg or uL, begun with what there
    was on the first day; by what stands in the ledger now. One question."""
    found: list[tuple[dt.date, int]] = []
    level = before = 0
    with connection.cursor() as cursor:
        cursor.execute(CHANGES, [substance.pk, substance.pk])
        for day, change in cursor.fetchall():
            day = dt.date.fromisoformat(day[:10]) if isinstance(day, str) else day
            if day > last:
                break
            level += int(change)
            if day < first:
                before = level
            else:
                found.append((day, level))
    return found if found and found[0][0] == first else [(first, before), *found]


def enough_of(substance: Substance) -> int | None:
    """The reorder point of the whole shop, mg or uL; None where none is set."""
    return ReorderPoint.objects.filter(substance=substance, location=None).values_list("least", flat=True).first()


def picture(substance: Substance, first: dt.date, last: dt.date) -> Picture:
    held, least = levels(substance, first, last), enough_of(substance)
    small, large = ("mL", "L") if substance.is_oil else ("g", "kg")
    most = max([level for _, level in held] + [least or 0])
    unit, size = (large, 1e6) if most >= 1_000_000 else (small, 1e3)
    line = None if least is None else (f"buy more under {show(least, small)}", least / size)
    points = [(day, level / size) for day, level in held] + [(last, held[-1][1] / size)]
    rows: Sequence[tuple] = [(said_day(day), level) for day, level in held]
    title = f"{substance.code} that can be charged, over time"
    return Picture(
        title,
        lambda width: step_line(points, unit, width, enough=line),
        ("From the end of", "Held"),
        rows,
        bool(substance.is_oil),
    )
