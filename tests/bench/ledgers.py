"""Ledgers of a given number of movements, made by the real loading code and kept between runs.

They lie under SHOPLEDGER_BENCH, else ~/.cache/shopledger-bench, one folder a size and version of the log, each a
data folder of its own (SQLite). A million movements take about ten minutes once.
"""

import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

from tests.bench.log_generator import write_log

ROOT = Path(__file__).resolve().parents[2]
MOVEMENTS_AN_EVENT = 1.171  # of the generated log: charges, line losses, deliveries; moves of full containers


def cache() -> Path:
    return Path(os.environ.get("SHOPLEDGER_BENCH") or Path.home() / ".cache" / "shopledger-bench")


def version() -> str:
    """Of the log: what generates it. Tables of an earlier version are migrated."""
    return hashlib.sha256((ROOT / "tests/bench/log_generator.py").read_bytes()).hexdigest()[:10]


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
    manage(folder, "migrate", "--verbosity", "0")
    return folder


def counted(folder: Path) -> int:
    """Movements in it."""
    with sqlite3.connect(folder / "shopledger.sqlite3") as file:
        return file.execute("SELECT COUNT(*) FROM inventory_movement").fetchone()[0]


if __name__ == "__main__":
    for size in sys.argv[1:]:
        made = ledger(int(size))
        print(f"{made}: {counted(made)} movements")
