"""Proof of what is summed up: each balance and each seal against the movements."""

import datetime as dt
from collections.abc import Iterator

from inventory.ledger.accounts import HOLDING_SQL
from inventory.ledger.models import Seal
from inventory.ledger.proof import Proof, rows, spans
from inventory.ledger.seals import rows_digest

Span = tuple[int, int]  # account ids from one up to another
SPAN = 10_000


def _changes(seal: Seal | None, span: Span | None) -> tuple[str, list]:
    """SQL of rows (account_id, day, change), and its values: of all movements of the accounts of a span, or of the
    movements after a seal."""
    parts = []
    for column, sign in (("target_id", ""), ("source_id", "-")):
        where = f"{column} >= %s AND {column} < %s" if span else "day > %s"
        moved = f"{column} AS account_id, day, {sign}quantity AS change"
        parts.append(f"SELECT {moved} FROM inventory_movement WHERE {where}")
    values = span or (seal.through.isoformat(),)
    return " UNION ALL ".join(parts), [*values, *values]


def _spans(seal: Seal | None = None) -> Iterator[Span | None]:
    """Accounts, so many ids at a time: what the database sorts then stays small, however long the ledger is. Since a
    seal all at once: the days say what is little."""
    if seal is not None:
        yield None
        return
    yield from spans({"inventory_account": "id", "inventory_sealbalance": "account_id"}, -1, SPAN)


# What the seal kept of each account; nothing where there is no seal.
KEPT = "LEFT JOIN inventory_sealbalance b ON b.account_id = a.id AND b.seal_id = %s"


def check_balances(proof: Proof, seal: Seal | None = None) -> None:
    """The balance of each account beside its movements: all of them, or those since a seal on top of what it kept."""
    come_to = "the last seal and its movements come to" if seal else "its movements add up to"
    for span in _spans(seal):
        changes, values = _changes(seal, span)
        within = "a.id >= %s AND a.id < %s AND " if span else ""
        for key, balance, total in rows(
            f"SELECT a.key, a.balance, COALESCE(b.balance, 0) + COALESCE(t.total, 0) FROM inventory_account a {KEPT} "
            f"LEFT JOIN (SELECT account_id, SUM(change) AS total FROM ({changes}) AS c GROUP BY account_id) AS t "
            f"ON t.account_id = a.id WHERE {within}a.balance <> COALESCE(b.balance, 0) + COALESCE(t.total, 0)",
            seal.id if seal else 0,
            *values,
            *(span or ()),
        ):
            # Which voucher is wrong, if one is, its digest says: a balance is a sum over many.
            proof.fault(f"Account {key} keeps the balance {balance}; {come_to} {total}.")


def check_never_below_zero(proof: Proof, seal: Seal | None = None) -> None:
    """No container on the end of any day, or of any day after a seal."""
    for span in _spans(seal):
        changes, values = _changes(seal, span)
        for key, day, level, account_id in rows(
            "SELECT a.key, l.day, COALESCE(b.balance, 0) + l.moved, a.id FROM (SELECT account_id, day, "
            "SUM(change) OVER (PARTITION BY account_id ORDER BY day) AS moved FROM "
            f"(SELECT account_id, day, SUM(change) AS change FROM ({changes}) AS c GROUP BY account_id, day) AS d) "
            f"AS l JOIN inventory_account a ON a.id = l.account_id {KEPT} "
            f"WHERE a.cls IN ({HOLDING_SQL}) AND COALESCE(b.balance, 0) + l.moved < 0 ORDER BY l.day",
            *values,
            seal.id if seal else 0,
        ):
            proof.fault(f"{key} stands at {level} at the end of {day}.", _voucher_on(account_id, day))


def _voucher_on(account_id: int, day: object) -> int | None:
    return rows(
        "SELECT MAX(voucher_id) FROM inventory_movement WHERE source_id = %s AND day = %s",
        account_id,
        str(day),
    )[0][0]


def check_seals(proof: Proof, digests: set[str]) -> None:
    after = dt.date.min
    for seal in Seal.objects.order_by("through"):
        proof.seals += 1
        if seal.digest not in digests:
            proof.fault(f"The seal through {seal.through} holds the digest {seal.digest}, which is not in the chain.")
        late = rows(
            "SELECT MIN(number) FROM inventory_voucher WHERE day <= %s AND number > %s",
            seal.through.isoformat(),
            seal.number,
        )[0][0]
        if late:
            proof.fault(f"Voucher {late} is dated in the period sealed through {seal.through} and came after.", late)
        _seal_figures(proof, seal, after)
        check_seal_digests(proof, seal)
        after = seal.through


def check_seal_digests(proof: Proof, seal: Seal) -> None:
    """What a seal keeps of accounts and flows is what its own digests stand for, and its entry those."""
    for what, digest, sql in (
        (
            "balances",
            seal.balances_sha256,
            "COALESCE(a.key, ''), b.balance FROM inventory_sealbalance b "
            "LEFT JOIN inventory_account a ON a.id = b.account_id",
        ),
        (
            "totals",
            seal.totals_sha256,
            "substance_id, source_class, target_class, reversal, quantity FROM inventory_sealtotal",
        ),
    ):
        if rows_digest(rows(f"SELECT {sql} WHERE seal_id = %s", seal.id)) != digest:
            proof.fault(f"The seal through {seal.through} holds another digest of its {what} than they have.")


def _seal_figures(proof: Proof, seal: Seal, after: dt.date) -> None:
    for span in _spans():
        kept = set(
            rows(
                "SELECT account_id, balance FROM inventory_sealbalance WHERE seal_id = %s AND account_id >= %s "
                "AND account_id < %s",
                seal.id,
                *span,
            )
        )
        changes, values = _changes(None, span)
        true = {
            (account_id, int(total))
            for account_id, total in rows(
                f"SELECT account_id, SUM(change) FROM ({changes}) AS c WHERE day <= %s GROUP BY account_id "
                "HAVING SUM(change) <> 0",
                *values,
                seal.through.isoformat(),
            )
        }
        for account_id, _ in sorted(kept ^ true):
            proof.fault(
                f"The seal through {seal.through} keeps another balance for account {account_id} than its movements."
            )
    columns = "substance_id, source_class, target_class, reversal"
    kept_totals = {
        (*row[:3], bool(row[3]), row[4])
        for row in rows(f"SELECT {columns}, quantity FROM inventory_sealtotal WHERE seal_id = %s", seal.id)
    }
    true_totals = {
        (*row[:3], bool(row[3]), int(row[4]))
        for row in rows(
            f"SELECT {columns}, SUM(quantity) FROM inventory_movement WHERE day > %s AND day <= %s GROUP BY {columns}",
            after.isoformat(),
            seal.through.isoformat(),
        )
    }
    if kept_totals != true_totals:
        proof.fault(f"The totals of the seal through {seal.through} are not what its movements add up to.")
