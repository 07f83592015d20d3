"""The ledger as it stood at one moment, whoever posts meanwhile: what is printed, proved or handed on names one head,
and all beside it belongs to that head.

`one_moment` reads where the ledger is. On SQLite it holds up whoever posts, so it is for what takes seconds: figures
are read inside it, and drawn outside. `standing_copy` holds nobody up, however long it takes, and is for commands and
processes that do one thing: on SQLite it writes a copy of the whole database first.

Neither writes. A disk or a server that can only be read is read as well.
"""

import gc
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

COLLECTED_AFTER = 50_000  # new objects; 700 is what Python does
COPYING = "copying-"  # how the folder of a copy begins
OLD_S = 24 * 3600  # a copy as old as this is of a process that was killed


@contextmanager
def one_moment() -> Iterator[None]:
    """All that is read inside is of one moment. Inside another moment, and inside any other transaction, it is a part
    of that: on PostgreSQL one that changes something sees what others post meanwhile, so nothing is printed there."""
    if _stands_still():
        yield
        return
    mine = connections[DEFAULT_DB_ALIAS]
    if mine.vendor == "sqlite":
        mine.ensure_connection()
        mode, mine.transaction_mode = mine.transaction_mode, "DEFERRED"  # which does not ask for the writer's turn
    try:
        with transaction.atomic():
            if mine.vendor == "postgresql":
                with mine.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    finally:
        if mine.vendor == "sqlite":
            mine.transaction_mode = mode


@contextmanager
def standing_copy() -> Iterator[None]:
    """As `one_moment`, for long work. On SQLite the default connection leads to a copy of the file while it lasts, as
    much of the program asks by that name; of this thread alone. Raises sqlite3.Error or OSError where no copy can be
    written."""
    if connection.vendor != "sqlite" or _stands_still():
        with one_moment():
            yield
        return
    _sweep()
    mine = connections[DEFAULT_DB_ALIAS]
    with _copied_somewhere(mine) as folder:
        copy = _read_only(mine, Path(folder))
        connections[DEFAULT_DB_ALIAS] = copy
        try:
            yield
        finally:
            connections[DEFAULT_DB_ALIAS] = mine
            copy.close()


def _stands_still() -> bool:
    """Whether no transaction of our own can begin, or need begin, as nobody writes to a copy."""
    return connection.in_atomic_block or getattr(connections[DEFAULT_DB_ALIAS], "is_copy", False)


# -- a copy of a SQLite file -----------------------------------------------------------------------


def _copied_somewhere(mine: BaseDatabaseWrapper) -> TemporaryDirectory:
    """Beside the database; elsewhere where that disk takes no more: just then a backup is needed."""
    try:
        return _copied(mine, settings.DATA_DIR)
    except (sqlite3.Error, OSError):
        return _copied(mine, None)


def _copied(mine: BaseDatabaseWrapper, place: Path | None) -> TemporaryDirectory:
    """A folder with the copy in it; a million movements take a second."""
    folder = TemporaryDirectory(dir=place, prefix=COPYING)
    try:
        mine.ensure_connection()
        with closing(sqlite3.connect(_file_in(Path(folder.name)))) as copy:
            mine.connection.backup(copy)
    except BaseException:
        folder.cleanup()
        raise
    return folder


def _file_in(folder: Path) -> Path:
    return folder / "copy.sqlite3"


def _read_only(mine: BaseDatabaseWrapper, folder: Path) -> BaseDatabaseWrapper:
    """A connection to the copy. It refuses to be written to: that would be lost with it."""
    copy = mine.copy()
    options = copy.settings_dict["OPTIONS"]
    options["transaction_mode"] = "DEFERRED"
    options["init_command"] = options.get("init_command", "") + "PRAGMA query_only=ON;"
    copy.settings_dict["NAME"] = _file_in(folder)
    copy.is_copy = True
    return copy


def _sweep() -> None:
    """Take away the copies of processes that were killed."""
    with suppress(OSError):
        for path in settings.DATA_DIR.glob(f"{COPYING}*"):
            if path.stat().st_mtime < time.time() - OLD_S:
                shutil.rmtree(path)


# -- reading much ----------------------------------------------------------------------------------


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
