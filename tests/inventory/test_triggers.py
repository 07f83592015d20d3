"""The guards: of the schema that they stand in, and never away while they are put back."""

import datetime as dt

import pytest
from django.db import DatabaseError, connection, transaction

from inventory.ledger import triggers
from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.ledger.actions import Draft, post
from inventory.ledger.seals import seal

pytestmark = pytest.mark.django_db(transaction=True)
on_postgresql = pytest.mark.skipif("connection.vendor != 'postgresql'", reason="SQLite has no schemas")

NAME = "inventory_voucher_not_sealed"
MARCH = dt.date(2026, 3, 31)


def raw(*statements):
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def opening(day):
    can = Spot("R-134a", AccountClass.CONTAINER, "CAN-1", "Store", "virgin")
    return post(Draft("opening", day, "x", (Transfer(Spot("R-134a", AccountClass.OPENING), can, 340_000),)))


@pytest.fixture
def elsewhere():
    """Another schema, first in the way that names are looked up, with tables of its own in which nothing is sealed."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_schema()")
        (ours,) = cursor.fetchone()
        raw("CREATE SCHEMA elsewhere", "CREATE TABLE elsewhere.inventory_seal (LIKE inventory_seal INCLUDING ALL)")
        cursor.execute(f"SET search_path = elsewhere, {ours}")
    yield ours
    raw(f"SET search_path = {ours}", "DROP SCHEMA elsewhere CASCADE")


@on_postgresql
@pytest.mark.usefixtures("shop")
def test_the_seal_that_counts_is_the_one_beside_the_voucher(request):
    opening(MARCH)
    seal(MARCH, "olga")
    ours = request.getfixturevalue("elsewhere")
    for table, column in (("voucher", "number"), ("movement", "voucher_id")):
        with pytest.raises(DatabaseError, match="that day is sealed"), transaction.atomic():
            raw(
                f"CREATE TEMPORARY TABLE late ON COMMIT DROP AS TABLE {ours}.inventory_{table}",
                f"DELETE FROM late WHERE day > '{MARCH}'",
                f"UPDATE late SET {column} = {column} + 100",
                f"INSERT INTO {ours}.inventory_{table} SELECT * FROM late",
            )
    with pytest.raises(DatabaseError, match="that day is sealed"):
        opening(MARCH)


@on_postgresql
def test_guards_of_another_schema_are_not_ours(elsewhere):
    assert triggers.standing(connection) == set()
    assert triggers.missing(connection) == sorted(triggers.wanted(connection))


class Watch:
    """What was said to the database, and whether in a transaction that others see whole or not at all."""

    def __init__(self):
        self.said = []

    def __call__(self, execute, sql, *args):
        self.said.append((sql, connection.in_atomic_block))
        return execute(sql, *args)

    def found(self, words):
        return [(sql, within) for sql, within in self.said if words in sql]


def test_guards_that_stand_are_never_away_while_they_are_put_back():
    watch = Watch()
    with connection.execute_wrapper(watch):
        triggers.install(connection)
    assert watch.said and watch.found("DROP TRIGGER") == []
    if connection.vendor == "sqlite":
        assert watch.found("CREATE TRIGGER") == [], "they are as they should be"
    assert triggers.missing(connection) == []


def test_a_guard_that_says_something_else_is_replaced_at_once():
    on = "ON inventory_voucher"
    if connection.vendor == "sqlite":
        other = f"CREATE TRIGGER {NAME} BEFORE INSERT {on} WHEN 0 BEGIN SELECT 1; END"
        raw(f"DROP TRIGGER {NAME}", other)
        assert triggers.missing(connection) == [NAME]
    else:
        raw(f"ALTER TABLE inventory_voucher DISABLE TRIGGER {NAME}")
        assert triggers.missing(connection) == [NAME]
        raw(f"DROP TRIGGER {NAME} {on}")
        raw(f"CREATE TRIGGER {NAME} BEFORE UPDATE {on} FOR EACH ROW EXECUTE FUNCTION shopledger_written_once()")
    watch = Watch()
    with connection.execute_wrapper(watch):
        triggers.install(connection)
    if connection.vendor == "sqlite":
        assert watch.found("DROP TRIGGER") == [(f"DROP TRIGGER IF EXISTS {NAME}", True)]
        assert [within for _, within in watch.found("CREATE TRIGGER")] == [True]
    else:
        assert watch.found("DROP TRIGGER") == []
    assert triggers.missing(connection) == []
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT sql FROM sqlite_master WHERE name = %s", [NAME])
            assert cursor.fetchone()[0] == triggers.wanted(connection)[NAME]
        else:
            cursor.execute("SELECT pg_get_triggerdef(oid), tgenabled FROM pg_trigger WHERE tgname = %s", [NAME])
            ((text, enabled),) = cursor.fetchall()
            assert "BEFORE INSERT ON" in text and "shopledger_not_sealed()" in text and enabled == "O"


@on_postgresql
def test_a_guard_that_was_switched_off_is_on_again():
    raw(f"ALTER TABLE inventory_voucher DISABLE TRIGGER {NAME}")
    triggers.install(connection)
    assert triggers.missing(connection) == []
