"""What to order, how much of it and from whom, with the figures that say why."""

import datetime as dt
import json
from collections import defaultdict
from dataclasses import dataclass

from django.db import connection
from django.db.models import Max

from inventory.buying.need import COVER, USUAL_LEAD, WEEKS, Need, lead_days, season
from inventory.containers.models import Container
from inventory.ledger.models import Substance, stands
from inventory.orders.actions import Wanted
from inventory.orders.models import Order, OrderDelivery
from inventory.orders.queries import progresses
from inventory.parties.models import Party
from inventory.supply.queries import supplies

YEAR = dt.timedelta(days=364)  # the same day of the week
ORDERS_BACK = dt.timedelta(days=180)
KNOWN = 10  # deliveries of a supplier that its lead time is taken from

# What jobs used, by day; what was taken back is taken off.
USED = """
SELECT m.substance_id, m.day, SUM(CASE WHEN m.reversal = %(yes)s THEN -m.quantity ELSE m.quantity END)
FROM inventory_movement m
WHERE m.day > %(after)s AND m.day <= %(through)s
  AND ((m.source_class = 1 AND m.target_class IN (4, 7) AND m.reversal = %(no)s)
    OR (m.target_class = 1 AND m.source_class IN (4, 7) AND m.reversal = %(yes)s))
GROUP BY m.substance_id, m.day
"""


@dataclass(frozen=True)
class Proposed:
    """A line of a proposal: containers as they came last, from whom they came. leads: how many deliveries its lead
    time is taken from; 0: the usual one is taken. count: how many to order, 0 where there is enough."""

    code: str
    is_oil: bool
    need: Need
    last: Container | None
    supplier: Party | None
    leads: int

    @property
    def count(self) -> int:
        return self.need.containers(self.last.nominal) if self.last is not None else 0

    def wanted(self, count: int, today: dt.date) -> Wanted:
        """The line of an order for so many of them."""
        last, expected = self.last, today + dt.timedelta(self.need.lead)
        grade = "" if self.is_oil else last.grade
        return Wanted(last.kind, self.code, self.is_oil, grade, last.nominal, count, last.price_minor, expected)


def proposals(today: dt.date) -> list[Proposed]:
    """Of each substance that the shop uses or holds, refrigerants first. Some ten questions, whatever the shop's
    size."""
    used, whole = _used(today), {one.substance_id: one for one in supplies(today) if not one.place}
    ordered, leads = _on_order(today), _leads()
    last, suppliers = _last()
    since = _first_day()
    found = []
    for pk, code, oil in Substance.objects.order_by("is_oil", "code").values_list("id", "code", "is_oil"):
        if pk not in used and pk not in whole:
            continue
        its, of = whole.get(pk), suppliers.get(pk)
        known = leads.get(of.pk, []) if of else []
        lead = lead_days(known)
        lead = USUAL_LEAD if lead is None else lead
        weeks, factor = _weeks(used.get(pk, {}), today), _season(used.get(pk, {}), today, since)
        here, least = (its.total, its.least or 0) if its else (0, 0)
        need = Need(weeks, factor, lead, here, ordered.get(code, 0), least)
        found.append(Proposed(code, bool(oil), need, last.get(pk), of, len(known)))
    return found


def _used(today: dt.date) -> dict[int, dict[dt.date, int]]:
    """By substance and day: of the last weeks, and of those around now a year ago."""
    back, ahead = dt.timedelta(weeks=WEEKS), dt.timedelta(weeks=COVER)
    found: dict[int, dict[dt.date, int]] = defaultdict(dict)
    with connection.cursor() as cursor:
        for after, through in ((today - back, today), (today - YEAR - back, today - YEAR + ahead)):
            said = {"after": after.isoformat(), "through": through.isoformat(), "yes": True, "no": False}
            cursor.execute(USED, said)
            for substance, day, quantity in cursor.fetchall():
                on = day if isinstance(day, dt.date) else dt.date.fromisoformat(day)
                found[substance][on] = int(quantity)
    return found


def _sums(used: dict[dt.date, int], last: dt.date, weeks: int) -> list[int]:
    """What was used in each of the weeks that end with a day, the oldest first."""
    found = [0] * weeks
    for day, quantity in used.items():
        ago = (last - day).days
        if 0 <= ago < weeks * 7:
            found[weeks - 1 - ago // 7] += quantity
    return found


def _weeks(used: dict[dt.date, int], today: dt.date) -> list[int]:
    return _sums(used, today, WEEKS)


def _season(used: dict[dt.date, int], today: dt.date, since: dt.date | None):
    """Where the ledger goes back far enough to hold all of those weeks."""
    if since is None or since > today - YEAR - dt.timedelta(weeks=WEEKS):
        return None
    then = today - YEAR
    return season(_sums(used, then, WEEKS), _sums(used, then + dt.timedelta(weeks=COVER), COVER))


def _first_day() -> dt.date | None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT MIN(day) FROM inventory_movement")
        (day,) = cursor.fetchone()
    return day if day is None or isinstance(day, dt.date) else dt.date.fromisoformat(day)


def _on_order(today: dt.date) -> dict[str, int]:
    """Of each substance, by code, what is still to come, mg or uL."""
    found: dict[str, int] = defaultdict(int)
    for one in progresses(Order.objects.filter(day__gte=today - ORDERS_BACK)):
        for line in one.lines:
            found[line.line.substance] += line.open * line.line.net
    return found


def _leads() -> dict[int, list[int]]:
    """Of each supplier the days from order to first delivery, of its latest orders."""
    links = (
        OrderDelivery.objects.filter(stands("voucher__"), undone_on=None)
        .select_related("order", "voucher")
        .defer("voucher__detail")
    )
    first: dict[Order, dt.date] = {}
    for link in links.defer("voucher__detail").order_by("-voucher_id"):
        day = link.voucher.day
        first[link.order] = min(day, first.get(link.order, day))
    found: dict[int, list[int]] = defaultdict(list)
    for order, day in first.items():
        days = (day - (order.sent_on or order.day)).days
        if days >= 0 and len(found[order.supplier_id]) < KNOWN:
            found[order.supplier_id].append(days)
    return found


def _last() -> tuple[dict[int, Container], dict[int, Party]]:
    """Of each substance the container that was delivered last, and who delivered it."""
    bought = Container.objects.filter(arrival__kind="receipt", void=False, nominal__gt=0)
    bought = bought.exclude(grade__in=["recovered", "mixed"]).order_by()
    latest = [row["last"] for row in bought.values("substance").annotate(last=Max("id"))]
    rows = {one.substance_id: one for one in Container.objects.filter(pk__in=latest).select_related("arrival")}
    codes = {pk: json.loads(one.arrival.detail).get("supplier", "") for pk, one in rows.items()}
    parties = {one.code: one for one in Party.objects.filter(code__in=codes.values())}
    return rows, {pk: parties[code] for pk, code in codes.items() if code in parties}
