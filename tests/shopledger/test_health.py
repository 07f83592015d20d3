"""The owner's page and command on health, the word for a monitor, and what goes into the log."""

import datetime as dt
import json
import logging
import os
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from inventory.ledger import triggers
from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.accounts import Spot, Transfer
from inventory.ledger.actions import Draft, post
from inventory.ledger.models import ChainHead, Voucher
from shopledger import database
from shopledger.backup.models import Upkeep, note
from shopledger.health import logs, middleware, queries
from shopledger.health.models import SlowPage

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path


def voucher():
    lost, unit = Spot("R-134a", A.OTHER_LOSS), Spot("R-134a", A.UNIT)
    return post(Draft("job", dt.date(2026, 3, 2), "tess", (Transfer(lost, unit, 1),)))


def line(name):
    return next(one for one in queries.health().lines if one.name == name)


def aged(kind, days, well=True, said="400 vouchers."):
    note(kind, well, said)
    latest = Upkeep.objects.filter(kind=kind).first()
    Upkeep.objects.filter(pk=latest.pk).update(at=timezone.now() - dt.timedelta(days=days))


def test_a_shop_without_a_voucher_needs_no_backup_yet():
    assert (line("backup").state, line("verify").state) == ("look", "look")
    assert queries.health().well
    voucher()
    assert line("backup").state == "wrong" and "another disk" in line("backup").advice


@pytest.mark.parametrize(("days", "state"), [(0, "good"), (1.9, "good"), (2.1, "wrong"), (400, "wrong")])
def test_a_backup_is_wrong_after_two_days(days, state):
    aged("backup", days)
    assert line("backup").state == state


def test_a_backup_that_failed_is_wrong_and_names_the_last_good_one():
    aged("backup", 3)
    note("backup", False, "The backup to /x failed: no space left.")
    found = line("backup")
    assert found.state == "wrong" and "no space left" in found.said and "3 days ago" in found.said


@pytest.mark.parametrize(("days", "well", "state"), [(0, True, "good"), (9, True, "look"), (0, False, "wrong")])
def test_a_proof_is_asked_for_each_week(days, well, state):
    aged("verify", days, well)
    assert line("verify").state == state


def test_verify_is_kept(shop):
    call_command("verify")
    assert Upkeep.objects.get(kind="verify").well and line("verify").state == "good"
    triggers.drop(connection)
    with pytest.raises(CommandError):
        call_command("verify")
    triggers.install(connection)
    assert line("verify").state == "wrong" and "trigger" in line("verify").said


def test_a_disk_that_fills_up(monkeypatch):
    def left(free):
        monkeypatch.setattr(queries.shutil, "disk_usage", lambda _: SimpleNamespace(free=free, total=10**11))
        return line("disk").state

    assert [left(10**10), left(4 * 10**9), left(4 * 10**8)] == ["good", "look", "wrong"]


def test_what_a_killed_backup_left_is_named(data_dir):
    (data_dir / "copying-abc").mkdir()
    assert line("leftovers").state == "good"
    os.utime(data_dir / "copying-abc", (1, 1))
    assert line("leftovers").state == "look" and "copying-abc" in line("leftovers").said


def test_lost_triggers_and_a_clock_set_back_are_wrong():
    voucher()
    assert (line("guards").state, line("clock").state) == ("good", "good")
    triggers.drop(connection)
    assert line("guards").state == "wrong"
    triggers.install(connection)
    ChainHead.objects.update(recorded_at="2199-01-01T00:00:00.000000Z")
    assert line("clock").state == "wrong"


def test_the_command_ends_with_1_where_something_is_wrong(capsys):
    aged("backup", 0)
    call_command("health")
    assert "Last backup: Made today" in capsys.readouterr().out
    aged("backup", 5)
    Upkeep.objects.filter(kind="backup", at__gte=timezone.now() - dt.timedelta(days=1)).delete()
    with pytest.raises(CommandError, match="Not well: Last backup") as refused:
        call_command("health", "--as-json")
    assert refused.value.returncode == 1
    said = json.loads(capsys.readouterr().out)
    assert not said["well"]
    assert {"backup", "verify", "disk", "database"} <= {check["name"] for check in said["checks"]}
    assert set(said["versions"]) == {"program", "python", "django", "database", "system"}


def test_a_database_that_is_gone_is_said(monkeypatch, capsys):
    def gone(*_args, **_more):
        raise OperationalError("the server closed the connection")

    monkeypatch.setattr(queries.ChainHead.objects, "filter", gone)
    with pytest.raises(CommandError, match="Database"):
        call_command("health")
    assert "cannot be read" in capsys.readouterr().out
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.content) == (503, b"not ok\n")


def test_a_monitor_needs_no_sign_in_no_host_and_no_tls(settings):
    settings.SECURE_SSL_REDIRECT = True
    with_nothing = Client(headers={"host": "203.0.113.9"}).get("/healthz")
    assert (with_nothing.status_code, with_nothing.content) == (200, b"ok\n")
    assert "no-store" in with_nothing["Cache-Control"] and not with_nothing.cookies


