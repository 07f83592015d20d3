"""What the second process does: a backup in a database of its own, proved there, and what a restoring enters in it."""

import base64
import sqlite3
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Field, Model

from inventory.ledger.actions import Draft, post
from inventory.ledger.erasing import erase_again
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.who import COMMANDS
from inventory.text.refusal import Refused
from shopledger.backup import archive, outside
from shopledger.backup.backup import PASSING
from shopledger.backup.given import Given

BATCH = 1000
# What a value that no column of its kind takes comes to, in either database.
UNFIT = (DatabaseError, sqlite3.Error, ValidationError, ValueError, TypeError, OverflowError, AttributeError)


def prove(path: Path) -> archive.Reader:
    """Open a backup and read all of it. Raises Refused where a single byte is not as it was written, and for what no
    backup holds."""
    try:
        reader = archive.Reader(path)
        refuse_misshapen(reader)
        reader.prove()
    except archive.Damaged as damaged:
        raise Refused(f"{damaged} Take another backup. {UNTOUCHED}", "file") from None
    return reader


UNTOUCHED = "Nothing was changed."


def refuse_misshapen(reader: archive.Reader) -> None:
    """Raises archive.Damaged or Refused for a list that says other things than a backup's, or names other files."""
    said = reader.manifest
    head, tables, applied = said.get("head"), said.get("tables"), said.get("migrations")
    fits = (
        isinstance(said.get("made_at"), str)
        and isinstance(head, dict)
        and type(head.get("number")) is int
        and all(isinstance(head.get(name), str) for name in ("digest", "ledger_id"))
        and isinstance(tables, dict)
        and all(type(count) is int for count in tables.values())
        and isinstance(applied, list)
        and all(isinstance(one, list) and len(one) == 2 and all(isinstance(n, str) for n in one) for one in applied)
        and isinstance(said.get("missing", []), list)
        and all(isinstance(place, str) for place in said.get("missing", []))
    )
    if not fits:
        raise archive.Damaged("The list of its files is not that of a backup.")
    outside.refuse_strange([*reader.outside(), *said.get("missing", [])], "The backup holds the file")
    named = {f"tables/{table}.jsonl" for table in tables}
    for name in sorted(set(said["files"]) - {f"files/{place}" for place in reader.outside()} ^ named):
        raise archive.Damaged(f"{name} is {'missing' if name in named else 'no file that a backup holds'}.")
    for table in sorted(PASSING & set(tables)):
        raise archive.Damaged(f"The table {table} is none that a backup holds.")


def load(path: Path) -> archive.Reader:
    """Make the backup's tables in this database, which must be empty, load it, bring it up to this program and prove
    it. Raises Refused, and then the database is to be thrown away."""
    reader = prove(path)
    if connection.introspection.table_names():
        raise Refused("The database is not empty; name one that is.", "url")
    models = _make_tables(reader)
    with transaction.atomic():
        _empty(models)
        for table, count in reader.tables().items():
            if table not in models:
                raise Refused(f"The backup holds a table {table} that its own version did not have.", "file")
            if _loaded(reader, table, models[table]) != count:
                raise Refused(f"The table {table} is not whole.", "file")
        _set_sequences(list(models.values()))
    call_command("migrate", verbosity=0, skip_checks=True)
    outside.refuse_strange((place for place, _ in outside.outside_files()), "A record names the file")
    head = reader.manifest["head"]
    proof = verify(head["digest"], files=False)  # the files are still in the backup, which proved them
    if not proof.holds:
        raise Refused("Its ledger does not hold. " + " ".join(said for _, said in proof.faults[:5]), "file")
    if (proof.number, proof.head, proof.ledger_id) != (head["number"], head["digest"], head["ledger_id"]):
        raise Refused("Its ledger does not end where the backup says.", "file")
    return reader


