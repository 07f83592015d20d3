"""How ledgers of 10 thousand, 100 thousand and 1 million movements compare to the raw database, on SQLite.

    .venv/bin/python -m tests.bench.growth [10000 100000 1000000]

Each size runs in a process of its own on a copy of a kept ledger (see ledgers.py), so that its memory is its own. Times
are medians in milliseconds; ratios are to a reference that takes turns with ours in the same run. Prints, never fails.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.ledgers import ROOT, counted, ledger

SIZES = (10_000, 100_000, 1_000_000)


def measured(size: int) -> dict[str, float]:
    """Run one size in a process of its own."""
    kept = ledger(size)
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        shutil.copy(kept / "shopledger.sqlite3", folder)
        environment = {**os.environ, "DATA_DIR": folder, "DATABASE_URL": ""}
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.growth_one"], cwd=ROOT, env=environment, check=True,
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
    found = json.loads(done.stdout.splitlines()[-1])
    return {"movements": counted(kept), **found}


def main() -> None:
    sizes = [int(word) for word in sys.argv[1:]] or list(SIZES)
    columns = [measured(size) for size in sizes]
    names = dict.fromkeys(name for column in columns for name in column)
    print("| what | " + " | ".join(f"{column['movements']:,}" for column in columns) + " |")
    print("|---|" + "---|" * len(columns))
    for name in names:
        if name != "movements":
            cells = [f"{column[name]:,.2f}" if name in column else "" for column in columns]
            print(f"| {name} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    print(f"SQLite, {sys.version.split()[0]}, {os.cpu_count()} cores, {Path(sys.executable).parent}")
    main()
