"""The people, the shop and the database of every test."""

import pytest
from django.conf import settings
from django.db import connections
from django.test import Client, TransactionTestCase

from inventory.shop.models import Shop
from jobs.people.models import Person, Role

PASSWORD = "a long one for tests"


def pytest_configure() -> None:
    # One round of MD5: signing in is not what most tests are about.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # Looked up when asked for: listing all static files for each test client takes longer than a test.
    settings.WHITENOISE_AUTOREFRESH = True
    settings.BACKGROUND = "here"
    settings.AXES_ENABLED = False  # on where it is tested


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
