"""The ledger's questions, each answered by the database in one statement."""

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple

from django.db import connection
from django.db.models import Q, QuerySet

from inventory.ledger.accounts import AccountClass, Transfer
from inventory.ledger.models import Movement, Seal, Voucher

CONTAINER = int(AccountClass.CONTAINER)


class Flow(NamedTuple):
    """What moved between two classes of account in a period, in mg or uL."""

    substance_id: int
    source_class: int
    target_class: int
    reversal: bool
    quantity: int


def revisions_of(vouchers: QuerySet[Voucher]) -> QuerySet[Voucher]:
    """These vouchers, those whose place they took, and those that took theirs: all revisions of the same entries."""
    numbers = vouchers.order_by().values("number")
    first = vouchers.order_by().filter(first_revision__isnull=False).values("first_revision")
    same = Q(number__in=numbers) | Q(number__in=first) | Q(first_revision__in=numbers) | Q(first_revision__in=first)
    return Voucher.objects.filter(same)


def last_seal(through: dt.date | None = None) -> Seal | None:
    """The latest seal, or the latest that closes no day after `through`."""
    seals = Seal.objects.order_by("-through")
    return (seals.filter(through__lte=through) if through else seals).first()


def _changes_through(day: dt.date) -> tuple[str, list]:
    """SQL of rows (account_id, change) that add up to each balance at the end of `day`, and its values: what the
    last seal kept, and what moved since."""
    seal = last_seal(day)
    parts, values = [], []
    if seal:
        parts.append("SELECT account_id, balance AS change FROM inventory_sealbalance WHERE seal_id = %s")
        values.append(seal.id)
    since = seal.through if seal else dt.date.min
    for column, sign in (("target_id", ""), ("source_id", "-")):
        parts.append(
            f"SELECT {column} AS account_id, {sign}quantity AS change FROM inventory_movement "
            "WHERE day > %s AND day <= %s"
        )
        values += [since.isoformat(), day.isoformat()]
    return f"({' UNION ALL '.join(parts)}) AS changes", values


def balances_through(day: dt.date) -> list[tuple[int, int]]:
    """(account id, balance) at the end of `day`, zeros left out."""
    changes, values = _changes_through(day)
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT account_id, SUM(change) FROM {changes} "
            "GROUP BY account_id HAVING SUM(change) <> 0 ORDER BY account_id",
            values,
        )
        return [(account_id, int(balance)) for account_id, balance in cursor.fetchall()]


def stock_through(day: dt.date) -> dict[int, int]:
    """What all containers held at the end of `day`, per substance id; mg or uL."""
    seal = last_seal(day)
    stock: dict[int, int] = {}
    if seal:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT a.substance_id, SUM(b.balance) FROM inventory_sealbalance b "
                "JOIN inventory_account a ON a.id = b.account_id WHERE b.seal_id = %s AND a.cls = %s "
                "GROUP BY a.substance_id",
                [seal.id, CONTAINER],
            )
            stock = {substance_id: int(total) for substance_id, total in cursor.fetchall()}
    for flow in totals_between(seal.through if seal else None, day):
        if flow.source_class != flow.target_class:
            sign = (flow.target_class == CONTAINER) - (flow.source_class == CONTAINER)
            stock[flow.substance_id] = stock.get(flow.substance_id, 0) + sign * flow.quantity
    return stock


def stock_kept() -> dict[int, int]:
    """What all containers hold now, per substance id, by the balances kept with each posting; mg or uL."""
    with connection.cursor() as cursor:
        cursor.execute(  # the class written out, so that SQLite reads the index of what holds something
            f"SELECT substance_id, SUM(balance) FROM inventory_account WHERE cls = {CONTAINER:d} AND balance > 0 "
            "GROUP BY substance_id"
        )
        return {substance_id: int(total) for substance_id, total in cursor.fetchall()}


def nothing_after(day: dt.date) -> bool:
    """Whether no voucher is dated after this day."""
    return not Voucher.objects.filter(day__gt=day).exists()


def stock_by(column: str, day: dt.date, cls: int = CONTAINER) -> dict[tuple[int, str], int]:
    """As stock_through, split by the accounts' `grade`, `location` or `owner`: (substance id, value) -> mg or uL.
    cls: of the accounts, the shop's own or those of gas that is kept."""
    assert column in {"grade", "location", "owner"}
    changes, values = _changes_through(day)
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT a.substance_id, a.{column}, SUM(change) FROM {changes} "
            f"JOIN inventory_account a ON a.id = account_id WHERE a.cls = %s GROUP BY a.substance_id, a.{column}",
            [*values, cls],
        )
        return {(substance_id, value): int(total) for substance_id, value, total in cursor.fetchall()}


def totals_between(after: dt.date | None, through: dt.date) -> list[Flow]:
    """What moved between classes of account on the days after `after` up to and including `through`.

    Sealed periods are read from their seals. The inner sum runs in the order of the covering index, day by
    day, so that nothing large is sorted.
    """
    if after is not None and after >= through:
        return []
    if (sealed := _sealed_totals(after, through)) is not None:
        return sealed
    with connection.cursor() as cursor:
        cursor.execute(TOTALS, [(after or dt.date.min).isoformat(), through.isoformat()])
        return [Flow(s, a, b, bool(r), int(q)) for s, a, b, r, q in cursor.fetchall()]


