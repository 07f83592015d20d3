"""What is on hand, and how fast it goes."""

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from django.db import connection

from inventory.containers.queries import OnHand
from inventory.ledger.models import Substance
from inventory.supply.models import ReorderPoint

WEEKS = 8  # looked back, and around the same day a year ago
ON_HAND = """
SELECT c.substance_id, COALESCE(l.id, 0), COALESCE(l.name, ''),
  SUM(CASE WHEN c.opened_on IS NULL THEN a.balance ELSE 0 END),
  SUM(CASE WHEN c.opened_on IS NOT NULL THEN a.balance ELSE 0 END)
FROM inventory_container c JOIN inventory_account a ON a.id = c.account_id
LEFT JOIN inventory_location l ON l.id = c.location_id
WHERE c.retired_on IS NULL AND c.void = %s AND a.cls = 1 AND a.balance > 0 AND c.grade NOT IN ('recovered', 'mixed')
GROUP BY c.substance_id, l.id, l.name
"""
USED = """
SELECT m.substance_id, a.location, SUM(CASE WHEN m.reversal = %s THEN -m.quantity ELSE m.quantity END)
FROM inventory_movement m
JOIN inventory_account a ON a.id = CASE WHEN m.reversal = %s THEN m.target_id ELSE m.source_id END
WHERE m.day > %s AND m.day <= %s AND ((m.source_class = 1 AND m.target_class IN (4, 7) AND m.reversal = %s)
  OR (m.target_class = 1 AND m.source_class IN (4, 7) AND m.reversal = %s))
GROUP BY m.substance_id, a.location
"""


@dataclass
class Supply:
    """Of one substance at one place, or of the whole shop (place blank). sealed, open: usable content, mg or uL;
    weekly, season: used a week over the last weeks, and about the same day last year; least: the reorder point."""

    code: str
    is_oil: bool
    place: str
    substance_id: int
    location_id: int | None
    sealed: int = 0
    open: int = 0
    weekly: Fraction = Fraction(0)
    season: Fraction = Fraction(0)
    least: int | None = None

    @property
    def total(self) -> int:
        return self.sealed + self.open

    @property
    def weeks_left(self) -> Fraction | None:
        """At the faster of the two rates; None where nothing is used."""
        rate = max(self.weekly, self.season)
        return self.total / rate if rate else None

    @property
    def short(self) -> bool:
        return self.least is not None and self.total < self.least


def supplies(today: dt.date) -> list[Supply]:
    """The shop as a whole, then each place, by substance; five questions whatever the number of containers."""
    names = {row.id: (row.code, row.is_oil) for row in Substance.objects.all()}
    found: dict[tuple[int, str], Supply] = {}

    def at(substance_id: int, place: str, location_id: int | None = None) -> Supply:
        key = (substance_id, place)
        if key not in found:
            code, oil = names[substance_id]
            found[key] = Supply(code, bool(oil), place, substance_id, location_id)
        if location_id:
            found[key].location_id = location_id
        return found[key]

    with connection.cursor() as cursor:
        cursor.execute(ON_HAND, [False])
        for substance_id, location_id, place, sealed, opened in cursor.fetchall():
            for one in (at(substance_id, ""), at(substance_id, place, location_id) if place else None):
                if one is not None:
                    one.sealed += int(sealed)
                    one.open += int(opened)
        year = dt.timedelta(days=364)  # the same day of the week
        half = dt.timedelta(weeks=WEEKS // 2)
        spans = {
            "weekly": (today - dt.timedelta(weeks=WEEKS), today),
            "season": (today - year - half, today - year + half),
        }
        for name, (after, through) in spans.items():
            cursor.execute(USED, [True, True, after.isoformat(), through.isoformat(), False, True])
            for substance_id, place, used in cursor.fetchall():
                rate = Fraction(int(used), WEEKS)
                for one in (at(substance_id, ""), at(substance_id, place) if place else None):
                    if one is not None:
                        setattr(one, name, getattr(one, name) + rate)
    for point in ReorderPoint.objects.select_related("location"):
        place = point.location.name if point.location else ""
        at(point.substance_id, place, point.location_id).least = point.least
    return sorted(found.values(), key=lambda one: (one.place != "", one.is_oil, one.code, one.place))


# Read from the accounts that hold something, by an index of their own. Its conditions are written out, not passed:
# SQLite uses a partial index only where it can see them.
GLANCE = """
SELECT s.id, s.code, s.is_oil, t.total, t.count, p.least, COALESCE(l.name, ''), (
  SELECT SUM(a.balance) FROM inventory_account a JOIN inventory_container c ON c.account_id = a.id
  WHERE a.cls = 1 AND a.balance > 0 AND a.substance_id = p.substance_id
    AND c.retired_on IS NULL AND c.void = %s AND c.grade NOT IN ('recovered', 'mixed')
    AND (p.location_id IS NULL OR c.location_id = p.location_id))
FROM inventory_substance s
LEFT JOIN (SELECT substance_id, SUM(balance) AS total, COUNT(*) AS count FROM inventory_account
  WHERE cls = 1 AND balance > 0 GROUP BY substance_id) t ON t.substance_id = s.id
LEFT JOIN inventory_reorderpoint p ON p.substance_id = s.id
LEFT JOIN inventory_location l ON l.id = p.location_id
WHERE t.total IS NOT NULL OR p.id IS NOT NULL
ORDER BY s.is_oil, s.code, 7
"""


class Short(NamedTuple):
    """A substance under its reorder point. place: blank for the whole shop. total: usable content, mg or uL."""

    code: str
    is_oil: bool
    place: str
    total: int


def at_a_glance() -> tuple[list[OnHand], list[Short]]:
    """What is on hand, as `on_hand` says it, and what is under its reorder point. One question."""
    held: dict[int, OnHand] = {}
    short: list[Short] = []
    with connection.cursor() as cursor:
        cursor.execute(GLANCE, [False])
        for pk, code, oil, total, count, least, place, usable in cursor.fetchall():
            if total is not None:
                held[pk] = OnHand(code, bool(oil), int(total), count, pk)
            if least is not None and (usable or 0) < least:
                short.append(Short(code, bool(oil), place, int(usable or 0)))
    return list(held.values()), short
