"""The ledger's questions, each answered by the database in one statement."""

import datetime as dt
from typing import NamedTuple

from django.db import connection

from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Account, Seal, Voucher

CONTAINER = int(AccountClass.CONTAINER)


class Flow(NamedTuple):
    """What moved between two classes of account in a period, in mg or uL."""

    substance_id: int
    source_class: int
    target_class: int
    reversal: bool
    quantity: int


def last_seal(through: dt.date | None = None) -> Seal | None:
    """The latest seal, or the latest that closes no day after `through`."""
    seals = Seal.objects.order_by("-through")
    return (seals.filter(through__lte=through) if through else seals).first()


def balances_through(day: dt.date) -> list[tuple[int, int]]:
    """(account id, balance) at the end of `day`, zeros left out: the last seal's, and what moved since."""
    seal = last_seal(day)
    parts, values = [], []
    if seal:
        parts.append("SELECT account_id, balance AS change FROM inventory_sealbalance WHERE seal_id = %s")
        values.append(seal.id)
    since = seal.through.isoformat() if seal else "0001-01-01"
    for column, sign in (("target_id", ""), ("source_id", "-")):
        parts.append(
            f"SELECT {column} AS account_id, {sign}quantity AS change FROM inventory_movement "
            "WHERE day > %s AND day <= %s"
        )
        values += [since, day.isoformat()]
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT account_id, SUM(change) FROM ({' UNION ALL '.join(parts)}) AS changes "
            "GROUP BY account_id HAVING SUM(change) <> 0 ORDER BY account_id",
            values,
        )
        return [(account_id, int(balance)) for account_id, balance in cursor.fetchall()]


def totals_between(after: dt.date | None, through: dt.date) -> list[Flow]:
    """What moved between classes of account on the days after `after` up to and including `through`.

    The inner sum runs in the order of the covering index, day by day, so that nothing large is sorted.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT substance_id, source_class, target_class, reversal, SUM(total) FROM ("
            "SELECT day, substance_id, source_class, target_class, reversal, SUM(quantity) AS total "
            "FROM inventory_movement WHERE day > %s AND day <= %s "
            "GROUP BY day, substance_id, source_class, target_class, reversal"
            ") AS days GROUP BY substance_id, source_class, target_class, reversal "
            "ORDER BY substance_id, source_class, target_class, reversal",
            [(after or dt.date.min).isoformat(), through.isoformat()],
        )
        return [Flow(s, a, b, bool(r), int(q)) for s, a, b, r, q in cursor.fetchall()]


def account_balance(account: Account, day: dt.date) -> int:
    """What one account held at the end of `day`, in mg or uL."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT COALESCE((SELECT SUM(quantity) FROM inventory_movement WHERE target_id = %s AND day <= %s), 0) "
            "- COALESCE((SELECT SUM(quantity) FROM inventory_movement WHERE source_id = %s AND day <= %s), 0)",
            [account.id, day.isoformat(), account.id, day.isoformat()],
        )
        return int(cursor.fetchone()[0])


def head() -> tuple[int, str]:
    """The last voucher's number and digest: what a printed report witnesses."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT number, digest FROM inventory_chainhead WHERE id = 1")
        return cursor.fetchone()


def voucher_containing(digest: str) -> Voucher | None:
    """The voucher whose digest this is, if the chain holds it."""
    return Voucher.objects.filter(digest=digest.strip().lower()).first()
