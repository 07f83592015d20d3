"""The reports of containers, of what was bought and sent away, and of what weighing found, all of the shop's own alone.
What is a customer's, or was found and is held, has reports of its own (`apart.py`, `kept.py`)."""

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Mapping

from django.db import connection
from django.db.models import Q, QuerySet
from django.urls import reverse

from inventory.containers.arrivals import arrivals_of
from inventory.containers.models import Container
from inventory.counting.queries import explained, told_apart
from inventory.counting.whose import whose
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Movement, Voucher
from inventory.ledger.queries import last_seal
from inventory.measures.money import plain_money
from inventory.parties.models import Party
from inventory.reference.kinds import is_oil
from inventory.shop.models import Shop
from jobs.people.models import Certificate
from shopledger.reporting.corrections import TAKEN_OFF, counted
from shopledger.reporting.report import MEASURED, Column, Period, Report, ReportTable, Worded, called, joined, worded

# Per container: its content at the end of the day before, then what came in and went out; moves between its own
# accounts (another place, another grade) are neither. Opening stock is content from before, whatever its day. What
# the last seal before the period kept is the start; only what moved since is read.
LEVELS = """
SELECT code, SUM(CASE WHEN day < %(first)s OR opened = 1 THEN change ELSE 0 END),
  SUM(CASE WHEN day >= %(first)s AND opened = 0 AND change > 0 AND other <> code THEN change ELSE 0 END),
  SUM(CASE WHEN day >= %(first)s AND opened = 0 AND change < 0 AND other <> code THEN -change ELSE 0 END)
FROM (
  SELECT a.name AS code, %(since)s AS day, b.balance AS change, '' AS other, 0 AS opened
  FROM inventory_sealbalance b JOIN inventory_account a ON a.id = b.account_id
  WHERE b.seal_id = %(seal)s AND a.cls = %(cls)s
  UNION ALL
  SELECT t.name, m.day, m.quantity, CASE WHEN s.cls = %(cls)s THEN s.name ELSE '' END,
    CASE WHEN s.cls = 2 THEN 1 ELSE 0 END
  FROM inventory_movement m
  JOIN inventory_account t ON t.id = m.target_id JOIN inventory_account s ON s.id = m.source_id
  WHERE m.target_class = %(cls)s AND m.day > %(since)s AND m.day <= %(last)s
  UNION ALL
  SELECT s.name, m.day, -m.quantity, CASE WHEN t.cls = %(cls)s THEN t.name ELSE '' END,
    CASE WHEN t.cls = 2 THEN 1 ELSE 0 END
  FROM inventory_movement m
  JOIN inventory_account t ON t.id = m.target_id JOIN inventory_account s ON s.id = m.source_id
  WHERE m.source_class = %(cls)s AND m.day > %(since)s AND m.day <= %(last)s
) AS changes GROUP BY code
"""


def levels(period: Period, cls: AccountClass = AccountClass.CONTAINER) -> dict[str, tuple[int, int, int]]:
    """Opening, in and out of each container by its code, mg or uL, of the shop's own or (KEPT) of customers' gas."""
    seal = last_seal(period.eve)
    since = (seal.through if seal else dt.date.min).isoformat()
    with connection.cursor() as cursor:
        values = {"seal": seal.id if seal else 0, "since": since, "cls": int(cls)}
        cursor.execute(LEVELS, values | {"first": period.first.isoformat(), "last": period.last.isoformat()})
        return {code: tuple(map(int, row)) for code, *row in cursor.fetchall()}


def here_in(period: Period) -> QuerySet[Container]:
    """The containers that were here on a day of the period."""
    here = Q(void=False) | Q(arrival__reversed_by__day__gt=period.last)  # its arrival was taken back after the period
    here |= Q(arrival__day__lt=period.first, arrival__reversed_by__day__gte=period.first)  # ... or in it
    found = Container.objects.filter(here, arrived_on__lte=period.last)
    found = found.filter(Q(retired_on=None) | Q(retired_on__gte=period.first))
    return found.select_related("substance", "location", "account", "arrival").order_by("code")


def containers(period: Period, _key: str | None) -> ReportTable:
    """One row a container of the shop that was here on a day of the period. Place, grade and state are those of now."""
    moved = levels(period)
    rows, links, oils = [], [], []
    for one in here_in(period).iterator(2000):
        if (one.kept_for or one.unknown) and one.code not in moved:
            continue
        rows.append(row_of(one, moved))
        links.append({"code": reverse("container", args=[one.code])})
        oils.append(one.is_oil)
    return ReportTable(CONTAINER_COLUMNS, rows, notes=(MEASURED,), links=links, oils=oils)


