"""What a restoring may write, whom it stops meanwhile, what it says is given up, and how it is taken back."""

import http.client
import json
import os
import re
import threading
import uuid
from contextlib import closing, contextmanager
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest

from tests.forked import MANAGE, Forked
from tests.shopledger.site import Site

pytestmark = [pytest.mark.processes, pytest.mark.both]
SERVER = os.environ.get("DATABASE_URL", "")
STAGING = 'CREATE TABLE "jobs_job" '  # the backup is on its way into a database of its own
ENTERING = r"INSERT INTO inventory_voucher\b"  # it is proved; that it was restored is being entered


def on_server(statement):
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(statement)


def database(template=""):
    """The address of a database of its own; nothing where it is a file."""
    if not SERVER.startswith("postgres"):
        return ""
    name = f"restoring_{uuid.uuid4().hex[:12]}"
    on_server(f"CREATE DATABASE {name}" + (f" TEMPLATE {template}" if template else ""))
    return urlunsplit(urlsplit(SERVER)._replace(path=f"/{name}"))


def drop(url):
    if url:
        on_server(f"DROP DATABASE {urlsplit(url).path[1:]} WITH (FORCE)")


@pytest.fixture(scope="module")
def empty_shop(tables, tmp_path_factory):
    url = database()
    yield Site(tmp_path_factory.mktemp("shop"), url).set_up(None if url else tables)
    drop(url)


@pytest.fixture
def site(empty_shop, tmp_path):
    """A shop with one delivery, and a backup of it."""
    found = empty_shop.copy(tmp_path / "data")
    found.url = database(urlsplit(empty_shop.url).path[1:]) if SERVER else ""
    server = found.serve()
    assert server.deliver("INV-0")[0] == 302
    found.do("backup", tmp_path / "copy.zip")
    yield found
    found.end()
    drop(found.url)


@pytest.fixture
def copy(site, tmp_path):
    return tmp_path / "copy.zip"


def entered(answer):
    """Whether a delivery was acknowledged: the page of what it became, not that of signing in."""
    return answer[0] == 302 and "sign-in" not in answer[1]


def last_restore(site):
    """Its number and what it says."""
    asked = "SELECT number, detail FROM inventory_voucher WHERE kind = 'restore' ORDER BY number DESC LIMIT 1"
    with closing(site.connect()) as found:
        number, detail = found.execute(asked).fetchone()
    return number, json.loads(detail)


def head(site):
    with closing(site.connect()) as found:
        return found.execute("SELECT number FROM inventory_chainhead").fetchone()[0]


class Restoring:
    """A restoring that pauses where the test is to do something. moments: regular expressions for statements."""

    def __init__(self, site, folder, *words, moments):
        self.fifos = [folder / f"moment-{number}" for number in range(len(moments))]
        for fifo in self.fifos:
            os.mkfifo(fifo)
        paused = {
            "DJANGO_SETTINGS_MODULE": "tests.shopledger.pausing",
            "PAUSES": json.dumps([(before, str(fifo)) for before, fifo in zip(moments, self.fifos, strict=True)]),
        }
        started = Forked(MANAGE.format(["manage.py", "restore", *map(str, words)]), {**site.environment, **paused})
        self.ended = threading.Event()
        self._thread = threading.Thread(target=self._wait, args=(started,))
        self._thread.start()

    @contextmanager
    def at(self, number):
        """It has come there, and stays until this ends."""
        with self.fifos[number].open("w"):
            assert not self.ended.is_set(), self.done
            yield

    def end(self):
        self._thread.join()
        for reader in self._readers:
            os.close(reader)
        return self.done

    def _wait(self, started):
        self.done = started.ended()
        self.ended.set()
        # Where it never came, nobody is to wait for it: what opens a fifo for writing finds a reader.
        self._readers = [os.open(fifo, os.O_RDONLY | os.O_NONBLOCK) for fifo in self.fifos if fifo.exists()]


def test_what_was_posted_since_a_backup_is_given_up_only_when_that_is_said_and_comes_back(site, copy):
    server = site.servers[0]
    nothing = site.run("restore", "--undo")
    assert nothing.returncode == 1 and "Nothing was restored here" in nothing.stderr
    first = head(site) + 1
    assert server.deliver("INV-1")[0] == server.deliver("INV-2")[0] == 302
    refused = site.run("restore", copy)
    assert refused.returncode == 1 and "Nothing was changed" in refused.stderr and "Traceback" not in refused.stderr
    for number, document in ((first, "INV-1"), (first + 1, "INV-2")):
        assert re.search(rf"\b{number} .*receipt.*olive.*{document}", refused.stderr), refused.stderr
    assert f"--lose-from {first}" in refused.stderr
    assert site.run("restore", copy, "--lose-from", first + 1).returncode == 1
    assert site.documents() == ["INV-0", "INV-1", "INV-2"]
    said = site.do("restore", copy, "--lose-from", first)
    assert f"Given up: 2 entries, {first} and {first + 1}" in said
    assert site.documents() == ["INV-0"]
    number, detail = last_restore(site)
    assert (number, detail["common"], len(detail["gives_up"])) == (first, first - 1, 2)

    (site.folder / "session").write_text(site.python(SIGN_IN), encoding="ascii")
    assert entered(site.serve().deliver("SINCE"))
    refused = site.run("restore", "--undo")
    assert refused.returncode == 1 and "SINCE" in refused.stderr and f"--lose-from {first + 1}" in refused.stderr
    assert site.documents() == ["INV-0", "SINCE"]
    assert f"Given up: one entry, {first + 1}" in site.do("restore", "--undo", "--lose-from", first + 1)
    assert site.documents() == ["INV-0", "INV-1", "INV-2"] and "The ledger holds." in site.do("verify")
    number, detail = last_restore(site)
    assert number == first + 2 and detail["undoes"] == first
    for path in (site.folder / "replaced").glob("*.zip"):
        path.unlink()
    lost = site.run("restore", "--undo")
    assert lost.returncode == 1 and "is no longer in" in lost.stderr and "Traceback" not in lost.stderr


