"""The raw database, SQLite or PostgreSQL, as durable as ours is; and what ours does, written by hand for it."""

import datetime as dt
import hashlib
import json
import sqlite3
import uuid
from collections.abc import Iterable

from django.conf import settings
from django.db import connection

DAY = "2030-01-01"


class Raw:
    """A connection of its own, without Django. Statements mark their values with %s."""

    def __init__(self) -> None:
        self.postgres = connection.vendor == "postgresql"
        if self.postgres:
            import psycopg

            said = settings.DATABASES["default"]
            self.it = psycopg.connect(
                host=said["HOST"],
                port=said["PORT"],
                user=said["USER"],
                password=said["PASSWORD"],
                dbname=said["NAME"],
                autocommit=True,
            )
        else:
            self.it = sqlite3.connect(settings.DATABASES["default"]["NAME"], isolation_level=None, timeout=30)
            self.it.execute("PRAGMA synchronous = FULL")

    def run(self, statement: str, values: Iterable = ()) -> object:
        return self.it.execute(statement if self.postgres else statement.replace("%s", "?"), tuple(values))

    def many(self, statement: str, rows: Iterable[tuple]) -> None:
        cursor = self.it.cursor()
        cursor.executemany(statement if self.postgres else statement.replace("%s", "?"), rows)

    def begin(self) -> None:
        self.it.execute("BEGIN" if self.postgres else "BEGIN IMMEDIATE")

    def each(self, statement: str) -> Iterable[tuple]:
        """Rows as they come, not all at once."""
        if not self.postgres:
            return self.it.execute(statement)
        self.it.execute("BEGIN")
        cursor = self.it.cursor(name=f"c{uuid.uuid4().hex}")
        cursor.itersize = 2000
        cursor.execute(statement)
        return cursor

    def close(self) -> None:
        self.it.close()


INTO_VOUCHER = (
    "INSERT INTO inventory_voucher (number, day, kind, recorded_at, recorded_by, done_by, document, note, reverses_id, "
    "key, detail, digest) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)
INTO_MOVEMENT = (
    "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, source_class, "
    "target_class, quantity, reversal) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)
INTO_WEIGHING = (
    "INSERT INTO inventory_weighing (container_id, voucher_id, line, day, scale_id, role, gross, tare, book, net, "
    "difference, tolerance, outcome, position, restates_id) "
    "VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)
INTO_ENTRY = (
    'INSERT INTO inventory_containerentry (container_id, voucher_id, "on", position, ops) VALUES (%s, %s, %s, %s, %s)'
)


INTO_RECORD = (
    "INSERT INTO inventory_record (voucher_id, line, kind, key, salt, body, digest) VALUES (%s, %s, %s, %s, %s, %s, %s)"
)
JOB = json.dumps({f"field {n}": "x" * 20 for n in range(50)})  # as long as a job's document


def _record(kind: str, salt: str, body: str) -> tuple[str, ...]:
    return kind, uuid.uuid4().hex, salt, body, hashlib.sha256(f"{salt}\n{body}".encode()).hexdigest()


def append(raw: Raw, model: tuple, job: tuple[int, int, int] | None = None) -> None:
    """A voucher, its movement, two balances, the digest, the head: one durable transaction.

    model: substance, source and target account of the movement. job: the ids of a draft, of its container and of its
    scale; then its two weighings, its entry, the container's state, its two records and the job's own row are written,
    too, as signing does."""
    raw.begin()
    lock = " FOR UPDATE" if raw.postgres else ""
    number, digest = raw.run(f"SELECT number, digest FROM inventory_chainhead WHERE id = 1{lock}").fetchone()
    now = dt.datetime.now(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    stated = [
        _record(*one)
        for one in (("job", "", JOB), ("words", "5" * 32, '{"reasons":{"under":"bench"}}'))[: 2 * bool(job)]
    ]
    text = json.dumps([1, number + 1, DAY, "job", "x" * 400, [one[-1] for one in stated]])
    link = hashlib.sha256(text.encode()).hexdigest()
    digest = hashlib.sha256(f"{digest}\n{link}".encode()).hexdigest()
    key = uuid.uuid4().hex
    raw.run(INTO_VOUCHER, (number + 1, DAY, "job", now, "x", "", "", "", None, key, text, digest))
    raw.run(INTO_MOVEMENT, (number + 1, 1, DAY, *model, 3, 4, 1000, False))
    if job:
        draft, container, scale = job
        where = f"{DAY} {now} p{number + 1:012d}"
        for line, role in ((1, "before"), (2, "after")):
            said = (container, number + 1, line, DAY, scale, role, 1000, 1, 999, 999, 0, 1, "agrees", where, None)
            raw.run(INTO_WEIGHING, said)
        said = json.dumps([[0, 1, "draw", "", 1000, 999, None, "S", 1000, [["unit", "U", 1]]]])
        raw.run(INTO_ENTRY, (container, number + 1, DAY, where, said))
        for line, record in enumerate(stated):
            raw.run(INTO_RECORD, (number + 1, line, *record))
        raw.run("UPDATE inventory_container SET last_weighed_on = %s WHERE id = %s", (DAY, container))
        raw.run("UPDATE jobs_job SET day = %s, version = version + 1 WHERE id = %s", (DAY, draft))
    raw.run("UPDATE inventory_account SET balance = balance - 1000 WHERE id = %s", (model[1],))
    raw.run("UPDATE inventory_account SET balance = balance + 1000 WHERE id = %s", (model[2],))
    raw.run(
        "UPDATE inventory_chainhead SET number = %s, digest = %s, recorded_at = %s WHERE id = 1",
        (number + 1, digest, now),
    )
    raw.it.execute("COMMIT")
