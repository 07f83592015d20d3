"""Loading a log, beside the same rows written by hand in batches: both read the files, digest each voucher, and end in
one durable transaction. On two databases that hold nothing yet."""

import csv
import hashlib
import json
import tempfile
from pathlib import Path

from django.core.management import call_command
from django.db import connection

from shopledger.logbook.actions import load
from tests.bench.byhand import Raw
from tests.bench.log_generator import write_log
from tests.bench.timing import Found, ms

# In the order in which they can be written; read back from what the loading made.
TABLES = (
    "inventory_substance",
    "inventory_location",
    "inventory_scale",
    "inventory_account",
    "inventory_voucher",
    "inventory_movement",
    "inventory_container",
    "inventory_weighing",
    "jobs_person",
    "jobs_customer",
    "jobs_unit",
    "jobs_job",
    "jobs_jobline",
)
BATCH = 1000


def measure(found: Found, events: int = 20_000) -> None:
    """The database is empty, with its tables made. Empties it again between the two."""
    with tempfile.TemporaryDirectory(prefix="bench-log-") as folder:
        write_log(Path(folder), events)
        ours = ms(lambda: load(Path(folder)))
        raw = Raw()
        rows = {table: _columns_and_rows(raw, table) for table in TABLES}
        raw.close()
        _empty()
        raw = Raw()
        theirs = ms(lambda: _by_hand(raw, Path(folder), rows))
        raw.close()
    found["loading a log, events a second"] = events / ours * 1000
    found["by hand in batches, events a second"] = events / theirs * 1000
    found["loading a log, rate to by hand"] = theirs / ours


def _columns_and_rows(raw: Raw, table: str) -> tuple[list[str], list[tuple]]:
    cursor = raw.run(f"SELECT * FROM {table} ORDER BY 1")
    names = [column[0] for column in cursor.description]
    return names, [tuple(_value(raw, value) for value in row) for row in cursor.fetchall()]


def _value(raw: Raw, value: object) -> object:
    if raw.postgres and isinstance(value, (dict, list)):
        from psycopg.types.json import Jsonb

        return Jsonb(value)
    return value


def _empty() -> None:
    """Make the tables anew."""
    connection.close()
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("DROP SCHEMA public CASCADE")
            cursor.execute("CREATE SCHEMA public")
    if connection.vendor == "sqlite":
        connection.close()
        Path(connection.settings_dict["NAME"]).unlink()
    call_command("migrate", verbosity=0, skip_checks=True)
    with connection.cursor() as cursor:
        for table in ("inventory_scale", "inventory_location", "inventory_substance"):
            cursor.execute(f"DELETE FROM {table}")
    connection.close()


def _by_hand(raw: Raw, folder: Path, tables: dict[str, tuple[list[str], list[tuple]]]) -> None:
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            for _ in csv.DictReader(file):
                pass
    raw.begin()
    if not raw.postgres:
        raw.it.execute("PRAGMA defer_foreign_keys = ON")
    digest = "0" * 64
    for table, (names, rows) in tables.items():
        statement = f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join(['%s'] * len(names))})"
        for start in range(0, len(rows), BATCH):
            part = rows[start : start + BATCH]
            if table == "inventory_voucher":
                for row in part:
                    digest = hashlib.sha256(f"{digest}\n{json.dumps(row[:-1], default=str)}".encode()).hexdigest()
            raw.many(statement, part)
    raw.it.execute("COMMIT")
