"""One size of the growth benchmark: run by growth.py with DATA_DIR at a copy of a ledger. Prints one line of JSON."""

# Django is set up before its models are imported; statements by hand stand on a line each.
# ruff: noqa: E402, E501

import datetime as dt
import hashlib
import io
import json
import multiprocessing
import os
import resource
import sqlite3
import statistics
import time
import uuid

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopledger.settings")
import django

django.setup()

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import connection
from django.http import HttpResponse
from django.template import engines
from django.test import Client
from django.urls import path

from inventory.containers.models import Container, Scale
from inventory.ledger import canonical
from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.ledger.actions import Draft, post, seal
from inventory.ledger.models import Account, Movement, Voucher
from inventory.ledger.queries import balances_of
from inventory.ledger.verify import verify, verify_since_seal
from inventory.shop.clock import today
from jobs.units.models import Unit
from jobs.work.actions import enter_line, sign_job, start_job
from shopledger.reports import usage
from shopledger.reports.report import Period

SUPPLIER, UNIT = Spot("R-134a", AccountClass.SUPPLIER, "Acme"), Spot("R-134a", AccountClass.UNIT, "U-bench")
found: dict[str, float] = {}


def ms(act) -> float:
    began = time.perf_counter()
    act()
    return (time.perf_counter() - began) * 1000


def turns(ours, reference, runs: int = 9) -> tuple[float, float]:
    one, two = [], []
    for _ in range(runs):
        one.append(ms(ours))
        two.append(ms(reference))
    return statistics.median(one), statistics.median(two)


def keep(name: str, ours: float, reference: float | None = None) -> None:
    found[f"{name}, ms"] = ours
    if reference is not None:
        found[f"{name}, ratio"] = ours / reference


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


# -- posting ----------------------------------------------------------------------------------------------


def raw() -> sqlite3.Connection:
    """The file itself, durable as ours is."""
    file = sqlite3.connect(settings.DATABASES["default"]["NAME"], isolation_level=None, timeout=30)
    file.execute("PRAGMA synchronous = FULL")
    return file


