"""Several processes on one database, and one that is killed: nothing lost, nothing twice, nobody locked out.

Each test runs real processes of this program on a database of its own: a SQLite file, or a scratch PostgreSQL
database beside the one that DATABASE_URL names.
"""

import os
import signal
import subprocess
import sys
import textwrap
import time
import uuid
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import pytest

pytestmark = pytest.mark.processes
ROOT = Path(__file__).resolve().parents[2]

SETUP = """
import datetime as dt, os, sys
import django
django.setup()
from django.db import connection
from inventory.ledger.accounts import AccountClass as A, Spot, Transfer
from inventory.ledger.actions import Draft, post
from inventory.ledger.models import Account, Voucher
from inventory.text.refusal import Refused
from inventory.ledger import verify
verify.extra_checks.clear()  # these post without containers' rows
CAN = Spot("R-134a", A.CONTAINER, "CAN-1", "Store", "virgin")
UNIT = Spot("R-134a", A.UNIT, "U-1")
def draw(quantity, **more):
    return post(Draft("job", dt.date(2026, 3, 2), "x", (Transfer(CAN, UNIT, quantity),), **more))
"""


@pytest.fixture
def program(tmp_path):
    """Starts processes of this program on a fresh database: program(code) -> a running process."""
    environment = {**os.environ, "DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "shopledger.settings"}
    name = None
    if os.environ.get("DATABASE_URL"):
        import psycopg

        name = f"scratch_{uuid.uuid4().hex[:12]}"
        with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
            server.execute(f"CREATE DATABASE {name}")
        parts = urlsplit(os.environ["DATABASE_URL"])
        environment["DATABASE_URL"] = urlunsplit(parts._replace(path=f"/{name}"))
    started = []

    def start(code):
        process = subprocess.Popen(
            [sys.executable, "-c", SETUP + textwrap.dedent(code)],
            cwd=ROOT,
            env=environment,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        started.append(process)
        return process

    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0", "--skip-checks"], cwd=ROOT, env=environment, check=True
    )
    stock = "post(Draft('opening', dt.date(2026, 3, 1), 'x', (Transfer(Spot('R-134a', A.OPENING), CAN, 340000),)))"
    assert start(stock).wait() == 0
    yield start
    for process in started:
        process.kill()
        process.communicate()
    if name:
        with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def said(process):
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err
    return out.strip()


def proof(program):
    return said(
        program("found = verify.verify(); print(found.holds, found.vouchers, Account.objects.get(key=CAN.key).balance)")
    )


def test_two_people_drawing_from_one_can_and_one_is_told(program):
    code = """
    try:
        print("posted", draw(200000))
    except Refused as refused:
        print(refused.message)
    """
    answers = sorted(said(process) for process in [program(code), program(code)])
    assert answers == ["CAN-1 holds 140 g; 200 g cannot come out of it.", "posted 2"]
    assert proof(program) == "True 2 140000"


def test_many_posting_at_once_lose_nothing_and_are_never_locked_out(program):
    """Four processes of five threads each post three times: 60 vouchers."""
    code = """
    from concurrent.futures import ThreadPoolExecutor
    def three(_):
        try:
            return [draw(1000) for _ in range(3)]
        finally:
            connection.close()
    with ThreadPoolExecutor(5) as pool:
        print(*[number for found in pool.map(three, range(5)) for number in found])
    """
    numbers = sorted(int(n) for process in [program(code) for _ in range(4)] for n in said(process).split())
    assert numbers == list(range(2, 62))
    assert proof(program) == "True 61 280000"


def test_the_same_form_from_two_phones_posts_once(program):
    code = "print(draw(1000, key='form-1'))"
    assert [said(process) for process in [program(code) for _ in range(4)]] == ["2"] * 4
    assert proof(program) == "True 2 339000"


def test_a_process_killed_while_posting_loses_nothing_that_it_acknowledged(program):
    process = program("while True: print(draw(10), flush=True)")
    acknowledged = [process.stdout.readline() for _ in range(40)]
    time.sleep(0.05)
    process.send_signal(signal.SIGKILL)
    acknowledged += process.stdout.readlines()
    last = max(int(line) for line in acknowledged if line.endswith("\n"))
    holds, vouchers, balance = proof(program).split()
    assert holds == "True" and int(vouchers) >= last
    assert int(balance) == 340_000 - 10 * (int(vouchers) - 1)


def test_processes_killed_forty_times_at_different_moments(program):
    """Each a little later than the one before: while it connects, reads, writes, commits, answers."""
    process = program(
        """
        import signal, time
        from django.db import connections
        last = 1
        for round in range(40):
            connections.close_all()
            read, write = os.pipe()
            child = os.fork()
            if child == 0:
                while True:
                    os.write(write, b"%d\\n" % draw(1))
            os.close(write)
            time.sleep(0.005 + round * 0.002)
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            told = b""
            while chunk := os.read(read, 65536):
                told += chunk
            os.close(read)
            acknowledged = [int(number) for number in told.split(b"\\n")[:-1]]
            count = Voucher.objects.count()
            assert max([last, *acknowledged]) <= count <= max([last, *acknowledged]) + 1, (round, told, count)
            last = count
        print(last)
        """
    )
    last = int(said(process))
    assert last > 10, "posted between the kills"
    assert proof(program) == f"True {last} {340_000 - (last - 1)}"


def test_an_edit_made_straight_in_the_database_is_named(program):
    """The triggers dropped first, then one voucher edited: verify names it and ends with 1."""
    said(program("for _ in range(5): draw(1000)"))
    said(
        program(
            """
            from inventory.ledger import triggers
            triggers.drop(connection)
            with connection.cursor() as cursor:
                cursor.execute("UPDATE inventory_movement SET quantity = 999 WHERE voucher_id = 4")
            triggers.install(connection)
            """
        )
    )
    process = program(
        "from django.core.management import execute_from_command_line as run; run(['manage.py', 'verify'])"
    )
    _, complaint = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "The first voucher that is wrong is 4." in complaint


def test_jobs_that_are_started_at_once_have_numbers_of_their_own(program):
    said(
        program("""
        from jobs.people.models import Person
        from jobs.units.actions import add_unit
        Person.objects.create_user("tess", password="wet pump 7 am", name="Tess", role="technician")
        add_unit(by=None, name="Truck 4", refrigerant="R-134a")
    """)
    )
    code = """
        import uuid
        from jobs.people.models import Person
        from jobs.units.models import Unit
        from jobs.drafts.actions import start_job
        who, unit = Person.objects.get(username="tess"), Unit.objects.get()
        for n in range(20):
            start_job(unit=unit, technician=who, by=who, key=uuid.uuid4())
        start_job(unit=unit, technician=who, by=who, key=uuid.UUID(int=7))
    """
    for process in [program(code) for _ in range(4)]:
        said(process)
    jobs = "from jobs.drafts.models import Job; jobs = Job.objects; "
    count = jobs + "print(jobs.count(), jobs.values('number').distinct().count())"
    assert said(program(count)) == "81 81", "80 jobs, and the one that all four started is there once"


def test_parties_and_customers_that_are_entered_at_once_have_codes_of_their_own(program):
    code = """
        from inventory.parties.actions import supplier_called
        from jobs.units.actions import add_customer
        for n in range(20):
            supplier_called(f"Supplier {os.getpid()} {n}")
            add_customer(by=None, name=f"Customer {os.getpid()} {n}")
        print(supplier_called("The same").code)
    """
    same = {said(process) for process in [program(code) for _ in range(4)]}
    assert len(same) == 1, "whom all four named is there once"
    read = """
        from inventory.parties.models import Party
        from jobs.units.models import Customer
        for kind in (Party, Customer):
            rows = list(kind.objects.order_by("id").values_list("id", "code"))
            print(len(rows), len({code for _, code in rows}), rows == [(n, f"{kind.PREFIX}-{n:06d}") for n, _ in rows])
    """
    assert said(program(read)).splitlines() == ["81 81 True", "80 80 True"]
