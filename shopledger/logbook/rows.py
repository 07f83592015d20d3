"""Many rows of a model, written without an object for each: what a log of years needs."""

from collections.abc import Iterable, Mapping

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Model

BATCH = 1000


def insert(
    model: type[Model], rows: Iterable[Mapping[str, object]], stands_for: Mapping[str, str] | None = None
) -> None:
    """Insert rows, each a mapping of column to value; every row names the same columns. Columns that they do not name
    take the model's default. stands_for: column to the SQL that finds its value, with one %s for what the row gives.
    """
    connection = connections[DEFAULT_DB_ALIAS]  # the connection itself: its stand-in looks it up at each value
    rows = iter(rows)
    first = next(rows, None)
    if first is None:
        return
    stands_for = stands_for or {}
    fields = {field.column: field for field in model._meta.concrete_fields}
    prepare = {name: fields[name].get_db_prep_save for name in first if name not in stands_for}
    blank = model()
    fixed = {
        name: field.get_db_prep_save(getattr(blank, field.attname), connection)
        for name, field in fields.items()
        if name not in first and not field.primary_key
    }
    quote = connection.ops.quote_name
    marks = [stands_for.get(name, "%s") for name in first] + ["%s"] * len(fixed)
    statement = (
        f"INSERT INTO {quote(model._meta.db_table)} ({', '.join(map(quote, (*first, *fixed)))}) "
        f"VALUES ({', '.join(marks)})"
    )
    names, tail = tuple(first), tuple(fixed.values())

    def values(row: Mapping[str, object]) -> tuple:
        return (*(prepare[n](row[n], connection) if n in prepare else row[n] for n in names), *tail)

    batch = [values(first)]
    with connection.cursor() as cursor:
        for row in rows:
            batch.append(values(row))
            if len(batch) >= BATCH:
                cursor.executemany(statement, batch)
                batch.clear()
        if batch:
            cursor.executemany(statement, batch)
