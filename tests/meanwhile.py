"""Somebody who posts while something else reads: through a connection of his own, at a moment that a test names."""

import contextlib
import importlib
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.db import OperationalError, connections

from shopledger.logbook.actions import LogRefused, load

Log = dict[str, str]


def as_default(connection: object) -> contextlib.AbstractContextManager[None]:
    """While it lasts, all that asks the database asks it through this connection."""

    @contextlib.contextmanager
    def swapped() -> Iterator[None]:
        usual = connections["default"]
        connections["default"] = connection
        try:
            yield
        finally:
            connections["default"] = usual

    return swapped()


class Somebody:
    """folder: for his files. connection: his own."""

    def __init__(self, folder: Path, connection: object):
        self.folder, self.connection = folder, connection
        self.posted = self.held_up = 0

    def post(self, log: Log) -> None:
        """Load what a log says. On SQLite whoever reads one moment holds him up, which is as good: then `catch_up`
        posts it."""
        folder = self.folder / "posting"
        with as_default(self.connection):
            try:
                load_log(log, folder)
            except OperationalError as error:
                assert "locked" in str(error), error
                self.held_up += 1
            else:
                self.posted += 1

    def catch_up(self, log: Log) -> None:
        """Post it where he was held up, now that nobody reads."""
        if not self.posted:
            self.post(log)
        assert self.posted == 1

    def when(self, patch: pytest.MonkeyPatch, name: str, log: Log, after: bool = True) -> None:
        """Have him post when the function of that name is called the first time: right after it, or right before."""
        usual = _found(name)

        def watched(*args: object, **more: object) -> object:
            patch.setattr(name, usual)
            if not after:
                self.post(log)
            answer = usual(*args, **more)
            if after:
                self.post(log)
            return answer

        patch.setattr(name, watched)


def _found(name: str) -> Callable:
    module, _, called = name.rpartition(".")
    return getattr(importlib.import_module(module), called)


def load_log(log: Log, folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    for name, text in log.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    try:
        load(folder)
    except LogRefused as refused:
        pytest.fail("\n".join(refused.faults))


@contextlib.contextmanager
def two_connections(tables: Path, folder: Path) -> Iterator[Somebody]:
    """The test's database, and somebody with a connection of his own. On SQLite that is a file: what tests have in
    memory knows one lock for all."""
    usual = connections["default"]
    if usual.vendor == "sqlite":
        mine, his = usual.copy(), usual.copy()
        file = shutil.copy(tables, folder / "shared.sqlite3")
        for one in (mine, his):
            one.settings_dict["NAME"] = Path(file)
        his.settings_dict["OPTIONS"] = {**his.settings_dict["OPTIONS"], "timeout": 0}
    else:
        mine, his = usual, usual.copy()
    try:
        with as_default(mine):
            yield Somebody(folder, his)
    finally:
        his.close()
        if mine is not usual:
            mine.close()
