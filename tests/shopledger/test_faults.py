"""What machines do to a shop: full and read-only disks, killed servers, a clock set back, a damaged file.

After each: the ledger holds, what was acknowledged is there once, and people read a sentence and not a trace.
"""

import datetime as dt
import http.client
import os
import re
import signal
import subprocess
import threading
import uuid

import pytest
from django.utils import timezone

from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from tests.forked import Forked, manage
from tests.forms import sent
from tests.inventory.test_attachments import picture
from tests.inventory.test_office_pages import CANS, delivery, ready  # noqa: F401 (a fixture)
from tests.shopledger.site import Site, sentence


@pytest.fixture(scope="module")
def empty_shop(tables, tmp_path_factory):
    return Site(tmp_path_factory.mktemp("shop")).set_up(tables)


@pytest.fixture
def site(empty_shop, tmp_path):
    found = empty_shop.copy(tmp_path / "data")
    yield found
    found.end()


@pytest.fixture
def small_disk(empty_shop, tmp_path):
    """The shop on a disk of its own of a few megabytes, in memory."""
    folder = tmp_path / "disk"
    folder.mkdir()
    size = empty_shop.file.stat().st_size + 3_000_000
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder], capture_output=True)
    if mounted.returncode:
        pytest.skip("this user may not mount a small disk")
    found = empty_shop.copy(folder)
    yield found
    found.end()
    subprocess.run(["umount", "-l", folder], check=True)


def holds(site):
    return "The ledger holds." in site.do("verify")


def fill(server, most=200):
    """Deliver until the disk takes no more. Returns what was acknowledged, the form that failed, what was said."""
    acknowledged = []
    for number in range(most):
        document, key = f"INV-{number}", str(uuid.uuid4())
        answer = server.deliver(document, key, count=40)
        if answer[0] != 302:
            return acknowledged, (document, key), answer
        acknowledged.append(document)
    raise AssertionError("the disk was never full")


@pytest.mark.processes
def test_a_full_disk_loses_nothing_and_takes_the_same_form_later(small_disk, tmp_path):
    server = small_disk.serve()
    filler = fill_up(small_disk, 400_000)
    acknowledged, (document, key), answer = fill(server)
    assert sentence(answer), answer
    assert server.get("/stock/")[0] == 200, "what is there can be read"
    assert server.get("/healthz")[0] == 200
    assert small_disk.documents() == acknowledged
    assert holds(small_disk)
    assert "wrong  Disk left" in small_disk.run("health").stdout
    small_disk.do("backup", tmp_path / "saved.zip")
    filler.unlink()
    form = sent(answer[1])
    assert (form["document"], form["key"]) == (document, key), "what was typed is on the page"
    assert server.ask("POST", "/receiving/new/", form)[0] == 302
    assert server.deliver(document, key, count=40)[0] == 302, "sent twice"
    assert small_disk.documents() == [*acknowledged, document]
    assert holds(small_disk)


def fill_up(site, left_over):
    """A file that leaves so many bytes on the disk."""
    left = os.statvfs(site.folder)
    filler = site.folder / "holiday.mov"
    filler.write_bytes(b"x" * (left.f_bavail * left.f_frsize - left_over))
    return filler


JOB = """
import datetime as dt, uuid, django
django.setup()
from inventory.shop.clock import today
from jobs.drafts.actions import enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.people.models import Person
from jobs.units.actions import add_unit
from tests.stock import came, delivery
olive, day = Person.objects.get(), today() - dt.timedelta(10)
delivery(came("CAN-1", "can", 340_000, tare_mg=100_000), day=day)
add_certificate(by=olive, person=olive, scheme="Section 609", number="1", issued=day)
unit = add_unit(by=olive, name="A unit", refrigerant="R-134a", charge_min_mg=200_000, charge_max_mg=400_000)
job = start_job(unit=unit, technician=olive, by=olive, key=uuid.uuid4())
enter_line(job.pk, by=olive, key=uuid.uuid4(), action="charge", container="CAN-1", before=440_000, after=140_000)
print(job.pk)
"""
STATE = "import django; django.setup()\nfrom jobs.drafts.models import Job; print(Job.objects.get().state)"