def row_of(one: Container, moved: Mapping[str, tuple[int, int, int]]) -> tuple:
    """What CONTAINER_COLUMNS say of a container. moved: as `levels` answers it."""
    opening, inward, outward = moved.get(one.code, (0, 0, 0))
    return (
        one.code,
        one.kind,
        one.substance.code if one.substance else "",
        one.grade,
        one.location.name if one.location else "",
        one.state,
        one.arrived_on,
        one.arrival.document if one.arrival else "",
        one.tare_mg,
        opening,
        inward,
        outward,
        opening + inward - outward,
        one.last_weighed_on,
        one.retest_due,
    )


CONTAINER_COLUMNS = [
    Column("code", "Code"),
    Column("kind", "Kind"),
    Column("substance", "Substance"),
    Column("grade", "Grade"),
    Column("location", "Location"),
    Column("state", "State"),
    Column("received", "Received", "day"),
    Column("document", "Document"),
    Column("tare", "Tare", "mass"),
    Column("opening", "Opening", "quantity"),
    Column("in", "In", "quantity"),
    Column("out", "Out", "quantity"),
    Column("closing", "Closing", "quantity"),
    Column("last_weighed", "Last weighed", "day"),
    Column("retest_due", "Retest due", "day"),
]


def purchases(period: Period, _key: str | None) -> ReportTable:
    """One row a line of equal containers of a delivery. Net and price are those of the whole line."""
    certificates = list(Certificate.objects.select_related("person").order_by("-issued", "-id"))
    rows, links, oils = [], [], []
    currency = Shop.current().currency
    parties = worded(Party.objects.values_list("code", "name"))
    receipts = counted("receipt", period)
    supplied = Movement.objects.filter(
        voucher__in=receipts.order_by().values("number"), source_class=AccountClass.SUPPLIER
    )
    suppliers = dict(supplied.values_list("voucher_id", "source__name").distinct())
    for voucher in receipts:
        said = json.loads(voucher.detail)
        lines: dict[tuple, int] = defaultdict(int)
        for one in arrivals_of(said):
            line = tuple(one.get(name, 0) for name in ("kind", "substance", "grade", "quantity", "price_minor"))
            lines[line] += voucher.sign
        held = _on_file(certificates, voucher)
        supplier = said.get("supplier") or suppliers.get(voucher.number, "")
        for (kind, substance, _, net, price), count in lines.items():
            rows.append(
                (
                    voucher.day,
                    voucher.document,
                    parties.get(supplier, supplier),
                    held,
                    substance,
                    count,
                    net * count,
                    plain_money(price * count, currency) if price else None,
                )
            )
            links.append(
                {
                    "document": reverse("voucher", args=[voucher.number]),
                    "net": reverse("voucher", args=[voucher.number]),
                }
            )
            oils.append(is_oil(kind))
    columns = [
        Column("date", "Date", "day"),
        Column("document", "Document"),
        Column("supplier", "Supplier"),
        Column("certificate_on_file", "Certificate on file"),
        Column("substance", "Substance"),
        Column("containers", "Containers", "count"),
        Column("net", "Net", "quantity"),
        Column("price", "Price", "decimal"),
    ]
    return ReportTable(columns, rows, notes=_notes(rows, 6), links=links, oils=oils)


def _notes(rows: list[tuple], net: int) -> tuple[str, ...]:
    """What is below the table; net: the place of the quantity in a row."""
    return (MEASURED, TAKEN_OFF) if any(row[net] < 0 for row in rows) else (MEASURED,)


def _on_file(certificates: list[Certificate], voucher: Voucher) -> str:
    """The certificate, valid on the day, of whoever took the delivery; else one of somebody of the shop."""
    valid = [one for one in certificates if one.valid_on(voucher.day)]
    own = next((one for one in valid if one.person.username == voucher.done_by), None)
    found = own or next(iter(valid), None)
    return joined(called(found.person.username, found.person.name), f": {found}") if found else ""


