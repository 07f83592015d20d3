"""Twenty people at once on the production server, on a copy of a kept ledger; then whether all of it is there.

Fifteen technicians start, weigh and sign jobs, five in the office receive, count and draw reports; all look at pages.
What the server acknowledged is written down beside the database, line by line.

    python -m venv /tmp/load && /tmp/load/bin/pip install locust==2.47.0
    LOCUST=/tmp/load/bin/locust .venv/bin/python -m tests.bench.crowd [--people 20] [--seconds 600] [--size 100000]

On SQLite; with DATABASE_URL on PostgreSQL. Prints a table; never fails a build.
"""

import argparse
import csv
import json
import os
import re
import socket
import statistics
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.ledgers import ROOT, Copy

SET_UP = """
import datetime as dt, django, json, sys, uuid
django.setup()
from django.test import Client
from inventory.containers.actions import add_location
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from jobs.people.actions import add_certificate
from jobs.people.models import Person
from jobs.units.actions import add_unit
found = []
for n in range(int(sys.argv[1])):
    role = "office" if n % 4 == 3 else "technician"
    who = Person.objects.create_user(f"crowd{n}", password=uuid.uuid4().hex, name=f"Crowd {n}", role=role)
    add_certificate(by=None, person=who, scheme="Bench", number=str(n), issued=dt.date(2020, 1, 1))
    unit = add_unit(by=None, name=f"Crowd unit {n}", refrigerant="R-134a")
    place = add_location(name=f"Crowd place {n}")
    line = Arrival("refillable", "R-134a", False, "virgin", 800_000_000, 1, place.name, f"CROWD-{n}",
                   tare_mg=9_000_000)
    open_stock(lines=[line], day=today(), by="bench", key=str(uuid.uuid4()))
    client = Client()
    client.force_login(who)
    found.append({"session": client.cookies["sessionid"].value, "unit": unit.pk, "container": f"CROWD-{n}",
                  "gross": 809_000, "role": role, "place": place.pk, "today": today().isoformat(), "name": f"crowd{n}"})
add_location(name="Crowd store")
print(json.dumps(found))
"""

CHECK = """
import django, json, sys
django.setup()
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from jobs.drafts.models import Job
said = [line.split() for line in open(sys.argv[1])]
kinds = {"signed": "job", "received": "receipt", "counted": "count"}
there = dict(Voucher.objects.in_bulk([int(number) for _, number, _ in said]))
jobs = dict(Job.objects.filter(state="signed").values_list("pk", "voucher_id"))
found = {}
for what, number, of in said:
    told, kept = found.setdefault(what, [0, 0])
    number = int(number) or jobs.get(int(of))
    row = there.get(number) or Voucher.objects.filter(pk=number).first()
    right = row is not None and row.kind == kinds[what] and (what != "signed" or jobs.get(int(of)) == number)
    found[what] = [told + 1, kept + right]
acknowledged = {number for _, number, _ in said if number != "0"}
print(json.dumps({"what: acknowledged, there": found, "numbers acknowledged": len(acknowledged),
    "lost": sum(told - kept for told, kept in found.values()),
    "posted by them": Voucher.objects.filter(recorded_by__startswith="crowd", kind__in=kinds.values()).count(),
    "verify holds": verify().holds}))
"""


