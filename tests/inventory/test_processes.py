"""Several processes on one database, and one that is killed: nothing lost, nothing twice, nobody locked out.

Each test runs real processes of this program on a database of its own: a SQLite file, or a scratch PostgreSQL
database beside the one that DATABASE_URL names.
"""

import os
import shutil
import textwrap
import uuid

import psycopg
import pytest

from tests.forked import Forked

pytestmark = [pytest.mark.processes, pytest.mark.both]
SERVER = os.environ.get("DATABASE_URL", "")


def on_server(statement):
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(statement)


def on(database, code):
    """A process that has the names of `tests/posting.py` at hand."""
    prepared = "from tests.posting import *\n" + textwrap.dedent(code)
    return Forked(prepared, {**os.environ, "POSTED_INTO": database})


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    """A database with the program's tables and a can in them: the name of one that is copied for each test."""
    name = str(tmp_path_factory.mktemp("stocked") / "stocked.sqlite3")
    if SERVER:
        name = f"stocked_{uuid.uuid4().hex[:12]}"
        on_server(f"CREATE DATABASE {name}")
    said(on(name, "from django.core.management import call_command; call_command('migrate', verbosity=0); stock()"))
    yield name
    if SERVER:
        on_server(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def program(stocked, tmp_path):
    """Starts processes of this program on a fresh database: program(code) -> a running process."""
    if SERVER:
        name = f"scratch_{uuid.uuid4().hex[:12]}"
        on_server(f"CREATE DATABASE {name} TEMPLATE {stocked}")
    else:
        name = shutil.copy(stocked, tmp_path / "shop.sqlite3")
    started = []

    def start(code):
        started.append(on(str(name), code))
        return started[-1]

    yield start
    for process in started:
        process.kill()
    if SERVER:
        on_server(f"DROP DATABASE {name} WITH (FORCE)")


def said(process):
    done = process.ended()
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


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


FORM = """
from django.test import RequestFactory
from inventory.shop.models import FormSent
from inventory.shop.once import AlreadyRecorded
from inventory.shop.who import WhoMiddleware

KEY = "7e57f0f0-0000-4000-8000-000000000001"
def sends(quantity):
    def view(request):
        request.user = None
        return draw(quantity, key=KEY)
    try:
        return WhoMiddleware(view)(RequestFactory().post("/draw/", {"key": KEY, "quantity": quantity}))
    except AlreadyRecorded as refused:
        return refused.message
"""


def test_one_id_with_other_content_at_once_posts_one_and_refuses_the_others(program):
    """Of eight that send two quantities under one id, all with the quantity that came first are answered by its
    voucher, and all others are refused."""
    started = [(quantity, program(FORM + f"print(sends({quantity}))")) for quantity in [1000, 2000] * 4]
    answers = {(quantity, said(process)) for quantity, process in started}
    first = next(quantity for quantity, answer in answers if answer == "2")
    assert len(answers) == 2 and (first, "2") in answers
    (refused,) = (answer for quantity, answer in answers if quantity != first)
    assert refused == (
        "This form was already recorded as voucher 2 (job). What you typed now is kept below: post it as a new one."
    )
    assert proof(program) == f"True 2 {340_000 - first}"
    assert said(program(FORM + "print(*FormSent.objects.values_list('voucher'))")) == "(2,)"


def test_a_form_that_was_refused_or_rehearsed_is_not_kept(program):
    """It is mended under the same id; and what a command posts looks up no form."""
    code = """
    from inventory.ledger.actions import rehearsing
    def looked_at(request):
        with rehearsing():
            return draw(1000, key=KEY)
    print(WhoMiddleware(looked_at)(RequestFactory().post("/draw/", {"key": KEY, "quantity": 5})))
    try:
        sends(999000)
    except Refused as refused:
        print(type(refused).__name__, FormSent.objects.count())
    print(sends(3000), draw(1000, key=KEY), draw(4000, key="other"), FormSent.objects.count())
    """
    assert said(program(FORM + textwrap.dedent(code))).splitlines() == ["2", "Refused 0", "2 2 3 1"]


def test_processes_killed_at_forty_different_moments(program):
    """Each tells what it is about to do and what it did, and is killed one word later than the one before, while it
    goes on: it begins, reads, writes, commits, answers. The last ones have posted before."""
    process = program(
        """
        import signal
        from django.db import connections
        def told_of(act):
            def telling(*args):
                os.write(write, b".")
                found = act(*args)
                os.write(write, b".")
                return found
            return telling
        last, acknowledged_in_all = 1, 0
        for words in range(1, 41):
            connections.close_all()
            read, write = os.pipe()
            child = os.fork()
            if child == 0:
                os.close(read)
                connection._commit = told_of(connection._commit)
                with connection.execute_wrapper(lambda execute, *args: told_of(execute)(*args)):
                    while True:
                        os.write(write, b"%d\\n" % draw(1))
            os.close(write)
            told = b""
            while told.count(b".") < words:
                told += os.read(read, 1) or os.kill(os.getpid(), signal.SIGABRT)
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            while chunk := os.read(read, 65536):
                told += chunk
            os.close(read)
            acknowledged = [int(number) for number in told.replace(b".", b"").split(b"\\n")[:-1]]
            count = Voucher.objects.count()
            assert max([last, *acknowledged]) <= count <= max([last, *acknowledged]) + 1, (words, told, count)
            last, acknowledged_in_all = count, acknowledged_in_all + len(acknowledged)
        print(last, acknowledged_in_all)
        """
    )
    last, acknowledged = map(int, said(process).split())
    assert acknowledged > 10, "posted between the kills"
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
    done = process.ended()
    assert done.returncode == 1
    assert "The first voucher that is wrong is 4." in done.stderr


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
