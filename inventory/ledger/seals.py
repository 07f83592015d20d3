"""The ledger's third verb: closing days for good."""

import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence

from django.db import connection

from inventory.ledger.actions import Draft, writing
from inventory.ledger.canonical import canonical_json
from inventory.ledger.models import Account, Seal
from inventory.ledger.queries import balances_through, totals_between
from inventory.measures.days import said_day
from inventory.shop.clock import today
from inventory.text.refusal import Refused


def rows_text(rows: Iterable[Sequence]) -> str:
    """Rows of whole numbers and of accounts' keys: each as JSON without spaces, in their order as text, joined by line
    feeds."""
    said = ([value if isinstance(value, str) else int(value) for value in row] for row in rows)
    return "\n".join(sorted(map(canonical_json, said)))


def rows_digest(rows: Iterable[Sequence]) -> str:
    """SHA-256 of the rows' text."""
    return hashlib.sha256(rows_text(rows).encode()).hexdigest()


def balances_text(made: Seal) -> str:
    """What a seal keeps of accounts, by their keys: who reads it elsewhere has no table of their numbers."""
    return rows_text(made.balances.values_list("account__key", "balance").iterator(2000))


def seal(through: dt.date, made_by: str, owes: Sequence[str] = ()) -> Seal:
    """Close all days up to and including `through` for good: an entry of the chain. owes: the report files that are to
    be kept of the period. Raises Refused for a day that has not ended or that an earlier seal covers."""
    with writing() as ledger:
        if through >= today():
            raise Refused(
                f"{said_day(through)} has not ended at the shop; the last day that can be sealed is yesterday.",
                "through",
            )
        if ledger.sealed_through and through <= ledger.sealed_through:
            raise Refused(
                f"All days up to {said_day(ledger.sealed_through)} are sealed already; name a later day.", "through"
            )
        balances = balances_through(through)
        totals = totals_between(ledger.sealed_through, through)
        number, digest = ledger.number, ledger.digest
        said = {"through": through.isoformat(), "number": number, "digest": digest}
        ledger.post(Draft(kind="seal", day=today(), recorded_by=made_by, detail=said))
        keys = dict(Account.objects.values_list("id", "key").iterator(2000))
        row = Seal.objects.create(
            through=through,
            number=number,
            digest=digest,
            balances_sha256=rows_digest((keys[account_id], balance) for account_id, balance in balances),
            totals_sha256=rows_digest(totals),
            owes=list(owes),
            made_at=ledger.recorded_at,
            made_by=made_by,
        )
        with connection.cursor() as cursor:
            cursor.executemany(
                "INSERT INTO inventory_sealbalance (seal_id, account_id, balance) VALUES (%s, %s, %s)",
                [(row.id, account_id, balance) for account_id, balance in balances],
            )
            cursor.executemany(
                "INSERT INTO inventory_sealtotal (seal_id, substance_id, source_class, target_class, reversal, "
                "quantity) VALUES (%s, %s, %s, %s, %s, %s)",
                [(row.id, *total) for total in totals],
            )
        return row
