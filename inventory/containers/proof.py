"""What `verify` proves of containers: what stands beside the vouchers is what they say, and what is posted is what the
standing acts come to, told anew."""

import json
from itertools import groupby
from operator import itemgetter

from inventory.containers.events import Kept, kept_of
from inventory.ledger.accounts import HOLDING_SQL, AccountClass
from inventory.ledger.proof import Proof, rows, spans
from inventory.ledger.queries import CONTAINER

PAGE = 2000  # vouchers at a time, so that memory stays flat


# -- beside each voucher -----------------------------------------------------------------------------------


def check_entries(proof: Proof) -> None:
    """Weighings and entries as their vouchers' digests hold them, and none beside those; first revisions too."""
    for (number,) in rows(
        'SELECT voucher_id FROM inventory_containerentry WHERE CAST("on" AS TEXT) <> SUBSTR(position, 1, 10) ORDER BY 1'
    ):
        proof.fault(f"What is kept of the acts of voucher {number} stands under another day than its position.", number)
    for span in spans(NUMBERED, 0, PAGE):
        weighings, entries = _grouped(WEIGHINGS, span), _grouped(ENTRIES, span)
        for number, day, detail, first, reversed_by in rows(VOUCHERS, *span):
            kept_weighings, kept_entries = weighings.pop(number, []), entries.pop(number, [])
            try:
                said = json.loads(detail) if len(detail) > 2 else {}
                kept = kept_of(said["event"], number) if "event" in said else Kept([], [])
                weighed = _weighings(number, day, said, kept.readings)
                expected = sorted((number, *entry) for entry in kept.entries) if reversed_by is None else []
            except (ValueError, TypeError, LookupError, AttributeError):
                proof.fault(f"What voucher {number} says of containers cannot be read.", number)
                continue
            if kept_weighings != weighed:
                proof.fault(f"The weighings kept of voucher {number} are not those that it says.", number)
            if sorted(kept_entries) != expected:
                proof.fault(f"What is kept of the acts of voucher {number} is not what it says.", number)
            if said.get("first_revision") != first:
                proof.fault(f"Voucher {number} names another first revision than the one that is kept.", number)
        for number in {*weighings, *entries}:
            proof.fault(f"Weighings or acts belong to voucher {number}, which is not there.", number)


NUMBERED = {
    "inventory_voucher": "number",
    "inventory_weighing": "voucher_id",
    "inventory_containerentry": "voucher_id",
}
VOUCHERS = """
SELECT v.number, CAST(v.day AS TEXT), v.detail, v.first_revision_id, r.number FROM inventory_voucher v
LEFT JOIN inventory_voucher r ON r.reverses_id = v.number WHERE v.number >= %s AND v.number < %s ORDER BY v.number
"""
# The position of one that restates is that of what it restates.
WEIGHINGS = """
SELECT w.voucher_id, w.line, CAST(w.day AS TEXT),
  CASE WHEN w.restates_id IS NULL THEN w.position WHEN f.position = w.position THEN NULL ELSE 'another' END,
  f.voucher_id, f.line, c.code, w.role, CASE WHEN w.scale_id IS NULL THEN '' ELSE s.code END, w.gross, w.tare, w.book,
  w.net, w.difference, w.tolerance, w.outcome
FROM inventory_weighing w JOIN inventory_container c ON c.id = w.container_id
LEFT JOIN inventory_scale s ON s.id = w.scale_id LEFT JOIN inventory_weighing f ON f.id = w.restates_id
WHERE w.voucher_id >= %s AND w.voucher_id < %s ORDER BY w.voucher_id, w.line
"""
ENTRIES = """
SELECT e.voucher_id, c.code, e.position, e.ops FROM inventory_containerentry e
JOIN inventory_container c ON c.id = e.container_id WHERE e.voucher_id >= %s AND e.voucher_id < %s ORDER BY e.voucher_id
"""


def _weighings(number: int, day: str, said: dict, positions: list[str]) -> list[tuple]:
    """What the rows of a voucher's weighings should be, as WEIGHINGS selects them. positions: of its own readings. The
    readability is not among them: what a scale's own is may change later."""
    readings = enumerate(said.get("weighings", ()))
    if "restates" in said:
        return [
            (number, line, day, None, *first, *values[:3], *values[4:])
            for (line, values), first in zip(readings, said["restates"], strict=True)
        ]
    return [
        (number, line, day, position, None, None, *values[:3], *values[4:])
        for (line, values), position in zip(readings, positions, strict=True)
    ]


def _grouped(sql: str, span: tuple[int, int]) -> dict[int, list[tuple]]:
    found = rows(sql, *span)
    return {number: list(group) for number, group in groupby(found, key=itemgetter(0))}


# What a container need not name is there where it names it; what it must name, its story says.
NAMES_NOTHING = "\nUNION ALL\n".join(
    f"SELECT c.code, c.last_voucher_id, '{what}', c.{column} FROM inventory_container c LEFT JOIN {table} t "
    f"ON t.{key} = c.{column} WHERE c.{column} IS NOT NULL AND t.{key} IS NULL"
    for what, column, table, key in (
        ("substance", "substance_id", "inventory_substance", "id"),
        ("place", "location_id", "inventory_location", "id"),
        ("account", "account_id", "inventory_account", "id"),
        ("scale", "last_scale_id", "inventory_scale", "id"),
        ("voucher", "last_voucher_id", "inventory_voucher", "number"),
    )
)


# -- the containers ------------------------------------------------------------------------------------------


def check_containers(proof: Proof) -> None:
    """Each container's account is the one that its substance, location and grade name, and holds all of it."""
    for code, voucher in rows(
        "SELECT c.code, c.last_voucher_id FROM inventory_container c "
        "LEFT JOIN inventory_account a ON a.id = c.account_id "
        "LEFT JOIN inventory_location l ON l.id = c.location_id "
        "WHERE (c.account_id IS NULL) <> (c.substance_id IS NULL) "
        "OR a.cls <> CASE WHEN c.kept_for = '' THEN %s ELSE %s END OR a.owner <> c.kept_for OR a.name <> c.code "
        "OR a.substance_id <> c.substance_id OR a.grade <> c.grade OR a.location <> COALESCE(l.name, '') "
        "ORDER BY c.code",
        CONTAINER,
        int(AccountClass.KEPT),
    ):
        proof.fault(f"Container {code} stands at another account than its place and grade name.", voucher)
    for code, voucher, what, number in rows(NAMES_NOTHING):
        proof.fault(f"Container {code} names {what} {number}, which is not there.", voucher)
    for key, voucher in rows(
        "SELECT a.key, c.last_voucher_id FROM inventory_account a "
        "LEFT JOIN inventory_container c ON c.code = a.name "
        f"WHERE a.cls IN ({HOLDING_SQL}) AND a.balance <> 0 "
        "AND (c.id IS NULL OR c.account_id IS NULL OR c.account_id <> a.id OR c.retired_on IS NOT NULL)",
    ):
        proof.fault(f"{key} holds something, and no container in use stands there.", voucher)
