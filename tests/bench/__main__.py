"""Speed as ratios to the raw database, measured in the same run. Prints a table; never fails a build.

    .venv/bin/python -m tests.bench [--sizes 10000 100000 1000000] [--parts posting reports pages proofs exports ...]

On SQLite; with DATABASE_URL (a server on which databases may be made), on PostgreSQL. Ledgers are made once by the
loading of a log and kept (ledgers.py). Each size works on a copy, each part in a process of its own.
"""

import argparse
import json
import os
import subprocess
import sys

from tests.bench.ledgers import ROOT, SIZES, Copy

GROWING = ("reports", "pages", "proofs", "exports", "posting")  # what is posted last falls into no quarter above
ONCE = ("loading", "lists", "paper", "find")  # they do not depend on the ledger's size


def run(part: str, copy: Copy) -> dict[str, float]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.one", part],
        cwd=ROOT,
        env=copy.environment,
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    return json.loads(done.stdout.splitlines()[-1])


def table(columns: dict[str, dict[str, float]]) -> None:
    print("| what | " + " | ".join(columns) + " |")
    print("|---|" + "---|" * len(columns))
    for name in dict.fromkeys(name for column in columns.values() for name in column):
        cells = [f"{column[name]:,.2f}" if name in column else "" for column in columns.values()]
        print(f"| {name} | " + " | ".join(cells) + " |", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES))
    parser.add_argument("--parts", nargs="*", default=[*GROWING, *ONCE], choices=[*GROWING, *ONCE])
    asked = parser.parse_args()
    where = "PostgreSQL" if os.environ.get("DATABASE_URL") else "SQLite"
    print(f"{where}, Python {sys.version.split()[0]}, {os.cpu_count()} cores\n")
    columns: dict[str, dict[str, float]] = {}
    for size in asked.sizes:
        with Copy(size) as copy:
            found: dict[str, float] = {}
            for part in GROWING:
                if part in asked.parts:
                    found |= run(part, copy)
            columns[f"{copy.movements:,} movements"] = found
    if any(columns.values()):
        table(columns)
    found = {}
    for part in ONCE:
        if part in asked.parts:
            with Copy(0) as copy:
                found |= run(part, copy)
    if found:
        print()
        table({"figure": found})


if __name__ == "__main__":
    main()
