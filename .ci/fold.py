"""The first migration of each floor, written anew so that each table is made in one step.

`makemigrations` makes a table without its references, and adds these, indexes and constraints afterwards, one by one.
Django works out all models anew after each, which took two thirds of the time of migrating an empty database.
"""

import os
import sys
from pathlib import Path

import django
from django.db.migrations import AddConstraint, AddField, AddIndex, CreateModel
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.writer import MigrationWriter

ROOT = Path(__file__).resolve().parents[1]


def folded(app: str, operations: list) -> list:
    """The same tables. Raises SystemExit where they cannot be made in one step each: two that refer to each other."""
    tables = {one.name_lower: one for one in operations if isinstance(one, CreateModel)}
    for one in operations:
        if isinstance(one, AddField):
            tables[one.model_name_lower].fields.append((one.name, one.field))
        elif isinstance(one, AddIndex):
            tables[one.model_name_lower].options.setdefault("indexes", []).append(one.index)
        elif isinstance(one, AddConstraint):
            tables[one.model_name_lower].options.setdefault("constraints", []).append(one.constraint)
        elif not isinstance(one, CreateModel):
            sys.exit(f"{app}: {one.describe()} cannot be folded; leave the migration as makemigrations wrote it.")
    made = []
    while len(made) < len(tables):
        ready = (one for one in tables.values() if one not in made and _needs(app, one) & set(tables) <= _names(made))
        made.append(next(ready, None) or sys.exit(f"{app}: tables refer to each other; leave the migration as it is."))
    return made


def _names(tables: list[CreateModel]) -> set[str]:
    return {one.name_lower for one in tables}


def _needs(app: str, table: CreateModel) -> set[str]:
    """The other tables of its floor that a table refers to."""
    to = [field.remote_field.model for _, field in table.fields if field.remote_field]
    pairs = [(one if isinstance(one, str) else one._meta.label).lower().rpartition(".") for one in to]
    return {name for floor, _, name in pairs if floor in {"", app}} - {table.name_lower}


def main() -> None:
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopledger.settings")
    django.setup()
    migrations = MigrationLoader(None).disk_migrations
    for app in ("inventory", "jobs", "shopledger"):
        migration, path = migrations[app, "0001_initial"], ROOT / app / "migrations/0001_initial.py"
        first_line = path.read_text(encoding="utf-8").partition("\n")[0]
        migration.operations = folded(app, migration.operations)
        written = MigrationWriter(migration).as_string().partition("\n")[2]
        path.write_text(f"{first_line}\n{written}", encoding="utf-8")


if __name__ == "__main__":
    main()
