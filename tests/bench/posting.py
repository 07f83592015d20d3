"""Appending to the ledger: one voucher, a signed job, four writers at once; each beside the same rows by hand."""

import datetime as dt
import multiprocessing
import uuid

from django.contrib.auth import get_user_model
from django.db import connection

from inventory.containers.models import Container, Scale
from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.ledger.actions import Draft, post
from inventory.ledger.models import Movement, Voucher
from jobs.drafts.actions import enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.signing.actions import sign_job
from jobs.units.models import Unit
from tests.bench.byhand import Raw, append
from tests.bench.timing import Found, ms, percentile, turns

SUPPLIER, UNIT = Spot("R-134a", AccountClass.SUPPLIER, "Acme"), Spot("R-134a", AccountClass.UNIT, "U-bench")
WRITERS, EACH = 4, 60
REASONS = {"under": "bench", "no-range": "bench"}


def ours() -> None:
    post(Draft("job", dt.date(2030, 1, 1), "bench", (Transfer(SUPPLIER, UNIT, 1000),)))


def measure(found: Found) -> None:
    ours()
    model = Movement.objects.order_by("-id").values_list("substance_id", "source_id", "target_id").first()
    raw = Raw()
    mine, theirs = turns(ours, lambda: append(raw, model), 150)
    found.keep_spread("posting a voucher", mine, theirs)
    _signing(found, raw, model)
    raw.close()
    _writers(found, percentile(mine, 0.95))


def _signing(found: Found, raw: Raw, model: tuple) -> None:
    """The signing of a job with one charge by weight, through its action, without HTTP."""
    person = get_user_model().objects.create_user("signer", password=uuid.uuid4().hex, name="Signer", role="owner")
    add_certificate(by=None, person=person, scheme="Bench", number="1", issued=dt.date(2020, 1, 1))
    scale = Scale.objects.filter(usual=True).first()
    unit = Unit.objects.filter(refrigerant="R-134a").first()
    can = Container.objects.filter(retired_on=None, account__balance__gt=6_000_000).first()
    gross, mine, theirs = can.tare_mg + can.account.balance, [], []
    for _ in range(60):
        job = start_job(unit=unit, technician=person, by=person, key=uuid.uuid4())
        weights = {"before": gross, "after": gross - 50_000, "scale": scale.code}
        enter_line(job.pk, by=person, key=uuid.uuid4(), action="charge", container=can.code, **weights)
        gross -= 50_000
        mine.append(ms(lambda job=job: sign_job(job.pk, by=person, reasons=REASONS)))
        theirs.append(ms(lambda job=job: append(raw, model, (job.pk, can.pk, scale.pk))))
    found.keep_spread("signing a job", mine, theirs)


def _writer(queue) -> None:
    connection.close()
    queue.put([ms(ours) for _ in range(EACH)])


def _writers(found: Found, alone: float) -> None:
    """Processes that post as fast as they can, and whether all of it is there."""
    before = Voucher.objects.count()
    connection.close()
    context = multiprocessing.get_context("fork")
    queue = context.Queue()
    crowd = [context.Process(target=_writer, args=(queue,)) for _ in range(WRITERS)]
    for one in crowd:
        one.start()
    times = [value for _ in crowd for value in queue.get(timeout=300)]
    for one in crowd:
        one.join()
    found[f"four writers: posted of {WRITERS * EACH}"] = Voucher.objects.count() - before
    found["four writers: p95 to one writer's"] = percentile(times, 0.95) / alone