def python(copy: Copy, code: str, *words: object) -> dict:
    environment = {**copy.environment, "DJANGO_SETTINGS_MODULE": "shopledger.settings"}
    command = [sys.executable, "-c", code, *map(str, words)]
    done = subprocess.run(command, cwd=ROOT, env=environment, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(done.stdout.splitlines()[-1])


def serve(copy: Copy) -> tuple[subprocess.Popen, int]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    folder = Path(copy.folder.name)
    process = subprocess.Popen(
        [sys.executable, "manage.py", "serve", f"--listen=127.0.0.1:{port}", "--threads=8"],  # as its unit starts it
        cwd=ROOT,
        env={**copy.environment, "HTTPS": "off", "DEBUG": "off"},
        stdout=subprocess.DEVNULL,
        stderr=(folder / "server.log").open("w"),
    )
    for _ in range(600):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return process, port
        time.sleep(0.1)
    raise SystemExit("the server did not come up")


def memory(process: subprocess.Popen) -> int:
    """Bytes of memory that the server has now (VmRSS; Linux)."""
    status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
    return int(re.search(r"VmRSS:\s+(\d+) kB", status)[1]) * 1024


def watched(process: subprocess.Popen, load: subprocess.Popen) -> list[int]:
    """The server's memory in each minute while the load tool runs, in bytes: the median of six looks."""
    minutes: list[list[int]] = []
    began = time.monotonic()
    while load.poll() is None:
        minute = int(time.monotonic() - began) // 60
        minutes += [[] for _ in range(minute + 1 - len(minutes))]
        minutes[minute].append(memory(process))
        time.sleep(10)
    return [int(statistics.median(found)) for found in minutes if found]


def crowd(copy: Copy, locust: str, people: int, seconds: int) -> None:
    folder = Path(copy.folder.name)
    acknowledged = folder / "acknowledged"
    acknowledged.touch()
    said = {"people": python(copy, SET_UP, people), "acknowledged": str(acknowledged)}
    (folder / "crowd.json").write_text(json.dumps(said), encoding="utf-8")
    process, port = serve(copy)
    words = ["--headless", "-u", people, "-r", 5, "-t", f"{seconds}s", "--host", f"http://127.0.0.1:{port}"]
    words += ["--csv", folder / "load", "--only-summary", "--stop-timeout", 30]
    load = subprocess.Popen(
        [locust, "-f", ROOT / "tests/bench/crowd_people.py", *map(str, words)],
        env={**os.environ, "CROWD": str(folder / "crowd.json")},
        stdout=subprocess.DEVNULL,
        stderr=(folder / "load.log").open("w"),
    )
    minutes = watched(process, load)
    stands = process.poll() is None
    process.terminate()
    process.wait()
    requests(folder)
    print("\nmemory of the server, MB, minute by minute:", *(f"{each / 1e6:.0f}" for each in minutes))
    print("load of the machine at the end:", *(f"{each:.1f}" for each in os.getloadavg()))
    log = (folder / "server.log").read_text(encoding="utf-8")
    print(f"server: {'stood to the end' if stands else 'ended by itself'}; traces in its log: {log.count('Traceback')}")
    print("afterwards:", python(copy, CHECK, acknowledged))


def requests(folder: Path) -> None:
    """What the load tool measured."""
    if not (folder / "load_stats.csv").exists():
        raise SystemExit((folder / "load.log").read_text(encoding="utf-8"))
    print("| what | requests | failed | p50, ms | p95, ms | most, ms | a second |\n|---|---|---|---|---|---|---|")
    with (folder / "load_stats.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            print(
                f"| {row['Name']} | {row['Request Count']} | {row['Failure Count']} | {row['50%']} | {row['95%']} | "
                f"{float(row['Max Response Time']):.0f} | {float(row['Requests/s']):.1f} |"
            )
    for name in ("load_failures.csv", "load_exceptions.csv"):
        with (folder / name).open(encoding="utf-8") as file:
            for row in csv.DictReader(file):
                print("failed:", *row.values())


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--size", type=int, default=100_000)
    asked = parser.parse_args()
    locust = os.environ.get("LOCUST", "")
    if not locust:
        raise SystemExit("LOCUST names the load tool's program; see the top of this file for how to get it.")
    where = "PostgreSQL" if os.environ.get("DATABASE_URL") else "SQLite"
    print(f"{where}, {asked.people} people for {asked.seconds} s, {os.cpu_count()} cores; load of the machine")
    print("at the start:", *(f"{each:.1f}" for each in os.getloadavg()), flush=True)
    with Copy(asked.size) as copy:
        crowd(copy, locust, asked.people, asked.seconds)


if __name__ == "__main__":
    main()
