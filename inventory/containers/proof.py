"""What `verify` proves of containers and weighings: they repeat what vouchers and accounts say."""

import json
from collections.abc import Iterator
from itertools import groupby

from django.db import connection

from inventory.ledger.queries import CONTAINER
from inventory.ledger.verify import Proof

PAGE = 2000  # vouchers at a time, so that memory stays flat


def check_weighings(proof: Proof) -> None:
    """Each weighing as its voucher's digest holds it, and none beside those."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT COALESCE(MAX(number), 0) FROM inventory_voucher")
        top = cursor.fetchone()[0]
    for start in range(1, top + 1, PAGE):
        kept = {number: [row[1:] for row in rows] for number, rows in groupby(_kept(start), key=lambda row: row[0])}
        for number, day, detail in _said(start):
            said = json.loads(detail).get("weighings", []) if '"weighings"' in detail else []
            expected = [(line, day, *values) for line, values in enumerate(said)]
            if [tuple(row) for row in kept.pop(number, [])] != [tuple(row) for row in expected]:
                proof.fault(f"The weighings kept of voucher {number} are not those that it says.", number)
        for number in kept:
            proof.fault(f"Weighings belong to voucher {number}, which is not there.", number)


def _kept(start: int) -> Iterator[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT w.voucher_id, w.line, w.day, c.code, w.role, COALESCE(s.code, ''), w.gross, w.tare, w.book, w.net, "
            "w.difference, w.tolerance, w.outcome FROM inventory_weighing w "
            "JOIN inventory_container c ON c.id = w.container_id LEFT JOIN inventory_scale s ON s.id = w.scale_id "
            "WHERE w.voucher_id >= %s AND w.voucher_id < %s ORDER BY w.voucher_id, w.line",
            [start, start + PAGE],
        )
        for number, line, day, *values in cursor.fetchall():
            yield (number, line, str(day), *values)


def _said(start: int) -> Iterator[tuple[int, str, str]]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT number, day, detail FROM inventory_voucher WHERE number >= %s AND number < %s ORDER BY number",
            [start, start + PAGE],
        )
        for number, day, detail in cursor.fetchall():
            yield number, str(day), _without_readability(detail)


def _without_readability(detail: str) -> str:
    """The readability of a reading's scale stands in the voucher alone: the scale's own may change later."""
    if '"weighings"' not in detail:
        return detail
    said = json.loads(detail)
    said["weighings"] = [[*values[:3], *values[4:]] for values in said["weighings"]]
    return json.dumps(said)


def check_containers(proof: Proof) -> None:
    """Each container's account is the one that its substance, location and grade name, and holds all of it."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT c.code, c.last_voucher_id FROM inventory_container c "
            "LEFT JOIN inventory_account a ON a.id = c.account_id "
            "LEFT JOIN inventory_location l ON l.id = c.location_id "
            "WHERE c.account_id IS NOT NULL AND (a.cls <> %s OR a.name <> c.code OR a.substance_id <> c.substance_id "
            "OR a.grade <> c.grade OR a.location <> COALESCE(l.name, '')) ORDER BY c.code",
            [CONTAINER],
        )
        for code, voucher in cursor.fetchall():
            proof.fault(f"Container {code} stands at another account than its place and grade name.", voucher)
        cursor.execute(
            "SELECT a.key, c.last_voucher_id FROM inventory_account a "
            "LEFT JOIN inventory_container c ON c.code = a.name "
            "WHERE a.cls = %s AND a.balance <> 0 "
            "AND (c.id IS NULL OR c.account_id IS NULL OR c.account_id <> a.id OR c.retired_on IS NOT NULL)",
            [CONTAINER],
        )
        for key, voucher in cursor.fetchall():
            proof.fault(f"{key} holds something, and no container in use stands there.", voucher)
