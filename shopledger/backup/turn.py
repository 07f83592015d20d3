"""The writer's turn, held while a backup takes the place of what is there: from the look at what would go until the
backup stands there nobody else writes a row. Who waits meanwhile goes on in the new ledger or is told that nothing was
taken; readers read on until the last step.

SQLite: a connection of its own that keeps the file's lock also between two transactions, as `backup` of SQLite wants
none of its own open. PostgreSQL: every table is locked against writers; at the end whoever still is in the middle of
something there is ended, and the schemas change their names.
"""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections

from inventory.ledger.models import ChainHead
from inventory.text.refusal import Refused
from shopledger.backup.backup import kept_models

WAIT = 30  # seconds for who is writing just now
ASK_AGAIN = 0.002  # seconds; SQLite itself asks every 0.1, and among those who write all the time never had its turn
STAGE = "restoring"  # the schema in PostgreSQL that a backup is proved in
REPLACED = "restoring_replaced"
BUSY = "The database is in use ({}); stop the server and try again."


class Turn(Protocol):
    def replace(self, staged: Path | None) -> None:
        """Put what was staged in the place of what is there, all of it or nothing. staged: the file, on SQLite."""


@contextmanager
def turn() -> Iterator[Turn]:
    """Hold it. Raises Refused where somebody does not let go of the database."""
    held = FileTurn() if connection.vendor == "sqlite" else SchemaTurn()
    try:
        yield held
    finally:
        held.end()


class FileTurn:
    def __init__(self) -> None:
        connection.close()
        self._target = sqlite3.connect(connection.settings_dict["NAME"], timeout=0, isolation_level=None)
        try:
            self._begin(time.monotonic() + WAIT)
            # What is locked from now on stays so until it is closed. Not before: who waits in this mode keeps the lock
            # of a reader, and whoever is to let it in waits for that reader.
            self._target.execute("PRAGMA locking_mode=EXCLUSIVE")
            self._target.execute(f"PRAGMA busy_timeout={WAIT * 1000}")
        except sqlite3.Error as error:
            self._target.close()
            raise Refused(BUSY.format(error), "file") from None

    def _begin(self, until: float) -> None:
        while True:
            try:
                self._target.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.OperationalError:
                if time.monotonic() > until:
                    raise
                time.sleep(ASK_AGAIN)

    def replace(self, staged: Path | None) -> None:
        connection.close()
        source = sqlite3.connect(staged)
        try:
            self._target.execute("COMMIT")  # nothing was written; it waits for those who read, and shuts them out
            source.backup(self._target)  # one transaction of SQLite's own
        except sqlite3.Error as error:
            raise Refused(BUSY.format(error), "file") from None
        finally:
            source.close()

    def end(self) -> None:
        self._target.close()


HOLDERS = """
    SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE pid <> pg_backend_pid() AND usename = current_user AND pid IN (
        SELECT locks.pid FROM pg_locks locks JOIN pg_class class ON class.oid = locks.relation
        WHERE locks.database = (SELECT oid FROM pg_database WHERE datname = current_database())
        AND class.relnamespace = current_schema()::regnamespace)
"""


class SchemaTurn:
    def __init__(self) -> None:
        self._mine = connections[DEFAULT_DB_ALIAS].copy()
        there = set(connection.introspection.table_names())
        # The head first, which whoever posts holds first: so nobody waits here for what somebody else waits for.
        named = sorted((model._meta.db_table for model in kept_models()), key=lambda t: (t != HEAD, t))
        self._tables = ", ".join(self._mine.ops.quote_name(table) for table in named if table in there)
        try:
            self._mine.set_autocommit(False)
            self._say(f"SET LOCAL lock_timeout = '{WAIT}s'")
            self._lock("EXCLUSIVE")
        except DatabaseError as error:
            self.end()
            raise Refused(BUSY.format(" ".join(str(error).split())), "file") from None

    def replace(self, staged: Path | None) -> None:
        connection.close()
        present = self._mine.ops.quote_name(self._say("SELECT current_schema()"))
        try:
            self._say(HOLDERS)
            self._lock("ACCESS EXCLUSIVE")
            self._say(f"ALTER SCHEMA {present} RENAME TO {REPLACED}")
            self._say(f"ALTER SCHEMA {STAGE} RENAME TO {present}")
            self._say(f"DROP SCHEMA {REPLACED} CASCADE")
            self._mine.commit()
        except DatabaseError as error:
            raise Refused(BUSY.format(" ".join(str(error).split())), "file") from None

    def end(self) -> None:
        self._mine.close()

    def _lock(self, mode: str) -> None:
        if self._tables:
            self._say(f"LOCK TABLE {self._tables} IN {mode} MODE")

    def _say(self, statement: str) -> object:
        """The first value of its answer, where it has one."""
        with self._mine.cursor() as cursor:
            cursor.execute(statement)
            row = cursor.fetchone() if cursor.description else None
        return row[0] if row else None


HEAD = ChainHead._meta.db_table
