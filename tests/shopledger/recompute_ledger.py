"""Works every digest of a ledger out a second time, with the standard library alone: `python FILE shopledger.sqlite3`.

Of the program it knows the texts that digests stand for and the names of the tables: the link of a voucher is SHA-256
of its canonical text; its digest SHA-256 of the digest before, a line feed, and the link; before the first stands
SHA-256 of "shopledger ", a space included, and the ledger's id. The digest of a record is SHA-256 of its salt, a line
feed, and its body, which is JSON with sorted keys and no spaces; where it was erased, both are gone.
"""

import hashlib
import json
import sqlite3
import sys


def sha256(text):
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def compact(value, **more):
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), **more)


def by_voucher(rows):
    found = {}
    for number, *row in rows:
        found.setdefault(number, []).append(row)
    return found


def recomputed(asked):
    """How many vouchers, records and movements there are, and the head. asked: SQL to rows. Raises AssertionError at
    the first digest that is another."""
    ((ledger_id, last, head),) = asked("SELECT ledger_id, number, digest FROM inventory_chainhead")
    movements = by_voucher(
        asked(
            "SELECT m.voucher_id, s.key, t.key, m.quantity, CASE WHEN m.reversal THEN 1 ELSE 0 END "
            "FROM inventory_movement m JOIN inventory_account s ON s.id = m.source_id "
            "JOIN inventory_account t ON t.id = m.target_id ORDER BY m.voucher_id, m.line"
        )
    )
    records = by_voucher(
        asked("SELECT voucher_id, kind, key, digest, salt, body FROM inventory_record ORDER BY voucher_id, line")
    )
    counted = sum(map(len, records.values())), sum(map(len, movements.values()))
    previous, number = sha256(f"shopledger {ledger_id}"), 0
    for number, day, *said, detail, digest in asked(
        "SELECT number, CAST(day AS TEXT), kind, recorded_at, recorded_by, done_by, document, reverses_id, key, "
        "detail, digest FROM inventory_voucher ORDER BY number"
    ):
        moved = [[json.loads(source), json.loads(target), *more] for source, target, *more in movements.pop(number, ())]
        stated = records.pop(number, ())
        for _, key, own, salt, body in stated:
            if (salt, body) != (None, None):
                assert own == sha256(f"{salt}\n{body}"), f"record {key} of voucher {number}"
                assert body == compact(json.loads(body), sort_keys=True), f"record {key} of voucher {number}"
        text = [1, number, day, *said, json.loads(detail), moved, [row[:3] for row in stated]]
        previous = sha256(f"{previous}\n{sha256(compact(text))}")
        assert digest == previous, f"voucher {number}"
    assert (movements, records, last, head) == ({}, {}, number, previous), "the head, or what belongs to no voucher"
    return number, *counted, previous


if __name__ == "__main__":
    print(recomputed(sqlite3.connect(sys.argv[1]).execute))
