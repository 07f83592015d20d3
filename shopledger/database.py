"""Whether the database was made by this version. Nothing has been released yet and nothing older is carried over: a
database of an earlier version is refused with a sentence, before a page or a command fails in it."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.checks import Error
from django.core.management.base import CommandError
from django.db import connection as our_connection
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

OURS = ("inventory", "jobs", "shopledger")


def strange(connection: BaseDatabaseWrapper, record_only: bool = False) -> str | None:
    """What shows that another version made it, in words: a migration on its record that is not here, or a table that is
    not as the migrations on its record make it. None where nothing does, also where there are no tables yet.
    record_only: the tables themselves are not looked at, which takes some hundredths of a second instead of tenths."""
    tables = set(connection.introspection.table_names())
    if MigrationRecorder.Migration._meta.db_table not in tables:
        return None
    loader = MigrationLoader(connection)
    applied = sorted(node for node in loader.applied_migrations if node[0] in OURS)
    for node in applied:
        if node not in loader.graph.nodes:
            return f"it records the migration {'.'.join(node)}, which is not here"
    if record_only:
        return None
    models = loader.project_state(applied).apps.get_models(include_auto_created=True)
    for model in (model for model in models if model._meta.app_label in OURS):
        table = model._meta.db_table
        if table not in tables:
            return f"it has no table {table}"
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)} WHERE 1 = 0")
            differ = {column[0] for column in cursor.description} ^ {one.column for one in model._meta.concrete_fields}
        if differ:
            return f"its table {table} has other columns ({', '.join(sorted(differ))})"
    return None


def refusal(connection: BaseDatabaseWrapper, record_only: bool = False) -> str | None:
    """A sentence for whoever runs this version on such a database, and what would be right; None where it fits."""
    why = strange(connection, record_only)
    return why and (
        f"This database was made by another version of this program, and none was released before this one: {why}. "
        "Start with a new data folder (DATA_DIR) or another database (DATABASE_URL); a shop's log in CSV files can be "
        "loaded again."
    )


def check_version(app_configs: object, databases: list[str] | None = None, **_kwargs: object) -> list[Error]:
    """For `manage.py check --database default`, and for `migrate`, which checks first."""
    said = [refusal(connections[alias]) for alias in databases or []]
    return [Error(one, id="shopledger.E001") for one in said if one]


def refuse_to_migrate(using: str, **_kwargs: object) -> None:
    """Before `migrate` changes anything, also where it was told to check nothing."""
    said = refusal(connections[using])
    if said:
        raise CommandError(said)


@contextmanager
def in_no_queue() -> Iterator[None]:
    """SQLite: do not wait for another writer."""
    if our_connection.vendor != "sqlite":
        yield
        return
    with our_connection.cursor() as cursor:
        (usual,) = cursor.execute("PRAGMA busy_timeout").fetchone()
        cursor.execute("PRAGMA busy_timeout = 20")
    try:
        yield
    finally:
        with our_connection.cursor() as cursor:
            cursor.execute(f"PRAGMA busy_timeout = {int(usual)}")