@pytest.mark.processes
def test_a_full_disk_while_signing_uploading_and_backing_up(small_disk):
    """Each is said, leaves nothing half done, and goes through once there is room."""
    job = small_disk.python(JOB)
    server = small_disk.serve()
    assert server.deliver("INV-1")[0] == 302
    voucher = f"voucher/{small_disk.python(RECEIPT)}"
    filler = fill_up(small_disk, 0)
    answer = server.ask("POST", f"/jobs/{job}/sign/", {"reason-unit": "a long reason"})
    assert sentence(answer), answer
    form = sent(answer[1])
    assert form == {"reason-unit": "a long reason"} and small_disk.python(STATE) == "draft"
    before = sorted(small_disk.folder.rglob("*"))
    photo = picture("JPEG", (900, 900))
    status, text = server.attach("label.jpg", photo, to=voucher)
    assert status == 422 and "could not be kept: No space left on device. Free some room" in text, text
    assert 'value="label.jpg"' in text, "what was typed stands in its field"
    done = small_disk.run("backup", small_disk.folder / "saved.zip")
    assert done.returncode == 1 and "No space left" in done.stderr and "Traceback" not in done.stderr, done.stderr
    kept = [one for one in sorted(small_disk.folder.rglob("*")) if one not in before and one.is_file()]
    assert [one.name for one in kept if one.parent.name != "logs" and one.name != "pictures.lock"] == []
    assert holds(small_disk)
    filler.unlink()
    assert server.ask("POST", f"/jobs/{job}/sign/", form)[0] == 302
    assert small_disk.python(STATE) == "signed"
    assert server.attach("label.jpg", photo, to=voucher)[0] == 302
    small_disk.do("backup", small_disk.folder / "saved.zip")
    assert holds(small_disk)


RECEIPT = """
import django; django.setup()
from inventory.ledger.models import Voucher
print(Voucher.objects.filter(kind="receipt", document="INV-1").get().pk)
"""
# As long as a writer waits for its turn: here not at all, so that nothing waits by time.
NO_PATIENCE = "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'tests.shopledger.impatient'"


@pytest.mark.processes
def test_a_lock_that_another_process_holds_for_too_long(site):
    """Another program writes and does not end: pages can be read, an entry is told so and carried, and posted after."""
    server = site.serve(NO_PATIENCE)
    assert server.deliver("INV-1")[0] == 302
    holder = Forked(HOLDS_THE_LOCK.format(file=site.file), site.environment)
    assert holder.stdout.readline() == "held\n"
    try:
        answer = server.deliver("INV-2")
        assert sentence(answer), answer
        assert server.get("/stock/")[0] == 200
        assert sent(answer[1])["document"] == "INV-2"
    finally:
        holder.kill()
    for _ in range(2):
        assert server.ask("POST", "/receiving/new/", sent(answer[1]))[0] == 302
    assert site.documents() == ["INV-1", "INV-2"] and holds(site)


HOLDS_THE_LOCK = """
import sqlite3, threading
database = sqlite3.connect("{file}", isolation_level=None)
database.execute("BEGIN IMMEDIATE")
print("held", flush=True)
threading.Event().wait()
"""


@pytest.mark.processes
def test_a_file_that_may_not_grow_is_a_full_disk_too(site):
    most = site.file.stat().st_size + 200_000
    server = site.serve(f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, ({most}, {most}))")
    acknowledged, (document, key), answer = fill(server)
    assert sentence(answer), answer
    server.kill()
    assert site.documents() == acknowledged and holds(site)
    assert site.serve().deliver(document, key)[0] == 302
    assert site.documents() == [*acknowledged, document] and holds(site)


@pytest.mark.processes
def test_a_disk_that_can_only_be_read(small_disk, tmp_path):
    """As a kernel leaves a disk that fails: it is read, proved and backed up, and takes nothing."""
    server = small_disk.serve()
    assert server.deliver("INV-1")[0] == 302
    server.kill()
    subprocess.run(["mount", "-o", "remount,ro", small_disk.folder], check=True)
    server = small_disk.serve()
    assert server.get("/stock/")[0] == 200
    assert sentence(server.deliver("INV-2"))
    server.session = ""
    answer = server.ask("POST", "/sign-in/", {"username": "olive", "password": "a long one"})
    assert sentence(answer), answer
    assert holds(small_disk)
    small_disk.do("backup", tmp_path / "saved.zip")
    other = Site(tmp_path / "other")
    other.folder.mkdir()
    other.do("restore", tmp_path / "saved.zip")
    assert other.documents() == ["INV-1"]
    subprocess.run(["mount", "-o", "remount,rw", small_disk.folder], check=True)
    assert small_disk.serve().deliver("INV-2")[0] == 302


@pytest.mark.processes
def test_a_damaged_file_is_said_and_never_mended_in_silence(site):
    server = site.serve()
    assert server.deliver("INV-1")[0] == 302
    server.kill()
    with site.file.open("r+b") as file:
        file.seek(4096)
        file.write(os.urandom(site.file.stat().st_size - 4096))
    server = site.serve()
    assert server.get("/healthz") == (503, "not ok\n")
    for answer in (server.get("/stock/"), server.deliver("INV-2")):
        assert sentence(answer), answer
    for command in ("verify", "health", "backup"):
        done = site.run(command, *(["x.zip"] if command == "backup" else []))
        assert done.returncode == 1 and "Traceback" not in done.stderr, done.stderr