TOTALS = (
    "SELECT substance_id, source_class, target_class, reversal, SUM(total) FROM ("
    "SELECT day, substance_id, source_class, target_class, reversal, SUM(quantity) AS total "
    "FROM inventory_movement WHERE day > %s AND day <= %s "
    "GROUP BY day, substance_id, source_class, target_class, reversal"
    ") AS days GROUP BY substance_id, source_class, target_class, reversal "
    "ORDER BY substance_id, source_class, target_class, reversal"
)


def _sealed_totals(after: dt.date | None, through: dt.date) -> list[Flow] | None:
    """The totals of a run of sealed periods, where the days asked for are exactly one."""
    ends = dict(Seal.objects.filter(through__in=[d for d in (after, through) if d]).values_list("through", "id"))
    if through not in ends or (after is not None and after not in ends):
        return None
    seals = Seal.objects.filter(through__lte=through)
    if after is not None:
        seals = seals.filter(through__gt=after)
    marks = list(seals.values_list("id", flat=True))
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT substance_id, source_class, target_class, reversal, SUM(quantity) FROM inventory_sealtotal "
            f"WHERE seal_id IN ({', '.join(['%s'] * len(marks))}) "
            "GROUP BY substance_id, source_class, target_class, reversal "
            "ORDER BY substance_id, source_class, target_class, reversal",
            marks,
        )
        return [Flow(s, a, b, bool(r), int(q)) for s, a, b, r, q in cursor.fetchall()]


def flows_by(key: str, after: dt.date, through: dt.date) -> list[tuple[Flow, str, str]]:
    """As totals_between, split: by `grade`, `location` or `owner` of the source's and of the target's account, by the
    voucher's `technician` (given twice), or by `month` (YYYY-MM, given twice)."""
    month = "to_char(m.day, 'YYYY-MM')" if connection.vendor == "postgresql" else "substr(m.day, 1, 7)"
    joins, one, two = {
        "month": ("", month, month),
        "technician": ("JOIN inventory_voucher v ON v.number = m.voucher_id", "v.done_by", "v.done_by"),
        "grade": (_ACCOUNTS, "a.grade", "b.grade"),
        "location": (_ACCOUNTS, "a.location", "b.location"),
        "owner": (_ACCOUNTS, "a.owner", "b.owner"),
    }[key]
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT m.substance_id, m.source_class, m.target_class, m.reversal, SUM(m.quantity), "
            f"{one} AS one, {two} AS two FROM inventory_movement m {joins} WHERE m.day > %s AND m.day <= %s "
            "GROUP BY m.substance_id, m.source_class, m.target_class, m.reversal, one, two",
            [after.isoformat(), through.isoformat()],
        )
        return [(Flow(s, a, b, bool(r), int(q)), x, y) for s, a, b, r, q, x, y in cursor.fetchall()]


_ACCOUNTS = "JOIN inventory_account a ON a.id = m.source_id JOIN inventory_account b ON b.id = m.target_id"


def balances_of(accounts: Sequence[int], day: dt.date) -> dict[int, int]:
    """What some accounts held at the end of `day`, mg or uL, by id, from the last seal on: one statement."""
    if not accounts:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(BALANCES_OF.format(", ".join(["%s"] * len(accounts))), [day.isoformat()] * 3 + [*accounts])
        return {account_id: int(balance) for account_id, balance in cursor.fetchall()}


BALANCES_OF = """
WITH sealed AS (SELECT id, through FROM inventory_seal WHERE through <= %s ORDER BY through DESC LIMIT 1),
     since AS (SELECT COALESCE((SELECT through FROM sealed), '0001-01-01') AS day)
SELECT a.id,
  COALESCE((SELECT b.balance FROM inventory_sealbalance b JOIN sealed s ON s.id = b.seal_id
            WHERE b.account_id = a.id), 0)
  + COALESCE((SELECT SUM(m.quantity) FROM inventory_movement m
              WHERE m.target_id = a.id AND m.day > (SELECT day FROM since) AND m.day <= %s), 0)
  - COALESCE((SELECT SUM(m.quantity) FROM inventory_movement m
              WHERE m.source_id = a.id AND m.day > (SELECT day FROM since) AND m.day <= %s), 0)
FROM inventory_account a WHERE a.id IN ({})
"""


def head() -> tuple[int, str]:
    """The last voucher's number and digest: what a printed report witnesses."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT number, digest FROM inventory_chainhead WHERE id = 1")
        return cursor.fetchone()


def as_digest(typed: str) -> str:
    """A digest as it is kept, from one that was typed or copied, in groups as papers print it."""
    return "".join(typed.split()).lower()


def voucher_containing(digest: str) -> Voucher | None:
    """The voucher whose digest this is, if the chain holds it."""
    return Voucher.objects.filter(digest=as_digest(digest)).first()


def transfers_of(number: int) -> list[Transfer]:
    """A voucher's movements as transfers, in their order."""
    rows = Movement.objects.filter(voucher=number).order_by("line")
    rows = rows.select_related("source__substance", "target__substance")
    return [Transfer(row.source.spot, row.target.spot, row.quantity, row.reversal) for row in rows]
