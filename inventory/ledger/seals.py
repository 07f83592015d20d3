"""The ledger's third verb: closing days for good."""

import datetime as dt

from django.db import connection

from inventory.ledger.actions import writing
from inventory.ledger.models import Seal
from inventory.ledger.queries import balances_through, totals_between
from inventory.shop.clock import today
from inventory.text.refusal import Refused


def seal(through: dt.date, made_by: str) -> Seal:
    """Close all days up to and including `through` for good. Raises Refused for a day that has not ended
    or that an earlier seal covers."""
    with writing() as ledger:
        if through >= today():
            raise Refused(
                f"{through} has not ended at the shop; the last day that can be sealed is yesterday.",
                "through",
            )
        if ledger.sealed_through and through <= ledger.sealed_through:
            raise Refused(f"All days up to {ledger.sealed_through} are sealed already; name a later day.", "through")
        balances = balances_through(through)
        totals = totals_between(ledger.sealed_through, through)
        row = Seal.objects.create(
            through=through, number=ledger.number, digest=ledger.digest, made_at=ledger.moment(), made_by=made_by
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
