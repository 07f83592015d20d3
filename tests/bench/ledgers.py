"""Ledgers of a given number of movements, made by the real loading code and kept between runs.

They lie under SHOPLEDGER_BENCH, else ~/.cache/shopledger-bench, one folder a size and version of the log, each a
data folder of its own (SQLite). A million movements take about ten minutes once. On PostgreSQL they are moved into
databases named bench_kept_..., of which each run works on a copy.
"""

import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import uuid
from pathlib import Path

import psycopg

from tests.bench.log_generator import write_log

SIZES = (10_000, 100_000, 1_000_000)
ROOT = Path(__file__).resolve().parents[2]
MOVEMENTS_AN_EVENT = 1.171  # of the generated log: charges, line losses, deliveries; moves of full containers


def cache() -> Path:
    return Path(os.environ.get("SHOPLEDGER_BENCH") or Path.home() / ".cache" / "shopledger-bench")


def version() -> str:
    """Of what generates the log, and of the tables that it is loaded into."""
    files = [ROOT / "tests/bench/log_generator.py", *sorted(ROOT.glob("*/migrations/0*.py"))]
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:10]


def manage(folder: Path, *words: str) -> None:
    environment = {**os.environ, "DATA_DIR": str(folder), "DATABASE_URL": "", "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "manage.py", *words]
    subprocess.run(command, cwd=ROOT, env=environment, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def ledger(movements: int) -> Path:
    """The data folder of a ledger of about so many movements; made where it is not kept yet."""
    folder = cache() / f"{movements}-{version()}"
    if not (folder / "made").exists():
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        write_log(folder / "log", round(movements / MOVEMENTS_AN_EVENT))
        manage(folder, "load_log", str(folder / "log"))
        (folder / "made").touch()
    return folder


class Copy:
    """A copy of a kept ledger, to be spoiled: a data folder, and on PostgreSQL a database beside DATABASE_URL's.
    movements 0: an empty one, its tables made."""

    def __init__(self, movements: int):
        self.movements = movements

    def __enter__(self) -> "Copy":
        self.folder = tempfile.TemporaryDirectory(prefix="bench-")
        self.server = os.environ.get("DATABASE_URL", "")
        self.name = f"bench_{uuid.uuid4().hex[:10]}"
        self.environment = {**os.environ, "DATA_DIR": self.folder.name, "DATABASE_URL": ""}
        if self.server:
            self.environment["DATABASE_URL"] = _beside(self.server, self.name)
            template = _kept_on_server(self.server, self.movements) if self.movements else "template1"
            _tell(self.server, f'CREATE DATABASE "{self.name}" TEMPLATE "{template}"')
        elif self.movements:
            shutil.copy(ledger(self.movements) / "shopledger.sqlite3", self.folder.name)
        command = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
        subprocess.run(command, cwd=ROOT, env=self.environment, check=True, stdout=subprocess.DEVNULL)
        if self.movements:
            self.movements = counted(ledger(self.movements))
        return self

    def __exit__(self, *_failed) -> None:
        self.folder.cleanup()
        if self.server:
            _tell(self.server, f'DROP DATABASE "{self.name}" WITH (FORCE)')


def counted(folder: Path) -> int:
    """Movements in it."""
    with sqlite3.connect(folder / "shopledger.sqlite3") as file:
        return file.execute("SELECT COUNT(*) FROM inventory_movement").fetchone()[0]


def _beside(url: str, name: str) -> str:
    return url.rsplit("/", 1)[0] + "/" + name


def _tell(url: str, statement: str) -> list[tuple]:
    with psycopg.connect(_beside(url, "postgres"), autocommit=True) as server:
        done = server.execute(statement)
        return done.fetchall() if done.description else []


def _kept_on_server(url: str, movements: int) -> str:
    """The database that holds a kept ledger on the server; moved there from SQLite where it is not yet."""
    name = f"bench_kept_{movements}_{version()}"
    if not _tell(url, f"SELECT 1 FROM pg_database WHERE datname = '{name}'"):
        raw = f"{name}_unfinished"
        _tell(url, f'DROP DATABASE IF EXISTS "{raw}" WITH (FORCE)')
        _tell(url, f'CREATE DATABASE "{raw}"')
        manage(ledger(movements), "move_to", _beside(url, raw))
        with psycopg.connect(_beside(url, raw), autocommit=True) as made:
            made.execute("VACUUM ANALYZE")
        _tell(url, f'ALTER DATABASE "{raw}" RENAME TO "{name}"')
    return name


if __name__ == "__main__":
    for size in sys.argv[1:]:
        made = ledger(int(size))
        print(f"{made}: {counted(made)} movements")