def by_hand(file: sqlite3.Connection, model: tuple, job: tuple[int, int, int] | None = None) -> None:
    """A voucher, its movement, two balances, the digest, the head: one durable transaction.

    job: the ids of a draft, of its container and of its scale; then its two weighings, the container's state and the
    job's own row are written, too, as signing does."""
    file.execute("BEGIN IMMEDIATE")
    number, digest = file.execute("SELECT number, digest FROM inventory_chainhead WHERE id = 1").fetchone()
    now = dt.datetime.now(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    text = json.dumps([1, number + 1, "2030-01-01", "job", "x" * 400])
    digest = hashlib.sha256(f"{digest}\n{text}".encode()).hexdigest()
    file.execute(
        "INSERT INTO inventory_voucher (number, day, kind, recorded_at, recorded_by, done_by, document, note, reverses_id, "
        "key, detail, digest) VALUES (?, '2030-01-01', 'job', ?, 'x', '', '', '', NULL, ?, ?, ?)",
        (number + 1, now, uuid.uuid4().hex, text, digest),
    )
    file.execute(
        "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, source_class, "
        "target_class, quantity, reversal) VALUES (?, 1, '2030-01-01', ?, ?, ?, 3, 4, 1000, 0)",
        (number + 1, *model),
    )
    if job:
        draft, container, scale = job
        for line, role in ((1, "before"), (2, "after")):
            file.execute(
                "INSERT INTO inventory_weighing (container_id, voucher_id, line, day, scale_id, role, gross, tare, book, "
                "net, difference, tolerance, outcome, again_id, place) VALUES "
                "(?, ?, ?, '2030-01-01', ?, ?, 1000, 1, 999, 999, 0, 1, 'agrees', NULL, 1)",
                (container, number + 1, line, scale, role),
            )
        file.execute("UPDATE inventory_container SET last_weighed_on = '2030-01-01' WHERE id = ?", (container,))
        file.execute("UPDATE jobs_job SET day = '2030-01-01', version = version + 1 WHERE id = ?", (draft,))
    file.execute("UPDATE inventory_account SET balance = balance - 1000 WHERE id = ?", (model[1],))
    file.execute("UPDATE inventory_account SET balance = balance + 1000 WHERE id = ?", (model[2],))
    file.execute(
        "UPDATE inventory_chainhead SET number = ?, digest = ?, recorded_at = ? WHERE id = 1",
        (number + 1, digest, now),
    )
    file.execute("COMMIT")


def ours() -> None:
    post(Draft("job", dt.date(2030, 1, 1), "bench", (Transfer(SUPPLIER, UNIT, 1000),)))


def posting() -> None:
    ours()
    model = Movement.objects.order_by("-id").values_list("substance_id", "source_id", "target_id").first()
    file = raw()
    mine, theirs = [], []
    for _ in range(150):
        mine.append(ms(ours))
        theirs.append(ms(lambda: by_hand(file, model)))
    keep("posting a voucher, p50", percentile(mine, 0.5), percentile(theirs, 0.5))
    keep("posting a voucher, p95", percentile(mine, 0.95), percentile(theirs, 0.95))
    found["_one writer p95"] = percentile(mine, 0.95)
    signing(file, model)
    file.close()


def signing(file: sqlite3.Connection, model: tuple) -> None:
    """The signing of a job with one charge by weight, through its action, without HTTP."""
    person = get_user_model().objects.create_user("bench", password=uuid.uuid4().hex, name="Bench", role="owner")
    from jobs.people.actions import add_certificate

    add_certificate(by=None, person=person, scheme="Bench", number="1", issued=dt.date(2020, 1, 1))
    scale = Scale.objects.filter(usual=True).first()
    unit = Unit.objects.filter(refrigerant="R-134a").first()
    can = Container.objects.filter(retired_on=None, account__balance__gt=6_000_000).first()
    gross, mine, theirs = can.tare_mg + can.account.balance, [], []
    for _ in range(60):
        job = start_job(unit=unit, technician=person, by=person, key=uuid.uuid4())
        enter_line(
            job.pk, by=person, key=uuid.uuid4(), action="charge", container=can.code, before=gross, after=gross - 50_000,
            scale=scale.code,
        )  # fmt: skip
        gross -= 50_000
        mine.append(ms(lambda job=job: sign_job(job.pk, by=person, reasons={"under": "bench", "no-range": "bench"})))
        theirs.append(ms(lambda job=job: by_hand(file, model, (job.pk, can.pk, scale.pk))))
    keep("signing a job, p50", percentile(mine, 0.5), percentile(theirs, 0.5))
    keep("signing a job, p95", percentile(mine, 0.95), percentile(theirs, 0.95))


def _writer(queue) -> None:
    connection.close()
    queue.put([ms(ours) for _ in range(60)])


def writers() -> None:
    """Four processes that post as fast as they can, and whether all of it is there."""
    before = Voucher.objects.count()
    connection.close()
    context = multiprocessing.get_context("fork")
    queue = context.Queue()
    crowd = [context.Process(target=_writer, args=(queue,)) for _ in range(4)]
    for one in crowd:
        one.start()
    times = [value for _ in crowd for value in queue.get(timeout=300)]
    for one in crowd:
        one.join()
    found["four writers: posted of 240"] = Voucher.objects.count() - before
    found["four writers: p95 to one writer's"] = percentile(times, 0.95) / found.pop("_one writer p95")


# -- reports and proofs -------------------------------------------------------------------------------------

FLOWS = (
    "SELECT substance_id, source_class, target_class, reversal, SUM(q) FROM (SELECT day, substance_id, source_class, "
    "target_class, reversal, SUM(quantity) q FROM inventory_movement WHERE day > ? AND day <= ? GROUP BY 1, 2, 3, 4, 5) "
    "GROUP BY 1, 2, 3, 4"
)
OPENING = (
    "SELECT a.substance_id, SUM(b.balance) FROM inventory_sealbalance b JOIN inventory_account a ON a.id = b.account_id "
    "WHERE b.seal_id = ? AND a.cls = 1 GROUP BY 1"
)
TOTALS = (
    "SELECT substance_id, source_class, target_class, reversal, SUM(quantity) FROM inventory_sealtotal WHERE seal_id = ? "
    "GROUP BY 1, 2, 3, 4"
)


def reports() -> None:
    """An open and a sealed quarter, beside the best statements by hand over the same snapshot."""
    last = Movement.objects.filter(day__lt=dt.date(2029, 1, 1)).order_by("-day").first().day
    ends = [last - dt.timedelta(days) for days in (184, 92)]
    seals = [seal(day, "bench") for day in ends]
    file = raw()

    def open_by_hand() -> None:
        file.execute(OPENING, (seals[1].id,)).fetchall()
        file.execute(FLOWS, (ends[1].isoformat(), last.isoformat())).fetchall()

    def sealed_by_hand() -> None:
        file.execute(OPENING, (seals[0].id,)).fetchall()
        file.execute(TOTALS, (seals[1].id,)).fetchall()

    day = dt.timedelta(days=1)
    keep("usage report, open quarter", *turns(lambda: usage.rows(Period(ends[1] + day, last)), open_by_hand))
    keep("usage report, sealed quarter", *turns(lambda: usage.rows(Period(ends[0] + day, ends[1])), sealed_by_hand))
    accounts = list(Account.objects.filter(cls=1).values_list("id", flat=True)[:100])
    marks = ", ".join("?" * len(accounts))
    statement = (
        f"SELECT a.id, COALESCE((SELECT balance FROM inventory_sealbalance b WHERE b.seal_id = ? AND b.account_id = a.id), 0) "
        "+ COALESCE((SELECT SUM(quantity) FROM inventory_movement WHERE target_id = a.id AND day > ? AND day <= ?), 0) "
        "- COALESCE((SELECT SUM(quantity) FROM inventory_movement WHERE source_id = a.id AND day > ? AND day <= ?), 0) "
        f"FROM inventory_account a WHERE a.id IN ({marks})"
    )
    through, now = ends[1].isoformat(), last.isoformat()
    keep(
        "balances of 100 containers on a day",
        *turns(
            lambda: balances_of(accounts, last),
            lambda: file.execute(statement, (seals[1].id, through, now, through, now, *accounts)).fetchall(),
        ),
    )
    file.close()


def proving() -> None:
    """The complete proof beside a loop that only hashes the same text, and the proof since a seal of the last days."""
    file = raw()

    def hashing() -> None:
        previous = canonical.GENESIS
        for row in file.execute(
            "SELECT number, day, kind, recorded_at, detail, digest FROM inventory_voucher ORDER BY number"
        ):
            hashlib.sha256(f"{previous}\n{row}".encode()).hexdigest()
            previous = row[5]

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    whole, loop = ms(verify), ms(hashing)
    keep("verify, complete", whole, loop)
    found["verify, complete, MB more memory"] = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    since = ms(verify_since_seal)
    keep("verify since the last seal", since)
    found["verify since the last seal, share of complete"] = since / whole
    file.close()


# -- pages --------------------------------------------------------------------------------------------------


def pages() -> None:
    from shopledger import urls

    rows = [{"a": n, "b": f"row {n}", "c": n * 2} for n in range(50)]
    template = engines["django"].from_string(
        "{% for row in rows %}<tr><td>{{ row.a }}</td><td>{{ row.b }}</td><td>{{ row.c }}</td></tr>{% endfor %}"
        "{{ request.user.name }}"
    )
    plain = lambda request: HttpResponse(template.render({"rows": rows, "request": request}, request))  # noqa: E731
    urls.urlpatterns.append(path("bench/plain/", plain))
    settings.ALLOWED_HOSTS = ["testserver"]
    person = get_user_model().objects.get(username="bench")
    client = Client()
    client.force_login(person)
    job = start_job(unit=Unit.objects.first(), technician=person, by=person, key=uuid.uuid4())

    def get(address: str):
        def act() -> None:
            assert client.get(address).status_code == 200, address

        act()
        return act

    for name, address in (
        ("home", "/"), ("job page", f"/jobs/{job.pk}/"), ("list of jobs", "/jobs/"),
        ("list of jobs, last page", "/jobs/?page=999999"), ("list of containers", "/stock/"),
        ("list of vouchers", "/ledger/"),
    ):  # fmt: skip
        keep(name, *turns(get(address), get("/bench/plain/"), 7))


def main() -> None:
    posting()
    writers()
    reports()
    pages()
    proving()
    out = io.StringIO()
    json.dump(found, out)
    print(out.getvalue())


if __name__ == "__main__":
    assert today()
    main()
