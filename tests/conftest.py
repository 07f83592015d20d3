"""The people, the shop and the database of every test."""

import fcntl
import os
from pathlib import Path

import hypothesis
import pytest
from django.conf import settings
from django.db import connections
from django.test import Client, TransactionTestCase

from inventory.ledger.actions import writing
from inventory.shop.models import Shop
from jobs.people.models import Person, Role
from tests import forked
from tests.shopledger.site import Site

PASSWORD = "a long one for tests"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--second-database",
        action="store_true",
        help="on another database, after a whole run: leaves out what asks no database, or one of its own",
    )


def pytest_configure() -> None:
    # One round of MD5: signing in is not what most tests are about.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # Looked up when asked for: listing all static files for each test client takes longer than a test.
    settings.WHITENOISE_AUTOREFRESH = True
    settings.BACKGROUND = "here"
    settings.AXES_ENABLED = False  # on where it is tested
    # How long an example takes says how busy the machine is.
    hypothesis.settings.register_profile(
        "unhurried", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
    )
    hypothesis.settings.load_profile("unhurried")


def pytest_sessionfinish() -> None:
    forked.end()


def _asks_the_database(item: pytest.Item) -> bool:
    """Whether a test may say something else on another database. One that does not is kept from it: pytest-django
    refuses its own statements, and the programs that it starts are not told of DATABASE_URL (`only_its_own`)."""
    marked = item.get_closest_marker("django_db") or item.get_closest_marker("both")
    return bool(marked) or not {"db", "transactional_db", "live_server"}.isdisjoint(item.fixturenames)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("second_database"):
        left_out = [item for item in items if not _asks_the_database(item)]
        items[:] = [item for item in items if _asks_the_database(item)]
        config.hook.pytest_deselected(items=left_out)


@pytest.fixture(autouse=True)
def only_its_own(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if not _asks_the_database(request.node):
        monkeypatch.delenv("DATABASE_URL", raising=False)


@pytest.fixture(scope="session")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the program's tables and nothing in them, to be copied. Making them takes five seconds: the
    first worker of a run does it for all."""
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent
    file = folder / "tables.sqlite3"
    with (folder / "tables.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not file.exists():
            made = Site(folder / "tables")
            made.folder.mkdir()
            made.do("migrate", "--verbosity", "0", "--skip-checks")
            made.file.rename(file)
    return file


@pytest.fixture(autouse=True)
def no_page_is_slow(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that is busy with something else keeps no slow pages beside what a test asks; tested where it is."""
    monkeypatch.setattr("shopledger.health.middleware.SLOW_MS", float("inf"))


_flush = TransactionTestCase._fixture_teardown


def _flush_written_once(self: TransactionTestCase) -> None:
    """Tests that commit empty every table afterwards, which the ledger's triggers refuse."""
    from inventory.ledger import triggers

    databases = [connections[name] for name in self._databases_names(include_mirrors=False)]
    for connection in databases:
        triggers.drop(connection)
    try:
        _flush(self)
    finally:
        for connection in databases:
            triggers.install(connection)


TransactionTestCase._fixture_teardown = _flush_written_once


@pytest.fixture
def shop(db: None) -> Shop:
    with writing():
        return Shop.objects.update_or_create(
            id=1, defaults={"name": "Test Shop", "address": "1 Test Street", "timezone": "America/Denver"}
        )[0]


def _person(username: str, role: str) -> Person:
    return Person.objects.create_user(username=username, password=PASSWORD, name=f"{username.title()} Test", role=role)


@pytest.fixture
def technician(db: None) -> Person:
    return _person("tess", Role.TECHNICIAN)


@pytest.fixture
def office(db: None) -> Person:
    return _person("oscar", Role.OFFICE)


@pytest.fixture
def owner(db: None) -> Person:
    return _person("olive", Role.OWNER)


def _signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def technician_client(technician: Person) -> Client:
    return _signed_in(technician)


@pytest.fixture
def office_client(office: Person) -> Client:
    return _signed_in(office)


@pytest.fixture
def owner_client(owner: Person) -> Client:
    return _signed_in(owner)
