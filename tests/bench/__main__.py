"""Speed as ratios to a reference measured in the same run; prints, never fails.

    .venv/bin/python -m tests.bench [--events 40000]

Runs on a database of its own (SQLite in a temporary folder, or a scratch one beside DATABASE_URL's).
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
import uuid
from pathlib import Path

FOLDER = tempfile.TemporaryDirectory(prefix="bench-")
os.environ["DATA_DIR"] = FOLDER.name
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopledger.settings")
if os.environ.get("DATABASE_URL"):
    import psycopg

    SCRATCH = f"bench_{uuid.uuid4().hex[:10]}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
        server.execute(f"CREATE DATABASE {SCRATCH}")
    os.environ["DATABASE_URL"] = os.environ["DATABASE_URL"].rsplit("/", 1)[0] + f"/{SCRATCH}"

import django  # noqa: E402

django.setup()

import datetime as dt  # noqa: E402

import django_tables2 as tables  # noqa: E402
from django.contrib.auth import get_user_model  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.http import HttpResponse  # noqa: E402
from django.template import engines  # noqa: E402
from django.test import Client  # noqa: E402

from inventory.containers.models import Container  # noqa: E402
from inventory.ledger.accounts import AccountClass, Spot, Transfer  # noqa: E402
from inventory.ledger.actions import Draft, post  # noqa: E402
from inventory.ledger.models import Movement, Voucher  # noqa: E402
from inventory.ledger.verify import verify  # noqa: E402
from jobs.units.models import Unit  # noqa: E402
from jobs.work.actions import enter_line, start_job  # noqa: E402
from jobs.work.models import Job  # noqa: E402
from shopledger.logbook.actions import load  # noqa: E402
from shopledger.reports import usage  # noqa: E402
from shopledger.reports.report import Period  # noqa: E402
from tests.bench.log_generator import write_log  # noqa: E402


def timed(act, runs: int = 7) -> float:
    """The median of several runs, in seconds."""
    found = []
    for _ in range(runs):
        began = time.perf_counter()
        act()
        found.append(time.perf_counter() - began)
    return statistics.median(found)


def side_by_side(ours, reference, runs: int = 9) -> tuple[float, float]:
    """Medians of two acts that take turns, so that both meet the same machine."""
    one, two = [], []
    for _ in range(runs):
        one.append(timed(ours, 1))
        two.append(timed(reference, 1))
    return statistics.median(one), statistics.median(two)


def say(what: str, ours: float, reference: float, goal: str) -> None:
    print(f"{what:<58} {ours * 1000:9.2f} ms {reference * 1000:9.2f} ms  ratio {ours / reference:6.2f}  goal {goal}")


def loading(events: int) -> None:
    """Loads a short log, then one four times as long, each into the same growing ledger."""
    print("-- loading a log (seconds; the second is four times as long)")
    times = []
    for seed, size in ((1, events // 5), (1, events - events // 5)):
        folder = Path(FOLDER.name) / f"log-{size}"
        write_log(folder, size, seed)
        if times:
            for path in folder.glob("*.csv"):  # names that the first log does not use
                text = path.read_text().replace("CYL-", "ZYL-").replace("REC-1", "REC-2").replace("\nB", "\nC")
                path.write_text(text.replace("Cench 1", "Bench 1"))
        began = time.perf_counter()
        loaded = load(folder)
        times.append((time.perf_counter() - began, loaded.events))
        print(f"   {loaded.events} events in {times[-1][0]:.2f} s: {loaded.events / times[-1][0]:.0f} a second")
    per_event = [seconds / count for seconds, count in times]
    print(f"   time for each event, long to short: {per_event[1] / per_event[0]:.2f} (1 is linear)")


HAND = (
    "SELECT substance_id, source_class, target_class, reversal, SUM(quantity) FROM inventory_movement "
    "WHERE day >= %s AND day <= %s GROUP BY 1, 2, 3, 4"
)
HAND_OPENING = (
    "SELECT substance_id, SUM(CASE WHEN target_class = 1 THEN quantity ELSE 0 END) - "
    "SUM(CASE WHEN source_class = 1 THEN quantity ELSE 0 END) FROM inventory_movement WHERE day < %s GROUP BY 1"
)


def report() -> None:
    last = Movement.objects.order_by("-day").first().day
    period = Period(last - dt.timedelta(91), last)

    def by_hand() -> None:
        with connection.cursor() as cursor:
            cursor.execute(HAND, [period.first.isoformat(), period.last.isoformat()])
            cursor.fetchall()
            cursor.execute(HAND_OPENING, [period.first.isoformat()])
            cursor.fetchall()

    ours, hand = side_by_side(lambda: usage.rows(period), by_hand)
    say(f"usage report, last quarter of {Movement.objects.count()} movements", ours, hand, "<= 2 x the sums by hand")


def appending() -> None:
    supplier = Spot("R-134a", AccountClass.SUPPLIER, "Acme")
    unit = Spot("R-134a", AccountClass.UNIT, "U-bench")

    def ours() -> None:
        post(Draft("job", dt.date(2030, 1, 1), "bench", (Transfer(supplier, unit, 1000),)))

    def hand() -> None:
        """The same rows with balance and digest, straight through the driver."""
        import hashlib

        from django.db import transaction

        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SELECT number, digest FROM inventory_chainhead WHERE id = 1")
            number, digest = cursor.fetchone()
            text = f'[1,{number + 1},"2030-01-01","job","x"]'
            digest = hashlib.sha256(f"{digest}\n{text}".encode()).hexdigest()
            cursor.execute(
                "INSERT INTO inventory_voucher (number, day, kind, recorded_at, recorded_by, done_by, document, note, "
                "reverses_id, key, detail, digest) VALUES (%s, '2030-01-01', 'job', 'x', 'x', '', '', '', NULL, %s, "
                "'{}', %s)",
                [number + 1, uuid.uuid4().hex, digest],
            )
            cursor.execute(
                "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, "
                "source_class, target_class, quantity, reversal) SELECT %s, 0, '2030-01-01', substance_id, source_id, "
                "target_id, source_class, target_class, 1000, reversal FROM inventory_movement WHERE voucher_id = %s "
                "LIMIT 1",
                [number + 1, model],
            )
            cursor.execute("UPDATE inventory_account SET balance = balance - 1000 WHERE id = %s", [accounts[0]])
            cursor.execute("UPDATE inventory_account SET balance = balance + 1000 WHERE id = %s", [accounts[1]])
            cursor.execute("UPDATE inventory_chainhead SET number = %s, digest = %s WHERE id = 1", [number + 1, digest])

    ours()
    model = Voucher.objects.order_by("-number").first().number
    accounts = Movement.objects.filter(voucher=model).values_list("source_id", "target_id").first()
    mine, theirs = side_by_side(ours, hand, 120)
    say("posting a voucher of one movement, durable", mine, theirs, "<= 2 x the same rows by hand")


def pages() -> None:
    person = get_user_model().objects.create_user("bench", password=uuid.uuid4().hex, name="Bench", role="owner")
    client = Client()
    client.force_login(person)
    rows = [{"a": n, "b": f"row {n}", "c": n * 2} for n in range(50)]
    template = engines["django"].from_string(
        "{% for row in rows %}<tr><td>{{ row.a }}</td><td>{{ row.b }}</td><td>{{ row.c }}</td></tr>{% endfor %}"
        "{{ request.user.name }}"
    )

    def plain(request) -> HttpResponse:
        return HttpResponse(template.render({"rows": rows, "request": request}, request))

    from django.urls import path

    from shopledger import urls

    urls.urlpatterns.append(path("bench/plain/", plain))

    class Bare(tables.Table):
        class Meta:
            model = Job
            template_name = "django_tables2/table.html"
            fields = ("number", "day", "state", "unit", "substance", "technician")

    def bare(request) -> HttpResponse:
        table = Bare(Job.objects.select_related("unit", "technician").order_by("-day", "-id"), order_by="-day")
        tables.RequestConfig(request, paginate={"per_page": int(request.GET["rows"])}).configure(table)
        return HttpResponse(table.as_html(request))

    urls.urlpatterns.append(path("bench/bare/", bare))
    unit = Unit.objects.first()
    job = start_job(unit=unit, technician=person, by=person, key=uuid.uuid4())
    can = Container.objects.filter(retired_on=None, account__balance__gt=2_000_000).first()
    enter_line(
        job.pk, by=person, key=uuid.uuid4(), action="charge", container=can.code,
        before=can.tare_mg + can.account.balance, after=can.tare_mg + can.account.balance - 300_000,
    )  # fmt: skip

    def get(address: str):
        def act() -> None:
            assert client.get(address).status_code == 200, address

        return act

    for what, address, reference, goal in (
        ("the job page", f"/jobs/{job.pk}/", "/bench/plain/", "<= 3 x a plain page of 50 rows"),
        ("home", "/", "/bench/plain/", "<= 3 x a plain page of 50 rows"),
        (
            f"list of {Job.objects.count()} jobs",
            "/jobs/",
            "/bench/bare/?rows=25",
            "<= 1.5 x a bare table of the same rows",
        ),
        (
            f"list of {Container.objects.count()} containers",
            "/stock/",
            "/bench/bare/?rows=50",
            "<= 1.5 x a bare table of as many rows",
        ),
        (f"list of {Voucher.objects.count()} vouchers", "/ledger/", "/bench/plain/", ""),
    ):
        get(address)(), get(reference)()
        ours, theirs = side_by_side(get(address), get(reference))
        say(what, ours, theirs, goal)


def proving() -> None:
    began = time.perf_counter()
    proof = verify()
    seconds = time.perf_counter() - began
    print(f"-- verify: {proof.vouchers} vouchers, {proof.movements} movements in {seconds:.2f} s; holds: {proof.holds}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--events", type=int, default=20_000)
    events = parser.parse_args().events
    from django.conf import settings

    settings.ALLOWED_HOSTS = ["testserver"]
    call_command("migrate", verbosity=0, skip_checks=True)
    print(f"{connection.vendor}, {sys.version.split()[0]}, {os.cpu_count()} cores")
    loading(events)
    proving()
    print("-- ratios (ours, reference)")
    report()
    appending()
    pages()


try:
    main()
finally:
    connection.close()
    if os.environ.get("DATABASE_URL"):
        with psycopg.connect(os.environ["DATABASE_URL"].rsplit("/", 1)[0] + "/postgres", autocommit=True) as server:
            server.execute(f"DROP DATABASE {SCRATCH} WITH (FORCE)")