def test_the_page_is_the_owners(shop, owner_client, office_client, settings):
    settings.AXES_ENABLED = True
    aged("backup", 0)
    Client().post("/sign-in/", {"username": "olive", "password": "wrong"})
    Client().post("/sign-in/", {"username": "hunter2-my-password", "password": "wrong"})
    page = owner_client.get("/health/").content.decode()
    assert "Made today" in page and "olive" in page and "a name nobody here has" in page
    assert "hunter2" not in page
    assert {(row["username"], row["count"]) for row in queries.failed_sign_ins()} == {("olive", 1), ("", 1)}
    assert office_client.get("/health/").status_code == 403
    assert owner_client.post("/health/verify/").status_code == 302
    assert Upkeep.objects.filter(kind="verify").count() == 1
    assert "Last proof of the ledger" in owner_client.get("/health/").content.decode()


def test_many_failed_sign_ins_are_pointed_at(owner, settings, monkeypatch):
    settings.AXES_ENABLED = True
    monkeypatch.setattr(queries, "MANY_FAILED", 3)
    for _ in range(3):
        assert line("sign_ins").state == "good"
        Client().post("/sign-in/", {"username": "olive", "password": "wrong"})
    assert line("sign_ins").state == "look"


def test_slow_pages_are_kept_by_name_and_not_for_ever(shop, owner_client, monkeypatch):
    monkeypatch.setattr(middleware, "KEPT", 3)
    owner_client.get("/stock/?text=secret")
    assert not SlowPage.objects.exists(), "a quick page is nobody's matter"
    monkeypatch.setattr(middleware, "SLOW_MS", 0)
    for _ in range(5):
        owner_client.get("/stock/?text=secret")
    assert [(one.page, one.method) for one in SlowPage.objects.all()] == [("stock", "GET")] * 3
    page = owner_client.get("/health/").content.decode()
    assert "stock" in page and "secret" not in page
    SlowPage.objects.all().delete()
    middleware.keep("a", "GET", 2000)
    middleware.keep("b", "GET", 3000)
    assert [row["page"] for row in queries.slow_pages()] == ["b", "a"]


@pytest.mark.skipif("postgres" in os.environ.get("DATABASE_URL", ""), reason="SQLite has one writer at a time")
@pytest.mark.django_db(transaction=True)
def test_a_slow_page_waits_for_no_writer(tmp_path, settings):
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 30000")
        with database.in_no_queue():
            assert cursor.execute("PRAGMA busy_timeout").fetchone() == (20,)
        assert cursor.execute("PRAGMA busy_timeout").fetchone() == (30000,)


def test_the_log_names_voucher_and_user_and_no_password(shop, office_client, tmp_path, monkeypatch):
    handler = logs.RotatingFile(tmp_path / "logs" / "x.log", maxBytes=10**6, backupCount=1, delay=True)
    handler.setFormatter(logs.OneLine("{levelname} [{user}] {message}", style="{"))
    handler.addFilter(logs.WithUser())
    logging.getLogger().addHandler(handler)
    try:
        monkeypatch.setattr("django.db.transaction.on_commit", lambda act, **_more: act())
        voucher()

        def breaks(*_args, **_more):
            raise ZeroDivisionError

        office_client.raise_request_exception = False
        monkeypatch.setattr("inventory.containers.views.render", breaks)
        assert office_client.get("/stock/?note=typed-text").status_code == 500
        monkeypatch.setattr("django.contrib.auth.forms.authenticate", breaks)
        visitor = Client(raise_request_exception=False)
        assert visitor.post("/sign-in/", {"username": "olive", "password": "unusual-secret"}).status_code == 500
        logging.getLogger("shopledger").error("The database failed at %s", "/a\nERROR [oscar] forged")
    finally:
        logging.getLogger().removeHandler(handler)
        handler.close()
    text = (tmp_path / "logs" / "x.log").read_text()
    assert f"INFO [-] voucher {Voucher.objects.last().number} posted by tess\n" in text
    assert text.count("\nZeroDivisionError") == 2
    assert "unusual-secret" not in text and "typed-text" not in text
    assert "\nERROR [oscar] forged" not in text and "\\nERROR [oscar] forged" in text


def test_a_log_that_cannot_be_written_breaks_nothing(tmp_path):
    (tmp_path / "logs").write_text("a file where the folder would be")
    handler = logs.RotatingFile(tmp_path / "logs" / "x.log", maxBytes=10, backupCount=1, delay=True)
    handler.handle(logging.makeLogRecord({"msg": "x"}))


MADE, APART, TRIED = "Last backup", "Backup on another disk", "Backup restored on trial"


@pytest.mark.parametrize(
    ("made", "tried", "told"),
    [
        (None, None, {MADE: "wrong", APART: "look", TRIED: "look"}),
        ((3, True), (1, True), {MADE: "wrong", APART: "look"}),
        ((0, False), (1, False), {MADE: "wrong", APART: "look", TRIED: "wrong"}),
        ((0, True), (31, True), {APART: "look", TRIED: "look"}),
    ],
)
def test_home_and_health_say_one_thing_of_the_backups(owner_client, shop, made, tried, told):
    voucher()
    for kind, said in (("backup", made), ("trial", tried)):
        if said:
            aged(kind, *said, f"{kind} of 400 vouchers.")
    lines = {one.label: one for one in queries.health().lines if one.label in {MADE, APART, TRIED}}
    assert {label: one.state for label, one in lines.items() if one.state != "good"} == told
    home = owner_client.get("/").context["panels"]
    rows = next(panel["rows"] for panel in home if panel["title"] == "How the records are kept")
    assert {row["text"]: row["badge"] for row in rows} == {
        f"{label}: {lines[label].said} {lines[label].advice}": state for label, state in told.items()
    }
    assert len({one.said for one in lines.values()}) == len(lines), "each says something of its own"
