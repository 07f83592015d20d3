"""How the records are kept: the owner's page, the command, and one word for a monitor."""

import datetime as dt
import io
import json
import logging
import uuid
from collections import namedtuple

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from inventory.containers.actions import Arrival, open_stock
from inventory.shop.clock import today
from shopledger.health import middleware, queries
from shopledger.health.models import SlowPage
from shopledger.keeping.models import Deed, note

pytestmark = pytest.mark.django_db


def line(about):
    return next(one for one in queries.lines() if one.about == about)


@pytest.mark.parametrize(
    ("kind", "about", "days"),
    [("backup", "Last backup", queries.BACKUP_DAYS), ("verify", "Last proof of the ledger", queries.VERIFY_DAYS)],
)
def test_a_backup_and_a_proof_grow_old(kind, about, days):
    assert not line(about).well and line(about).said == "never" and line(about).todo
    note(kind, True, "all of it")
    assert line(about).well and "all of it" in line(about).said
    Deed.objects.update(at=timezone.now() - dt.timedelta(days=days, seconds=-60))
    assert line(about).well
    Deed.objects.update(at=timezone.now() - dt.timedelta(days=days, seconds=60))
    assert not line(about).well
    note(kind, False, "no room")
    assert not line(about).well and "no room" in line(about).said and "failed" in line(about).todo


@pytest.mark.parametrize(("free", "well"), [(queries.DISK_LEFT, True), (queries.DISK_LEFT - 1, False)])
def test_a_disk_that_fills_up_is_seen(monkeypatch, free, well):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(queries.shutil, "disk_usage", lambda path: usage(100 << 30, 0, free))
    assert line("Disk").well is well


def test_the_page_is_the_owner_s(shop, owner_client, office_client):
    page = owner_client.get("/health/").content.decode()
    assert "Last backup" in page and "never" in page and "Database" in page
    assert office_client.get("/health/").status_code == 403


def test_verify_leaves_its_mark(shop):
    call_command("verify", stdout=io.StringIO())
    assert Deed.objects.get(kind="verify").well and line("Last proof of the ledger").well


def test_the_command_ends_with_1_where_something_is_to_be_done(shop):
    out = io.StringIO()
    with pytest.raises(CommandError) as ended:
        call_command("health", "--as-json", stdout=out)
    assert ended.value.returncode == 1 and "manage.py backup" in str(ended.value)
    assert {one["about"] for one in json.loads(out.getvalue())} >= {"Last backup", "Disk", "Ledger", "Database"}
    for kind in ("backup", "verify"):
        note(kind, True, "well")
    out = io.StringIO()
    call_command("health", stdout=out)
    assert "LOOK" not in out.getvalue() and "ok   Last backup" in out.getvalue()


def test_a_monitor_needs_no_sign_in(shop, monkeypatch):
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok\n")

    def gone():
        raise OperationalError("server closed the connection")

    monkeypatch.setattr("shopledger.health.views.head", gone)
    answer = Client().get("/healthz")
    assert answer.status_code == 503 and b"closed" not in answer.content
    assert Client().post("/healthz").status_code == 405


def test_slow_pages_are_kept_by_name_and_not_for_ever(shop, owner_client, monkeypatch):
    monkeypatch.setattr(middleware, "KEPT", 3)
    owner_client.get("/stock/?text=secret")
    assert not SlowPage.objects.exists(), "a quick page is nobody's matter"
    monkeypatch.setattr(middleware, "SLOW_MS", 0)
    for _ in range(5):
        owner_client.get("/stock/?text=secret")
    assert [(one.page, one.method) for one in SlowPage.objects.all()] == [("stock", "GET")] * 3
    assert "stock" in owner_client.get("/health/").content.decode()


@pytest.mark.django_db(transaction=True)
def test_the_log_names_the_voucher_and_who_posted_it(shop, caplog):
    caplog.set_level(logging.INFO, logger="shopledger.ledger")
    lines = [Arrival("can", "R-134a", False, "virgin", 340_000, 1, "Store", tare_mg=100_000)]
    open_stock(lines=lines, day=today(), by="olive", key=str(uuid.uuid4()))
    assert "vouchers 1 to 1 posted by olive" in caplog.text
