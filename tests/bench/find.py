"""The search of everything in a shop of 69,000 jobs: what each kind of word takes, as an owner and as a technician."""

import datetime as dt
import time
import uuid

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.containers.models import Container, Location
from inventory.ledger.models import Substance, Voucher
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.units.models import Customer, Unit
from tests.bench.timing import Found, percentile, turns

JOBS, UNITS, CUSTOMERS, CONTAINERS = 69_000, 30_000, 15_000, 20_000
DETAIL = '{"event": "' + "x" * 900 + '"}'  # as long as that of a job with three entries
WORDS = {
    "a job by its number": "034567",
    "a plate": "kw 12345",
    "a customer": "customer 4321",
    "a container": "cyl-0123",
    "a supplier's number": "qx-77-19",
    "a paper": "inv-4321",
    "a voucher": "54321",
    "a page": "month",
    "two letters": "in",
    "nothing that is": "zzyzzx",
}


def _rows() -> tuple[Person, Person]:
    """Rows in bulk: what is searched alone, no evidence. The owner, and a technician who has a third of the jobs."""
    people = get_user_model().objects
    owner = people.create_user("finder", password=uuid.uuid4().hex, name="Finder", role="owner")
    techs = [
        people.create_user(f"tech{n}", password=uuid.uuid4().hex, name=f"Tech {n}", role="technician") for n in range(3)
    ]
    day = dt.date(2020, 1, 1)
    place = Location.objects.bulk_create([Location(name="Store")])[0]
    gas = Substance.objects.bulk_create([Substance(code="R-134a", is_oil=False)])[0]
    Container.objects.bulk_create(
        (
            Container(
                code=f"CYL-{n:06d}",
                supplier_number=f"QX-77-{n}",
                kind="refillable",
                substance=gas,
                location=place,
                grade="virgin",
                arrived_on=day,
            )
            for n in range(CONTAINERS)
        ),
        1000,
    )
    customers = [Customer(code=f"C-{n:06d}", name=f"Customer {n}") for n in range(CUSTOMERS)]
    for one in customers:
        one.fold()
    customers = Customer.objects.bulk_create(customers, 1000)
    units = [
        Unit(
            code=f"U-{n:06d}", plate=f"KW {n}", refrigerant="R-134a", customer=customers[n % CUSTOMERS], kind="vehicle"
        )
        for n in range(UNITS)
    ]
    for one in units:
        one.fold()
    units = Unit.objects.bulk_create(units, 1000)
    Job.objects.bulk_create(
        (
            Job(
                number=f"J-{n:06d}",
                unit=units[n % UNITS],
                technician=techs[n % 3],
                day=day + dt.timedelta(n // 30),
                started_at=dt.datetime(2020, 1, 1, tzinfo=dt.UTC),
            )
            for n in range(JOBS)
        ),
        1000,
    )
    stamp = "2020-01-01T00:00:00.000000Z"
    Voucher.objects.bulk_create(
        (
            Voucher(
                number=n,
                day=day,
                kind="job",
                recorded_at=stamp,
                recorded_by="o",
                document=f"INV-{n}" if n % 4 else "",
                key=f"k{n}",
                detail=DETAIL,
                digest=f"{n:064x}",
            )
            for n in range(1_000, 1_000 + JOBS)
        ),
        1000,
    )
    return owner, techs[0]


def measure(found: Found) -> None:
    settings.ALLOWED_HOSTS = ["testserver"]
    owner, tech = _rows()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE")
    for person in (owner, tech):
        client = Client(headers={"HX-Request": "true"})
        client.force_login(person)
        for name, typed in WORDS.items():

            def ask(client=client, typed=typed) -> None:
                assert client.get("/find/", {"q": typed}).status_code == 200

            ask()
            with CaptureQueriesContext(connection) as asked:
                ask()
            statements = [one["sql"] for one in asked if one["sql"].startswith("SELECT")]
            began = time.process_time()
            for _ in range(9):
                ask()
            found[f"find {name}, {person.role}, of it this process's own time, ms"] = (
                time.process_time() - began
            ) / 9e-3
            ours, by_hand = turns(ask, lambda statements=statements: _by_hand(statements))
            found.keep(f"find {name}, {person.role}", ours, by_hand)
            found[f"find {name}, {person.role}, its {len(statements)} statements alone, ms"] = percentile(by_hand, 0.5)


def _by_hand(statements: list[str]) -> None:
    """What the answer asks of the database, and nothing around it."""
    with connection.cursor() as cursor:
        for one in statements:
            cursor.execute(one)
            cursor.fetchall()