def test_nothing_acknowledged_while_a_backup_is_restored_goes_unnamed(site, copy, tmp_path):
    """75 deliveries while the backup is proved, and as many as come until it stands in the ledger's place. When the
    entry of the restoring is written all that goes has been listed: nothing more is acknowledged before the swap, and
    what waited is in the new ledger, or was told that it was not taken."""
    server = site.servers[0]
    first = head(site) + 1
    assert server.deliver("BEFORE")[0] == 302
    acknowledged, odd, last = ["BEFORE"], [], threading.Event()

    def deliver(document):
        try:
            answer = server.deliver(document)
        except (OSError, http.client.HTTPException) as error:
            answer = (0, repr(error))
        if entered(answer):
            acknowledged.append(document)
        elif answer[0] not in {302, 503}:
            odd.append(answer)

    def go_on(name):
        number = 0
        while not last.is_set():
            number += 1
            deliver(f"AFTER-{name}-{number}")

    run = Restoring(site, tmp_path, copy, "--lose-from", first, moments=[STAGING, ENTERING])
    people = [threading.Thread(target=go_on, args=(name,)) for name in range(2)]
    with run.at(0):
        for number in range(75):
            deliver(f"MEANWHILE-{number}")
        assert len(acknowledged) == 76
        for one in people:
            one.start()
    with run.at(1):
        before = list(acknowledged)
    done = run.end()
    last.set()
    for one in people:
        one.join()
    assert not odd, odd[:3]
    assert done.returncode == 0, done.stderr
    number, detail = last_restore(site)
    assert number == first
    given_up = len(detail["gives_up"])
    assert given_up >= len(before) and f"Given up: {given_up} entries, {first} to {first + given_up - 1}" in done.stdout
    (listed,) = (site.folder / "replaced").glob("*.given-up.csv")
    gone, stand = listed.read_text(), site.documents()
    assert [one for one in acknowledged if one not in stand and f",{one}\n" not in gone] == []
    assert len(gone.splitlines()) == given_up + 1
    assert "The ledger holds." in site.do("verify")


@pytest.mark.long
def test_what_comes_while_a_backup_is_proved_is_not_given_up_by_who_said_nothing(site, copy, tmp_path):
    server = site.servers[0]
    run = Restoring(site, tmp_path, copy, moments=[STAGING])
    with run.at(0):
        for number in range(3):
            assert entered(server.deliver(f"MEANWHILE-{number}"))
    done = run.end()
    assert done.returncode == 1 and "MEANWHILE-2" in done.stderr and "--lose-from" in done.stderr
    assert site.documents() == ["INV-0", *(f"MEANWHILE-{number}" for number in range(3))]
    assert "The ledger holds." in site.do("verify")


@pytest.mark.long
def test_an_undoing_can_be_undone(site, copy):
    assert site.servers[0].deliver("INV-1")[0] == 302
    first = head(site)
    site.do("restore", copy, "--lose-from", first)
    assert site.run("restore", copy, "--lose-from", first).returncode == 1, "nothing would go"
    assert "Given up" not in site.do("restore", copy), "what a restoring itself entered is nobody's"
    for stand in (["INV-0"], ["INV-0", "INV-1"], ["INV-0"]):
        assert site.documents() == stand
        assert "Given up" not in site.do("restore", "--undo")


SIGN_IN = """
import django
django.setup()
from django.test import Client
from jobs.people.models import Person
client = Client()
client.force_login(Person.objects.get(username="olive"))
print(client.cookies["sessionid"].value)
"""


@pytest.mark.long
def test_another_ledger_is_given_up_as_a_whole_or_not_at_all(site, copy, empty_shop, tmp_path):
    other = empty_shop.copy(tmp_path / "other")
    other.url = database()
    try:
        other.do("migrate", "--verbosity", "0", "--skip-checks") if other.url else other.file.unlink()
        other.set_up()
        assert entered(other.serve().deliver("THEIRS"))
        refused = other.run("restore", copy)
        assert refused.returncode == 1 and "--lose-from 1" in refused.stderr and "another ledger" in refused.stderr
        said = other.do("restore", copy, "--lose-from", 1)
        assert "Given up" in said and other.documents() == ["INV-0"]
        assert "Given up" not in other.do("restore", "--undo"), "all of it is in the backup that was restored"
        assert other.documents() == ["THEIRS"] and "The ledger holds." in other.do("verify")
    finally:
        other.end()
        drop(other.url)
