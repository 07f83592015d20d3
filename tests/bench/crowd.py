"""Twenty people at once on the production server, on a copy of a kept ledger; then whether all of it is there.

    python -m venv /tmp/load && /tmp/load/bin/pip install locust==2.47.0
    LOCUST=/tmp/load/bin/locust .venv/bin/python -m tests.bench.crowd [--people 20] [--seconds 300] [--size 100000]

On SQLite; with DATABASE_URL on PostgreSQL. Prints a table; never fails a build.
"""

import argparse
import csv
import json
import os
import socket
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.ledgers import ROOT, Copy

SERVE = "import sys; from shopledger.wsgi import application; from shopledger.serving.server import make_server; "
SERVE += 'make_server(application, f"127.0.0.1:{sys.argv[1]}", threads=4).run()'

SET_UP = """
import datetime as dt, django, json, sys, uuid
django.setup()
from django.test import Client
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from jobs.people.actions import add_certificate
from jobs.people.models import Person
from jobs.units.actions import add_unit
found = []
for n in range(int(sys.argv[1])):
    who = Person.objects.create_user(f"crowd{n}", password=uuid.uuid4().hex, name=f"Crowd {n}", role="technician")
    add_certificate(by=None, person=who, scheme="Bench", number=str(n), issued=dt.date(2020, 1, 1))
    unit = add_unit(by=None, name=f"Crowd unit {n}", refrigerant="R-134a")
    line = Arrival("refillable", "R-134a", False, "virgin", 800_000_000, 1, "Store", f"CROWD-{n}", tare_mg=9_000_000)
    open_stock(lines=[line], day=today(), by="bench", key=str(uuid.uuid4()))
    client = Client()
    client.force_login(who)
    found.append({"session": client.cookies["sessionid"].value, "unit": unit.pk, "container": f"CROWD-{n}",
                  "gross": 809_000})
print(json.dumps(found))
"""

CHECK = """
import django, json, sys
django.setup()
from inventory.ledger.verify import verify
from jobs.drafts.models import Job
acknowledged = json.load(open(sys.argv[1]))
there = Job.objects.filter(pk__in=acknowledged, state="signed", voucher__kind="job").count()
print(json.dumps({"acknowledged": len(acknowledged), "there": there, "holds": verify().holds,
    "signed by them": Job.objects.filter(technician__username__startswith="crowd", state="signed").count()}))
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
    environment = {**copy.environment, "DJANGO_SETTINGS_MODULE": "shopledger.settings", "HTTPS": "off", "DEBUG": "off"}
    process = subprocess.Popen(
        [sys.executable, "-c", SERVE, str(port)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=(ROOT / copy.folder.name / "server.log").open("w"),
    )
    for _ in range(100):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return process, port
        time.sleep(0.1)
    raise SystemExit("the server did not come up")


def crowd(copy: Copy, locust: str, people: int, seconds: int) -> None:
    folder = Path(copy.folder.name)
    acknowledged = folder / "acknowledged.json"
    said = {"people": python(copy, SET_UP, people), "acknowledged": str(acknowledged)}
    (folder / "crowd.json").write_text(json.dumps(said), encoding="utf-8")
    process, port = serve(copy)
    command = [
        locust,
        "-f",
        str(ROOT / "tests/bench/crowd_people.py"),
        "--headless",
        "-u",
        str(people),
        "-r",
        "5",
        "-t",
        f"{seconds}s",
        "--host",
        f"http://127.0.0.1:{port}",
        "--csv",
        str(folder / "load"),
        "--only-summary",
    ]
    subprocess.run(
        command,
        env={**os.environ, "CROWD": str(folder / "crowd.json")},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    process.terminate()
    process.wait()
    print("| what | requests | failed | p50, ms | p95, ms | most, ms | a second |\n|---|---|---|---|---|---|---|")
    with (folder / "load_stats.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            print(
                f"| {row['Name']} | {row['Request Count']} | {row['Failure Count']} | {row['50%']} | {row['95%']} | "
                f"{float(row['Max Response Time']):.0f} | {float(row['Requests/s']):.1f} |"
            )
    with (folder / "load_failures.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            print("failed:", row["Name"], row["Error"], row["Occurrences"])
    print("\nafterwards:", python(copy, CHECK, acknowledged))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--seconds", type=int, default=300)
    parser.add_argument("--size", type=int, default=100_000)
    asked = parser.parse_args()
    locust = os.environ.get("LOCUST", "")
    if not locust:
        raise SystemExit("LOCUST names the load tool's program; see the top of this file for how to get it.")
    where = "PostgreSQL" if os.environ.get("DATABASE_URL") else "SQLite"
    print(f"{where}, {asked.people} people for {asked.seconds} s, {os.cpu_count()} cores\n")
    with Copy(asked.size) as copy:
        crowd(copy, locust, asked.people, asked.seconds)


if __name__ == "__main__":
    main()
