"""How a proof looks at the database: as it stood at one moment, and without going over what it read again and again."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction

COLLECTED_AFTER = 50_000  # new objects; 700 is what Python does


@contextmanager
def one_picture() -> Iterator[None]:
    """All tables as of one moment, whoever posts meanwhile. Writes nothing, so a disk or a server that can only be
    read is proved as well: on SQLite the transaction does not ask for the writer's turn."""
    if connection.in_atomic_block:
        yield
        return
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        mode, connection.transaction_mode = connection.transaction_mode, "DEFERRED"
    try:
        with transaction.atomic():
            if connection.vendor == "postgresql":
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            yield
    finally:
        if connection.vendor == "sqlite":
            connection.transaction_mode = mode


@contextmanager
def seldom_collected() -> Iterator[None]:
    """The rows of a proof refer to nothing that refers back to them: looking for such circles after each 700 of them
    took a fifth of the time of the proof of a million vouchers."""
    before = gc.get_threshold()
    if not 0 < before[0] < COLLECTED_AFTER:
        yield
        return
    gc.set_threshold(COLLECTED_AFTER, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)