SENT = """
SELECT m.voucher_id, t.name, s.code, s.is_oil, a.grade, SUM(m.quantity) FROM inventory_movement m
JOIN inventory_substance s ON s.id = m.substance_id JOIN inventory_account a ON a.id = m.source_id
JOIN inventory_account t ON t.id = m.target_id JOIN inventory_voucher v ON v.number = m.voucher_id
LEFT JOIN inventory_voucher r ON r.reverses_id = v.number
WHERE v.kind = 'shipment' AND m.source_class = 1 AND m.target_class IN (3, 5, 6)
  AND (m.day >= %s AND m.day <= %s OR m.day < %s AND r.day >= %s AND r.day <= %s)
GROUP BY m.voucher_id, t.name, s.code, s.is_oil, a.grade ORDER BY m.voucher_id, s.is_oil, s.code, a.grade
"""


def shipments(period: Period, _key: str | None) -> ReportTable:
    """One row a substance in a grade of a shipment."""
    signed = {one.number: one for one in counted("shipment", period)}
    parties = {one.code: one for one in Party.objects.all()}
    rows, links, oils = [], [], []
    with connection.cursor() as cursor:
        first, last = period.first.isoformat(), period.last.isoformat()
        cursor.execute(SENT, [first, last, first, first, last])
        sent = [row for row in cursor.fetchall() if row[0] in signed]
    place = {number: at for at, number in enumerate(signed)}
    for number, taker, code, oil, grade, net in sorted(sent, key=lambda row: place[row[0]]):
        voucher, party = signed[number], parties.get(taker)
        rows.append(
            (
                voucher.day,
                voucher.document,
                called(taker, party.name) if party else taker,
                Worded(" ".join(party.address.split()), "") if party else "",
                party.registration if party else "",
                json.loads(voucher.detail).get("purpose", ""),
                code,
                grade,
                voucher.sign * int(net),
            )
        )
        links.append({"document": reverse("voucher", args=[number]), "net": reverse("voucher", args=[number])})
        oils.append(bool(oil))
    columns = [
        Column("date", "Date", "day"),
        Column("document", "Document"),
        Column("party", "Party"),
        Column("address", "Address"),
        Column("registration", "Registration"),
        Column("purpose", "Purpose"),
        Column("substance", "Substance"),
        Column("grade", "Grade"),
        Column("net", "Net", "quantity"),
    ]
    return ReportTable(columns, rows, notes=_notes(rows, 8), links=links, oils=oils)


def variances(period: Period, _key: str | None, theirs: bool = False) -> ReportTable:
    """One row a weighing that was compared with the book: of the shop's own, or of customers' gas."""
    found = whose(explained(period.last), theirs).filter(day__gte=period.first)
    found = found.filter(Q(role__in=["before", "count"]) | ~Q(difference=0))
    rows, links, oils = [], [], []
    for one in found.select_related("container").order_by("day", "voucher_id", "line").iterator(2000):
        rows.append(
            (
                one.day,
                one.container.code,
                one.book,
                one.net if one.role != "after" else one.book + one.difference,
                one.difference,
                one.tolerance,
                one.outcome,
                one.reason or "",
            )
        )
        links.append(
            {
                "container": reverse("container", args=[one.container.code]),
                "difference": reverse("difference", args=[one.pk]),
            }
        )
        oils.append(one.container.is_oil)
    columns = [
        Column("date", "Date", "day"),
        Column("container", "Container"),
        Column("book", "Book", "quantity"),
        Column("scale_reading", "Scale reading, net", "quantity"),
        Column("difference", "Difference", "quantity"),
        Column("tolerance", "Tolerance", "quantity"),
        Column("class", "Class"),
        Column("reason", "Reason"),
    ]
    return ReportTable(columns, rows, notes=(MEASURED, *_counted(period)), links=links, oils=oils)


def _counted(period: Period) -> tuple[str, ...]:
    """What the counts of the period weighed and what not: only what was weighed stands in the table."""
    told = told_apart(period.first, period.last)
    if not (told.seen or told.assumed):
        return ()
    return (
        f"Counts of the period: {told.weighed} weighed, {told.seen} seen and not weighed, {told.assumed} neither: "
        "those are as the book had them.",
    )


CONTAINERS = Report(
    "containers", "Containers", containers, (), "Each container: what it held, what came in and went out."
)
PURCHASES = Report("purchases", "Purchases", purchases, (), "What was bought, from whom, on which paper.")
SHIPMENTS = Report("shipments", "Shipments", shipments, (), "What was sent away, to whom, and what for.")
VARIANCES = Report("variances", "Variances", variances, (), "Each weighing beside the book, and why it differed.")
