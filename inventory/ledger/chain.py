"""The chain as anyone can recompute it: each voucher's canonical text beside its digest and the one before."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

from django.db import connection

from inventory.ledger import canonical
from inventory.ledger.models import ChainHead

PAGE = 2000


@dataclass(frozen=True)
class Link:
    """digest is to be SHA-256 of `previous`, a line feed, and the SHA-256 of `text`."""

    number: int
    day: str
    previous: str
    digest: str
    text: str

    def as_line(self) -> bytes:
        return json.dumps(vars(self), ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def links(first: int, last: int) -> Iterator[Link]:
    """The vouchers from one number to another, read a page at a time so that memory stays flat."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT digest FROM inventory_voucher WHERE number = %s", [first - 1])
        row = cursor.fetchone()
    previous = row[0] if row else canonical.genesis(ChainHead.objects.get(id=1).ledger_id)
    for start in range(first, last + 1, PAGE):
        top = min(start + PAGE, last + 1)
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT m.voucher_id, s.key, t.key, m.quantity, m.reversal FROM inventory_movement m "
                "JOIN inventory_account s ON s.id = m.source_id JOIN inventory_account t ON t.id = m.target_id "
                "WHERE m.voucher_id >= %s AND m.voucher_id < %s ORDER BY m.voucher_id, m.line",
                [start, top],
            )
            movements = {
                number: [canonical.movement_text(*row[1:]) for row in rows]
                for number, rows in groupby(cursor.fetchall(), key=itemgetter(0))
            }
            cursor.execute(
                "SELECT voucher_id, kind, key, digest FROM inventory_record "
                "WHERE voucher_id >= %s AND voucher_id < %s ORDER BY voucher_id, line",
                [start, top],
            )
            records = {
                number: [canonical.record_text(*row[1:]) for row in rows]
                for number, rows in groupby(cursor.fetchall(), key=itemgetter(0))
            }
            cursor.execute(
                "SELECT number, day, kind, recorded_at, recorded_by, done_by, document, reverses_id, key, detail, "
                "digest FROM inventory_voucher WHERE number >= %s AND number < %s ORDER BY number",
                [start, top],
            )
            vouchers = cursor.fetchall()
        for number, day, *rest, digest in vouchers:
            said = canonical.Said(number, str(day)[:10], *rest)
            text = canonical.voucher_text(said, movements.get(number, ()), records.get(number, ()))
            yield Link(number, said.day, previous, digest, text)
            previous = digest
