"""Whoever is to have the writer's turn gets it among those who write all the time, and stops none of them for good."""

import sqlite3
import threading
from contextlib import closing

import pytest

from shopledger.backup import turn
from shopledger.backup.turn import FileTurn

TURNS = 25


@pytest.fixture
def file(tmp_path, monkeypatch):
    """A database of one table, in the place of the shop's."""
    found = tmp_path / "written.sqlite3"
    monkeypatch.setitem(turn.connection.settings_dict, "NAME", str(found))
    monkeypatch.setattr(turn.connection, "close", lambda: None)
    with closing(sqlite3.connect(found)) as made:
        made.execute("CREATE TABLE entry (writer INTEGER)")
    return found


def test_a_turn_comes_among_who_writes_all_the_time_and_nobody_waits_for_the_other(file):
    ended, refused, written = threading.Event(), [], [0, 0]

    def go_on(writer):
        while not ended.is_set():
            with closing(sqlite3.connect(file, timeout=5, isolation_level=None)) as mine:
                try:
                    mine.execute("BEGIN IMMEDIATE")
                    mine.executemany("INSERT INTO entry VALUES (?)", [(writer,)] * 200)
                    mine.execute("COMMIT")
                    written[writer] += 200
                except sqlite3.OperationalError as error:
                    refused.append(error)
                    ended.set()

    people = [threading.Thread(target=go_on, args=(writer,)) for writer in range(2)]
    for one in people:
        one.start()
    held = 0
    try:
        while held < TURNS and not ended.is_set():
            FileTurn().end()
            held += 1
    finally:
        ended.set()
        for one in people:
            one.join()
    assert (refused, held) == ([], TURNS)
    with closing(sqlite3.connect(file)) as read:
        assert read.execute("SELECT COUNT(*) FROM entry").fetchone() == (sum(written),)


def test_what_the_turn_locked_stays_locked_until_it_ends(file):
    held = FileTurn()
    held._target.execute("COMMIT")
    with closing(sqlite3.connect(file, timeout=0)) as other:
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("INSERT INTO entry VALUES (1)")
        held.end()
        other.execute("INSERT INTO entry VALUES (1)")
