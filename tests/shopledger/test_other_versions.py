"""A database that another version made is refused with a sentence, whichever way one comes to it."""

import shutil
import sqlite3

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from inventory.apps import install_triggers
from inventory.ledger import triggers
from inventory.ledger.models import Seal
from shopledger.database import refusal, strange
from tests.shopledger.site import Site

RIGHT = ["Start with a new data folder (DATA_DIR)", "can be loaded again."]


def record(app="inventory", name="0007_own_figures"):
    MigrationRecorder(connection).record_applied(app, name)


def raw(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)


def test_its_own_tables_are_no_stranger(db):
    assert (strange(connection), refusal(connection)) == (None, None)


def test_a_migration_of_somebody_else_is_none_of_this_programs(db):
    record("sessions", "0099_of_theirs")
    assert strange(connection) is None


def test_a_migration_that_is_not_here_is_named(db):
    record()
    said = refusal(connection)
    assert "it records the migration inventory.0007_own_figures, which is not here" in said
    assert all(part in said for part in RIGHT)
    assert refusal(connection, record_only=True) == said


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        (
            "ALTER TABLE jobs_person RENAME COLUMN mass_unit TO shown_in",
            "jobs_person has other columns (mass_unit, shown",
        ),
        ("ALTER TABLE inventory_party ADD COLUMN fax varchar(20)", "its table inventory_party has other columns (fax)"),
        ("DROP TABLE shopledger_slowpage", "it has no table shopledger_slowpage"),
    ],
)
def test_tables_that_its_own_record_does_not_make_are_named(db, statement, said):
    raw(statement)
    assert said in strange(connection)
    assert strange(connection, record_only=True) is None


def test_check_and_migrate_say_so_and_nothing_is_changed(db):
    record()
    triggers.drop(connection)
    for command, options in (
        ("check", {"databases": ["default"]}),
        ("migrate", {"skip_checks": False}),
        ("migrate", {"skip_checks": True}),
    ):
        with pytest.raises(CommandError, match="made by another version") as refused:
            call_command(command, **options)
        assert "loaded again" in str(refused.value)
    assert triggers.missing(connection), "what comes after a migrate did not run"
    install_triggers("default")


@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("verify", {}),
        ("seal", {"through": "2026-01-31"}),
        ("demo", {"no_serve": True}),
        ("load_log", {"folder": "nowhere"}),
    ],
)
def test_every_command_of_the_program_says_so_first(db, command, options):
    record()
    arguments = [options.pop("folder")] if "folder" in options else []
    arguments += ["--through", options.pop("through")] if "through" in options else []
    with pytest.raises(CommandError, match="made by another version") as refused:
        call_command(command, *arguments, **options)
    assert refused.value.returncode == 1
    assert not Seal.objects.exists()


def test_on_the_command_line_it_is_a_sentence_and_no_traceback(tables, tmp_path):
    """A file with the tables of this version, of which one column was named otherwise."""
    site = Site(tmp_path)
    shutil.copy(tables, site.file)
    with sqlite3.connect(site.file) as file:
        file.execute("ALTER TABLE inventory_container RENAME COLUMN last_position TO last_place")
    file.close()
    report = ["report", "containers", "--from", "2026-01-01", "--to", "2026-01-31", "--format", "csv"]
    for arguments in (["migrate"], report):
        done = site.run(*arguments)
        assert done.returncode == 1, arguments
        assert "its table inventory_container has other columns (last_place, last_position)" in done.stderr, arguments
        assert "Traceback" not in done.stderr, arguments