@pytest.mark.processes
def test_two_servers_on_one_file_and_one_is_killed(site):
    """Four people post at both; one server is killed in the middle. What was acknowledged is there, once."""
    servers = [site.serve(), site.serve()]
    acknowledged, odd = [], []

    def person(name):
        for number in range(12):
            document = f"{name}-{number}"
            try:
                answer = servers[name % 2].deliver(document)
            except (OSError, http.client.HTTPException):  # the server that was killed
                continue
            if answer[0] == 302:
                acknowledged.append(document)
            elif not sentence(answer):
                odd.append(answer)
            if name == 1 and number == 5:
                servers[1].process.kill()

    people = [threading.Thread(target=person, args=(name,)) for name in range(4)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert not odd
    kept = site.documents()
    assert len(set(kept)) == len(kept) and set(acknowledged) <= set(kept)
    assert {f"{name}-{number}" for name in (0, 2) for number in range(12)} <= set(acknowledged)
    assert len(acknowledged) >= 30
    assert len(set(kept) - set(acknowledged)) <= 2, "posted, and the server was killed before it could say so"
    assert holds(site)


def killed(site, before, *words, at=1):
    """A command, killed with what it started before it does what is named, for the first time or a later one."""
    dying = {"DJANGO_SETTINGS_MODULE": "tests.shopledger.dying", "DIES_BEFORE": before, "DIES_AT": str(at)}
    done = manage(*words, environment={**site.environment, **dying}, before="import os; os.setsid()")
    assert done.returncode == -signal.SIGKILL, done.stderr


@pytest.mark.processes
def test_a_backup_or_a_restoring_that_is_killed_spoils_nothing(site, tmp_path):
    server = site.serve()
    assert server.deliver("INV-1")[0] == 302
    folder = tmp_path / "backups"
    folder.mkdir()
    for before in ('SELECT .* FROM "inventory_movement"', r"open .*/\.unfinished-[^/]*$"):
        killed(site, before, "backup", folder)
    left = [*folder.glob(".unfinished-*"), *site.folder.glob("copying-*")]
    assert left
    site.do("backup", tmp_path / "whole.zip")
    for path in left:
        os.utime(path, (1, 1))
    first = int(re.search(r"The last voucher is (\d+)", site.do("verify"))[1]) + 1
    assert server.deliver("INV-2")[0] == 302
    site.do("backup", folder)
    assert not [*folder.glob(".unfinished-*"), *site.folder.glob("copying-*")], "swept away after a day"
    server.kill()
    stood = re.match(r"Checked \d+ vouchers", site.do("verify"))[0]
    loading, entering, there = (
        'INSERT INTO "jobs_person"',
        "INSERT INTO inventory_voucher",
        f"sqlite3.connect {site.file}$",
    )
    restoring = ["restore", tmp_path / "whole.zip", "--lose-from", first]
    for before, at in ((loading, 1), (there, 2), (r"open .*/replaced/\.unfinished", 1), (entering, 1)):
        killed(site, before, *restoring, at=at)
        said = site.do("verify")
        assert "The ledger holds." in said and said.startswith(stood), before
    killed(site, there, *restoring, at=4)  # the backup stands there, and nothing was said yet
    assert site.documents() == ["INV-1"] and holds(site)


@pytest.mark.processes
def test_a_cut_tail_is_seen_by_a_digest_on_paper(site):
    """Voucher 2 taken out with all that came of it, so that the rest adds up: only a digest kept elsewhere tells."""
    server = site.serve()
    assert server.deliver("INV-1")[0] == 302
    before = (site.folder / "shopledger.sqlite3").read_bytes()
    assert server.deliver("INV-2")[0] == 302
    server.kill()
    paper = re.search(r"its digest is (\w{64})", site.do("verify"))[1]
    assert "The ledger holds." in site.do("verify", "--head", paper)
    site.file.write_bytes(before)
    assert holds(site), "by itself it holds"
    done = site.run("verify", "--head", paper)
    assert done.returncode == 1 and "cut off its end" in done.stderr


@pytest.mark.django_db
def test_a_clock_set_back_takes_entries_in_their_order(ready, monkeypatch):  # noqa: F811
    assert ready.post("/receiving/new/", delivery(CANS)).status_code == 302
    real = timezone.now
    monkeypatch.setattr(timezone, "now", lambda: real() - dt.timedelta(days=400))
    assert ready.post("/receiving/new/", delivery(CANS, document="INV-2", day="2025-03-02")).status_code == 302
    moments = list(Voucher.objects.order_by("number").values_list("recorded_at", flat=True))
    assert moments == sorted(moments) and Voucher.objects.filter(kind="receipt").count() == 2
    assert verify().faults == []
