"""Reading one moment of the ledger: what it refuses, and that nothing is left of a copy."""

import os
import sqlite3

import pytest
from django.conf import settings
from django.db import DatabaseError, connection, connections, transaction

from inventory.ledger import snapshot
from inventory.ledger.actions import writing
from inventory.ledger.queries import head
from inventory.ledger.snapshot import one_moment, standing_copy
from inventory.shop.models import Shop
from tests.meanwhile import as_default, two_connections

pytestmark = pytest.mark.django_db(transaction=True)
BOTH = [one_moment, standing_copy]
on_sqlite = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL needs no copy")


@pytest.fixture
def folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path


def name_the_shop(name):
    with writing():
        Shop.objects.update_or_create(id=1, defaults={"name": name, "timezone": "UTC"})


@pytest.mark.parametrize("still", BOTH)
def test_what_others_write_meanwhile_is_not_seen(folder, tables, still):
    with two_connections(tables, folder) as other:
        name_the_shop("Before")
        with still():
            assert Shop.current().name == "Before"
            try:
                with as_default(other.connection):
                    name_the_shop("After")
            except DatabaseError:
                assert still is one_moment and connection.vendor == "sqlite", "a copy holds nobody up"
            assert Shop.current().name == "Before"
            with one_moment(), standing_copy():
                assert Shop.current().name == "Before", "part of the same"
        with as_default(other.connection):
            name_the_shop("After")
        with still():
            assert Shop.current().name == "After"


@pytest.mark.parametrize("still", BOTH)
def test_inside_another_transaction_it_is_a_part_of_that(folder, still):
    with transaction.atomic():
        name_the_shop("Not yet anybody else's")
        with still():
            assert Shop.current().name == "Not yet anybody else's"


@pytest.mark.parametrize("still", BOTH)
def test_nothing_can_be_written_where_it_would_be_lost(folder, still):
    if still is one_moment and connection.vendor == "sqlite":
        pytest.skip("it would not be lost")
    name_the_shop("Before")
    with pytest.raises(DatabaseError), still():
        name_the_shop("Lost")
    assert Shop.current().name == "Before"


@pytest.mark.parametrize("still", BOTH)
def test_whatever_happens_inside_all_is_as_before(folder, still):
    usual = connections["default"]
    mode = getattr(usual, "transaction_mode", None)
    for fault in (ValueError, KeyboardInterrupt):
        with pytest.raises(fault), still():
            assert (connections["default"] is usual) == (still is one_moment or connection.vendor == "postgresql")
            raise fault
        assert connections["default"] is usual and getattr(usual, "transaction_mode", None) == mode
        assert not connection.in_atomic_block
    assert list(folder.iterdir()) == []
    with transaction.atomic():
        name_the_shop("Written")


@on_sqlite
def test_a_copy_that_does_not_fit_beside_the_database_is_made_elsewhere(folder, monkeypatch):
    usual, places = snapshot._copied, []

    def full(mine, place):
        places.append(place)
        if place == folder:
            raise sqlite3.OperationalError("database or disk is full")
        return usual(mine, place)

    monkeypatch.setattr(snapshot, "_copied", full)
    with standing_copy():
        assert head()[0] == 0 and list(folder.iterdir()) == []
    assert places == [folder, None]
    monkeypatch.setattr(snapshot, "_copied", lambda mine, place: full(mine, folder))
    with pytest.raises(sqlite3.OperationalError, match="full"), standing_copy():
        pass


@on_sqlite
def test_copies_of_killed_processes_are_swept_away_after_a_day(folder):
    for name, age in (("copying-old", snapshot.OLD_S + 60), ("copying-new", 0), ("kept", snapshot.OLD_S + 60)):
        (folder / name).mkdir()
        made = (folder / name).stat().st_mtime - age
        os.utime(folder / name, (made, made))
    with standing_copy():
        pass
    assert sorted(path.name for path in settings.DATA_DIR.iterdir()) == ["copying-new", "kept"]
