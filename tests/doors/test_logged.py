"""What the log says of who came, who was refused and who tried, and what it never says."""

import datetime as dt
import logging
import re

import pytest
from django.core.management import get_commands
from django.test import Client
from django.urls import get_resolver

from inventory.ledger.models import Voucher
from shopledger.health import logs
from tests.conftest import PASSWORD
from tests.inventory.test_office_pages import CANS, delivery, ready  # noqa: F401 (a fixture)
from tests.shopledger.test_every_page import ALL, OPEN
from tests.shopledger.test_signin import code_of, device, sign_in  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
LINE = re.compile(r"(\S+Z) (\w+) (\S+) \[(\S+) (\S+)\] (.*)")


@pytest.fixture
def log(tmp_path, settings):
    """The log as it is set up, in a folder of its own: log() is its lines."""
    form = settings.LOGGING["formatters"]["line"]
    handler = logs.RotatingFile(tmp_path / "logs" / "x.log", maxBytes=10**6, backupCount=1, delay=True)
    handler.setFormatter(logs.OneLine(form["format"], style=form["style"]))
    handler.addFilter(logs.WithUser())
    logging.getLogger().addHandler(handler)
    yield lambda: (tmp_path / "logs" / "x.log").read_text(encoding="utf-8").splitlines()
    logging.getLogger().removeHandler(handler)
    handler.close()


def test_each_line_says_when_how_grave_who_from_where_and_what(log, shop, technician):
    client = Client()
    before = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=2)
    client.force_login(technician)
    client.get("/people/", REMOTE_ADDR="192.0.2.7")
    (line,) = [line for line in log() if "/people/" in line]
    when, level, part, who, where, what = LINE.fullmatch(line).groups()
    assert before < dt.datetime.fromisoformat(when) < dt.datetime.now(dt.UTC) + dt.timedelta(seconds=2)
    assert (level, part, who, where) == ("WARNING", "django.request", "tess", "192.0.2.7") and "/people/" in what


def test_the_time_is_utc_whatever_the_machine_s_zone(monkeypatch):
    made = logs.OneLine("{asctime}", style="{").format(logging.makeLogRecord({"created": 0.0, "msecs": 0}))
    assert made == "1970-01-01T00:00:00.000Z"


def test_every_way_of_signing_in_is_told_and_each_failure(log, shop, technician, device, settings):  # noqa: F811
    settings.AXES_ENABLED = True
    client = Client()
    assert sign_in(client, code=code_of(device)).status_code == 302
    client.post("/sign-out/")
    for _ in range(6):
        sign_in(Client(), password="wrong", address="10.0.0.7")
    sign_in(Client(), username="my-own-password", password="tess")
    text = "\n".join(log())
    assert re.search(
        r"INFO shopledger.signin.told \[\S+ \S+\] signed in: tess, by password and \w+, from 10.0.0.1", text
    )
    assert "signed out: tess" in text
    assert len(re.findall(r"WARNING .* sign-in refused: tess, from 10.0.0.7", text)) >= 5
    assert "shut out after too many wrong passwords: tess, from 10.0.0.7" in text
    assert "sign-in refused: a name nobody here has, from 10.0.0.1" in text and "my-own-password" not in text
    assert PASSWORD not in text and code_of(device) not in text


def test_what_is_refused_is_told(log, shop, office_client, technician, owner):
    """Pages of another role, forms that cannot be, forged forms, unknown hosts, methods that are not there."""
    office_client.get("/people/")
    office_client.post("/receiving/new/", {"document": "typed-secretly"})
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner)
    strict.post("/settings/", {"name": "x"})
    office_client.get("/", headers={"host": "evil.example"})
    office_client.generic("TRACE", "/")
    office_client.get("/files/99999/?note=typed-secretly")
    text = "\n".join(log())
    for said in (
        r"\[oscar \S+\] Forbidden \(Permission denied\): /people/",
        r"\[oscar \S+\] Unprocessable Entity: /receiving/new/",
        r"django.security.csrf \[olive \S+\] Forbidden \(.*\): /settings/",
        r"django.security.DisallowedHost .*evil.example",
        r"No such method at /",
        r"\[oscar \S+\] Not Found: /files/99999/",
    ):
        assert re.search(said, text), said
    assert "typed-secretly" not in text


def test_what_breaks_is_told_with_where_and_not_with_what_was_typed(log, shop, office_client, monkeypatch):
    def breaks(*_args, **_more):
        raise ZeroDivisionError

    office_client.raise_request_exception = False
    monkeypatch.setattr("inventory.containers.views.render", breaks)
    answer = office_client.get("/stock/?note=typed-text")
    assert answer.status_code == 500
    page = answer.content.decode()
    assert "Traceback" not in page and "ZeroDivision" not in page and "views.py" not in page
    text = "\n".join(log())
    assert "ERROR django.request [oscar" in text and "ZeroDivisionError" in text and "typed-text" not in text


@pytest.mark.parametrize("said", ["a\nERROR [oscar] forged", "a\r\nb", "\x1b[2J", "\u2028x", "\x00"])
def test_nobody_writes_a_line_of_their_own(log, said):
    logging.getLogger("shopledger").warning("At %s", said)
    assert len(log()) == 1 and LINE.fullmatch(log()[0]), log()
    assert all(character.isprintable() for character in log()[0])


def test_it_stands_where_its_reader_alone_looks(log, tmp_path, settings):
    logging.getLogger("shopledger").warning("x")
    assert (tmp_path / "logs").stat().st_mode & 0o077 == 0
    handlers = settings.LOGGING["handlers"]
    assert set(handlers) == {"console", "file"} and settings.LOGGING["root"]["handlers"] == ["console", "file"]
    assert set(settings.LOGGING["loggers"]) == {"shopledger", "jobs", "inventory"}
    assert handlers["file"]["filename"] == settings.DATA_DIR / "logs" / "shopledger.log"


def test_a_refused_check_records_nothing(ready, log, monkeypatch):  # noqa: F811
    """Where looking at what was entered breaks, nothing is posted: no check is passed by failing."""

    def breaks(*_args, **_more):
        raise RuntimeError("the check itself failed")

    before = Voucher.objects.count()
    monkeypatch.setattr("inventory.containers.holdings.Holdings.arrive", breaks, raising=True)
    ready.raise_request_exception = False
    assert ready.post("/receiving/new/", delivery(CANS)).status_code == 500
    assert Voucher.objects.count() == before


def test_no_page_opens_without_signing_in_but_those_that_are_named(client):
    """By the views themselves, not by their names alone."""
    resolver, open_ones = get_resolver(), set()
    from django.urls import URLPattern

    def walk(patterns):
        for one in patterns:
            if isinstance(one, URLPattern):
                if not getattr(one.callback, "login_required", True):
                    open_ones.add(one.name)
            else:
                walk(one.url_patterns)

    walk(resolver.url_patterns)
    assert open_ones - {"sign-out"} <= OPEN and len(ALL) > 120
    assert not {"admin", "schema", "docs", "swagger", "metrics", "debug"} & {name for name, _ in ALL}
    assert "runserver" in get_commands(), "which a shop does not use"