def enter(reader: archive.Reader, said: Given) -> None:
    """That it was restored is an entry: a copy that goes on beside its original parts from it there. Then what was
    erased since is erased again, and all is proved once more. Raises Refused."""
    head = reader.manifest["head"]
    detail = {
        "head": head["digest"],
        "number": head["number"],
        "common": said.common,
        "gives_up": said.gives_up,
        **({"replaced": said.replaced} if said.replaced else {}),
        **({"undoes": said.undoes} if said.undoes else {}),
    }
    post(Draft(kind="restore", day=today(), recorded_by=COMMANDS, detail=detail))
    erase_again(said.erased, COMMANDS)
    proof = verify(files=False)
    if not proof.holds:
        raise Refused("Restored, it would not hold. " + " ".join(words for _, words in proof.faults[:5]), "file")


def _make_tables(reader: archive.Reader) -> dict[str, type[Model]]:
    """Those of the backup's version, by name."""
    executor = MigrationExecutor(connection)
    graph = executor.loader.graph
    applied = [tuple(pair) for pair in reader.manifest["migrations"]]
    unknown = sorted(set(applied) - set(graph.nodes))
    if unknown:
        raise Refused(
            f"The backup is of another version of this program ({unknown[0][0]} {unknown[0][1]}): of a newer one, "
            "then update first, or of one that was never released, and nothing of those is carried over.",
            "file",
        )
    nodes = {graph.node_map[key] for key in applied}
    targets = [node for node in applied if not set(graph.node_map[node].children) & nodes]
    executor.migrate(targets)
    historical = executor.loader.project_state(targets).apps
    return {model._meta.db_table: model for model in historical.get_models(include_auto_created=True)}


def _empty(models: dict[str, type[Model]]) -> None:
    """What the first migrations put in by themselves comes from the backup instead."""
    with connection.cursor() as cursor:
        for table in models:
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")


def _loaded(reader: archive.Reader, table: str, model: type[Model]) -> int:
    """Load one table; how many rows it had. Raises Refused for what it cannot hold."""
    try:
        return _load(reader, table, model)
    except archive.Damaged as damaged:
        raise Refused(str(damaged), "file") from None
    except UNFIT as error:
        why = " ".join(str(error).split())[:200]
        raise Refused(f"The table {table} holds what no column of it takes ({why}).", "file") from None


def _load(reader: archive.Reader, table: str, model: type[Model]) -> int:
    columns, rows = reader.rows(table)
    fields = {field.column: field for field in model._meta.concrete_fields}
    strange = sorted(set(columns) ^ set(fields))
    if strange or len(columns) != len(fields):
        raise Refused(f"The columns of {table} are not those of its version ({', '.join(strange)}).", "file")
    readers = [_reading(fields[column]) for column in columns]
    quoted = ", ".join(map(connection.ops.quote_name, columns))
    sql = f"INSERT INTO {connection.ops.quote_name(table)} ({quoted}) VALUES ({', '.join(['%s'] * len(columns))})"
    count = 0
    with connection.cursor() as cursor:
        for batch in _batches(rows):
            cursor.executemany(sql, [[read(value) for read, value in zip(readers, row, strict=True)] for row in batch])
            count += len(batch)
    return count


def _batches(rows: Iterator[list]) -> Iterator[list[list]]:
    while batch := list(islice(rows, BATCH)):
        yield batch


TYPED = {
    "DateField",
    "DateTimeField",
    "TimeField",
    "DurationField",
    "DecimalField",
    "UUIDField",
    "JSONField",
}


def _reading(field: Field) -> Callable[[object], object]:
    """How a column's plain value goes into this database."""
    while field.remote_field is not None and getattr(field, "target_field", None) is not None:
        field = field.target_field
    kind = field.get_internal_type()
    if kind == "BinaryField":
        return lambda value: None if value is None else field.get_db_prep_save(base64.b64decode(value), connection)
    if kind not in TYPED:
        return lambda value: value
    if kind == "JSONField":
        return lambda value: None if value is None else field.get_db_prep_save(value, connection)
    return lambda value: None if value is None else field.get_db_prep_save(field.to_python(value), connection)


def _set_sequences(models: list[type[Model]]) -> None:
    statements = connection.ops.sequence_reset_sql(no_style(), models)
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
