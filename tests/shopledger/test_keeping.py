"""Backups, restoring, moving to another database, and databases of earlier versions: the digests stay."""

import datetime as dt
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from urllib.parse import urlsplit, urlunsplit

import pytest

from inventory.text.refusal import Refused
from shopledger.backup import backup, restore
from tests.forked import ROOT, Forked, manage
from tests.shopledger.test_reports import LOG

SERVER = os.environ.get("DATABASE_URL", "")
INVOICE = b"%PDF-1.4\n" + b"% an invoice\n" * 1000 + b"%%EOF\n"
DIGEST = hashlib.sha256(INVOICE).hexdigest()
PAPER = f"uploads/{DIGEST[:2]}/{DIGEST}"


class Shop:
    """A shop in a folder and a database of its own, worked by the commands as its owner would."""

    def __init__(self, folder, url=""):
        self.folder, self.url = folder, url
        folder.mkdir(parents=True, exist_ok=True)

    @property
    def file(self):
        return self.folder / "shopledger.sqlite3"

    @property
    def environment(self):
        own = {"DATA_DIR": str(self.folder), "DATABASE_URL": self.url}
        return {**os.environ, **own, "DJANGO_SETTINGS_MODULE": "shopledger.settings"}

    def run(self, *words, before=""):
        return manage(*words, environment=self.environment, before=before)

    def do(self, *words):
        done = self.run(*words)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def head(self):
        said = json.loads(self.do("verify", "--as-json"))
        assert said["holds"]
        return said["head"]["number"], said["head"]["digest"]


ATTACH = """
import django
django.setup()
from django.core.files.uploadedfile import SimpleUploadedFile
from inventory.attachments.actions import attach
for subject in ("voucher:2", "voucher:3"):
    attach(subject=subject, upload=SimpleUploadedFile("invoice.pdf", {!r}), by="omar")
"""


def scratch(name):
    """The address of a fresh database: on the server that the suite runs on, or a file."""
    import psycopg

    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name}")
        server.execute(f"CREATE DATABASE {name}")
    return urlunsplit(urlsplit(SERVER)._replace(path=f"/{name}"))


@pytest.fixture(scope="module")
def shop(tables, tmp_path_factory):
    """A shop with a past: a loaded log, with an upload beside it, its first months sealed. A file that no record names
    lies beside it."""
    found = Shop(tmp_path_factory.mktemp("shop"))
    shutil.copy(tables, found.file)
    log = tmp_path_factory.mktemp("log")
    for name, content in LOG.items():
        (log / f"{name}.csv").write_text(content)
    found.do("load_log", log)
    attached = Forked(ATTACH.format(INVOICE), found.environment).ended()
    assert attached.returncode == 0, attached.stderr
    for stray in ("uploads/ab/abcd", "issued/ab/abcd"):
        (found.folder / stray).parent.mkdir(parents=True)
        (found.folder / stray).write_bytes(b"of another shop")
    assert "files under issued/" in found.do("seal", "--through", "2026-03-01")
    return found


@pytest.fixture(scope="module")
def copy(shop, tmp_path_factory):
    path = tmp_path_factory.mktemp("backups") / "shop.zip"
    shop.do("backup", path)
    return path


pytestmark = pytest.mark.processes


def goes_on(other, head, entries=1):
    """Whether a restored ledger is the other one and the entries of its restores."""
    number, digest = head
    assert other.head()[0] == number + entries
    if number:
        assert "The ledger holds." in other.do("verify", "--head", digest)


def test_a_backup_restores_on_another_machine(shop, copy, tmp_path):
    other = Shop(tmp_path / "other")
    assert "the ledger holds" in other.do("restore", copy)
    goes_on(other, shop.head())
    assert (other.folder / PAPER).read_bytes() == INVOICE
    lie = [{str(path.relative_to(one.folder)) for path in one.folder.glob("[iu]*/*/*")} for one in (shop, other)]
    assert len(lie[1]) > 10 and lie[0] - lie[1] == {"uploads/ab/abcd", "issued/ab/abcd"}, "no record names them"
    again = tmp_path / "again.zip"
    other.do("backup", again)
    with zipfile.ZipFile(copy) as first, zipfile.ZipFile(again) as second:
        names = {n for n in first.namelist() if "upkeep" not in n and "content_type" not in n and "permission" not in n}
        assert len([n for n in names if n.startswith("tables/inventory_")]) > 10
        grown = {f"tables/inventory_{table}.jsonl" for table in ("voucher", "chainhead", "record")}
        for name in names - {"backup.json", *grown}:
            assert first.read(name) == second.read(name), name
        for name in grown - {"tables/inventory_chainhead.jsonl"}:
            assert second.read(name).startswith(first.read(name)), f"{name}: the entry of the restore comes after"


def test_what_was_there_is_kept_when_a_backup_takes_its_place(shop, copy, tables, tmp_path):
    other = Shop(tmp_path / "other")
    shutil.copy(tables, other.file)
    before = other.head()
    said = other.do("restore", copy)
    goes_on(other, shop.head())
    kept = re.search(r"What was here is kept in (\S+)\.\n", said)[1]
    refused = other.run("restore", kept)
    assert refused.returncode == 1 and "These are not in the backup: 10 entries, 1 to 10." in refused.stderr
    assert "--lose-from 1;" in refused.stderr
    other.do("restore", "--undo")
    goes_on(other, before)


def test_one_changed_byte_anywhere_is_refused(copy, tmp_path):
    """In every member in turn, and at every few bytes of the file: before anything is touched."""
    whole = copy.read_bytes()
    with zipfile.ZipFile(copy) as archive:
        members = archive.infolist()
    assert {"backup.json", f"files/{PAPER}", "tables/inventory_voucher.jsonl"} <= {m.filename for m in members}
    starts = [m.header_offset + 55 + len(m.filename.encode()) for m in members]
    path = tmp_path / "changed.zip"
    for place in {*starts, *range(0, len(whole), 997), *range(len(whole) - 90, len(whole))}:
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x04]) + whole[place + 1 :])
        with pytest.raises(Refused, match="not as it was written|cannot be read|is missing|not named|not a file"):
            restore.prove(path)
    for cut in (0, 10, len(whole) // 2, len(whole) - 5):
        path.write_bytes(whole[:cut])
        with pytest.raises(Refused, match="cannot be read|not as it was written"):
            restore.prove(path)
    body = bytearray(whole)
    paper = next(m for m in members if m.filename.endswith(PAPER))
    body[paper.header_offset + 30 + len(paper.filename) + 20 + paper.compress_size // 2] ^= 0x04
    path.write_bytes(body)
    with pytest.raises(Refused, match=f"files/{PAPER} is not as it was written.*Nothing was changed"):
        restore.prove(path)


def rewritten(copy, path, change):
    """The backup with members changed and its list of files made to agree, as a forger would."""
    import hashlib

    with zipfile.ZipFile(copy) as source:
        members = {name: source.read(name) for name in source.namelist()}
    manifest = json.loads(members.pop("backup.json"))
    change(members, manifest)
    manifest["files"] = {n: {"sha256": hashlib.sha256(b).hexdigest(), "size": len(b)} for n, b in members.items()}
    with zipfile.ZipFile(path, "w") as target:
        for name, body in members.items():
            target.writestr(name, body)
        target.writestr("backup.json", json.dumps(manifest))
        target.comment = b"0" * 64
    whole = path.read_bytes()[:-64]
    path.write_bytes(whole + hashlib.sha256(whole).hexdigest().encode())


def _quantity(members, manifest):
    name = "tables/inventory_movement.jsonl"
    members[name] = members[name].replace(b",340000,", b",339000,")


def _newer(members, manifest):
    manifest["migrations"].append(["inventory", "9999_of_tomorrow"])


def _cut(members, manifest):
    name = "tables/inventory_weighing.jsonl"
    members[name] = b"".join(members[name].splitlines(keepends=True)[:-1])


def _elsewhere(members, manifest):
    """An upload that its record says to be the key: what reads it would read that."""
    name = "tables/inventory_attachment.jsonl"
    members[name] = members[name].replace(DIGEST.encode(), b"./../secret_key")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_quantity, "does not hold"),
        (_newer, "update first"),
        (_cut, "not whole"),
        (_elsewhere, "/../secret_key', which is no upload"),
    ],
)
def test_a_backup_that_does_not_prove_itself_replaces_nothing(shop, copy, tmp_path, change, said):
    path = tmp_path / "forged.zip"
    rewritten(copy, path, change)
    done = shop.run("restore", path)
    assert done.returncode == 1 and said in done.stderr and "Nothing was changed" in done.stderr
    assert "Traceback" not in done.stderr
    assert shop.head()[1] == json.loads(zipfile.ZipFile(copy).read("backup.json"))["head"]["digest"]


POSTING = """
import datetime as dt, os, sys, threading, django
django.setup()
from inventory.ledger.accounts import AccountClass as A, Spot, Transfer
from inventory.ledger.actions import Draft, post
LOST, UNIT = Spot("R-134a", A.OTHER_LOSS), Spot("R-134a", A.UNIT)
enough = threading.Event()
threading.Thread(target=lambda: (sys.stdin.read(), enough.set()), daemon=True).start()
while not enough.wait(0.02):  # fifty a second: the shop's busiest
    print(post(Draft("job", dt.date(2026, 3, 2), "x", (Transfer(LOST, UNIT, 1),))), flush=True)
"""


def test_backups_are_whole_while_people_post(shop, copy, tmp_path):
    busy = Shop(tmp_path / "busy")
    busy.do("restore", copy)
    environment = {
        **os.environ,
        "DATA_DIR": str(busy.folder),
        "DATABASE_URL": "",
        "DJANGO_SETTINGS_MODULE": "shopledger.settings",
    }
    posting = subprocess.Popen(
        [sys.executable, "-c", POSTING],
        cwd=ROOT,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    posting.stdout.readline()
    paths = [tmp_path / f"{n}.zip" for n in range(2)]
    for path in paths:
        busy.do("backup", path)
    posted, _ = posting.communicate()
    assert posting.returncode == 0
    numbers = []
    for path in paths:
        other = Shop(tmp_path / path.stem)
        other.do("restore", path)
        numbers.append(other.head()[0])
    assert numbers == sorted(numbers)
    assert shop.head()[0] < numbers[0] and numbers[1] <= busy.head()[0] == int(posted.split()[-1])


def test_what_is_lost_beside_the_database_is_named_and_stops_nothing(shop, copy, tmp_path):
    bereft = Shop(tmp_path / "bereft")
    bereft.do("restore", copy)
    (bereft.folder / PAPER).unlink()
    path = tmp_path / "bereft.zip"
    said = bereft.do("backup", path)
    assert f"One file that the records name is missing, and is not in it: {PAPER}." in said
    with zipfile.ZipFile(path) as archive:
        assert json.loads(archive.read("backup.json"))["missing"] == [PAPER]
    assert "One file that the records name is missing" in bereft.do("health")
    other = Shop(tmp_path / "other")
    said = other.do("restore", path)
    assert "the ledger holds" in said
    assert f"One file that the records name was lost before the backup was made: {PAPER}." in said
    lost = other.run("verify")
    assert lost.returncode == 1 and "is missing or not as it was attached" in lost.stderr
    (other.folder / PAPER).parent.mkdir(parents=True, exist_ok=True)
    (other.folder / PAPER).write_bytes(INVOICE)
    goes_on(other, shop.head(), 2)
    assert "was lost" not in other.do("restore", path), "it is here"
    with zipfile.ZipFile(copy) as archive:
        assert json.loads(archive.read("backup.json"))["missing"] == []


def test_a_full_disk_is_said_and_leaves_nothing(shop, tmp_path):
    folder = tmp_path / "backups"
    folder.mkdir()
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, 400_000))"
    done = shop.run("backup", folder, before=limit)
    if done.returncode == 0:
        pytest.skip("the copy is smaller than the limit")
    assert "Traceback" not in done.stderr and "could not be written" in done.stderr
    assert list(folder.iterdir()) == []
    assert shop.head()


def test_a_backup_takes_no_other_s_place(shop, copy):
    before = copy.read_bytes()
    done = shop.run("backup", copy)
    assert done.returncode == 1 and "is there already" in done.stderr
    assert copy.read_bytes() == before
    assert shop.run("backup", copy.parent / "none" / "x.zip").returncode == 1
    assert shop.run("restore", copy.parent / "none.zip").returncode == 1


def test_a_folder_of_backups_is_thinned_out(tmp_path, monkeypatch):
    now = dt.datetime(2026, 6, 15, 3, 0, tzinfo=dt.UTC)
    monkeypatch.setattr(backup.timezone, "now", lambda: now)
    made = [now - dt.timedelta(days=n) for n in range(400)]
    for moment in made:
        (tmp_path / f"shopledger-{moment:%Y%m%dT%H%M%S}-{'a' * 64}.zip").touch()
    (tmp_path / "holiday.zip").touch()
    backup.thin_out(tmp_path, days=30, months=6)
    left = sorted(path.name[11:19] for path in tmp_path.glob("shopledger-*"))
    assert [day for day in left if day < "20260516"] == [
        "20251201",
        "20260101",
        "20260201",
        "20260301",
        "20260401",
        "20260501",
    ]
    assert len([day for day in left if day >= "20260516"]) == 31
    assert (tmp_path / "holiday.zip").exists()
    monkeypatch.setattr(backup.timezone, "now", lambda: now + dt.timedelta(days=3000))
    backup.thin_out(tmp_path, days=30, months=6)
    assert [path.name[11:19] for path in tmp_path.glob("shopledger-*")] == ["20260615"]


@pytest.mark.both
@pytest.mark.skipif(not SERVER.startswith("postgres"), reason="needs a PostgreSQL server")
def test_a_shop_moves_to_postgresql_and_back_with_its_digests(shop, tmp_path):
    url = scratch("moving")
    assert "Moved" in shop.do("move_to", url)
    moved = Shop(shop.folder, url)
    goes_on(moved, shop.head())
    refused = shop.run("move_to", url)
    assert refused.returncode == 1 and "not empty" in refused.stderr
    back = Shop(tmp_path / "back")
    moved.do("move_to", f"sqlite:///{back.file}")
    for name in ("uploads", "issued"):  # what lies beside the database is kept, as the command says
        shutil.copytree(shop.folder / name, back.folder / name)
    goes_on(back, shop.head(), 2)
    path = tmp_path / "moved.zip"
    moved.do("backup", path)
    moved.do("restore", path)
    goes_on(moved, shop.head(), 2)
    assert "holds" in moved.do("verify")


def test_moving_needs_an_address(shop):
    done = shop.run("move_to", "nonsense")
    assert done.returncode == 1 and "names no database" in done.stderr


# -- what was erased does not come back ----------------------------------------------------------------------

WORD = "Zqmarker"
ASKED = f"""
import django
django.setup()
from jobs.units.actions import add_customer
print(add_customer(by=None, name="{WORD}", phone="{WORD} 1").code)
"""


def says(site, word=WORD):
    """Whether any byte of a database file holds a word."""
    return word.encode() in site.file.read_bytes()


@pytest.fixture
def erased(shop, copy, tmp_path):
    """A shop of which a backup was made before somebody's words were erased; with the backup."""
    found = Shop(tmp_path / "erased")
    found.do("restore", copy)
    code = Forked(ASKED, found.environment).ended().stdout.strip()
    folder = tmp_path / "backups"
    folder.mkdir()
    before = folder / "before.zip"
    found.do("backup", before)
    assert says(found) and not (folder / "erased.txt").exists()
    found.do("erase", "customer", code, "--why", "asked")
    return found, before


def test_no_byte_of_the_database_holds_what_was_erased(erased):
    found, _ = erased
    assert not says(found) and "The ledger holds." in found.do("verify")


def test_a_backup_of_before_is_erased_again_when_it_is_restored(erased):
    found, before = erased
    head = found.head()
    said = found.do("restore", before, "--lose-from", head[0])
    assert "No list" not in said and not says(found)
    assert "The ledger holds." in found.do("verify")
    given_up = found.run("verify", "--head", head[1])
    assert given_up.returncode == 1 and "given up when a backup was restored" in given_up.stderr


def test_the_list_beside_the_backups_or_named_is_enough_on_another_machine(erased, tmp_path):
    found, before = erased
    bare = Shop(tmp_path / "bare")
    assert "No list of what was erased was found" in bare.do("restore", before) and says(bare)
    found.do("backup", before.with_name("after.zip"))
    beside = Shop(tmp_path / "beside")
    assert "No list" not in beside.do("restore", before) and not says(beside)
    assert (beside.folder / "erased.txt").read_text() == before.with_name("erased.txt").read_text()
    named = before.with_name("erased.txt").rename(tmp_path / "elsewhere.txt")
    told = Shop(tmp_path / "told")
    assert "No list" not in told.do("restore", before, "--erased", named) and not says(told)
    (tmp_path / "wrong.txt").write_text("nothing\n")
    wrong = Shop(tmp_path / "wrong").run("restore", before, "--erased", tmp_path / "wrong.txt")
    assert wrong.returncode == 1 and "is no list of what was erased" in wrong.stderr


def test_a_backup_is_restored_on_trial_and_nothing_stays_of_it(shop, copy, tmp_path):
    before = {str(path) for path in shop.folder.rglob("*")}
    said = shop.do("restore", "--trial", copy)
    assert "Restored on trial, and thrown away again: shop.zip of " in said and shop.head()[1] in said
    assert {str(path) for path in shop.folder.rglob("*")} == before
    assert "good   Backup restored on trial: Restored today" in shop.run("health").stdout
    rewritten(copy, tmp_path / "forged.zip", _quantity)
    bad = shop.run("restore", "--trial", tmp_path / "forged.zip")
    assert bad.returncode == 1 and "does not hold" in bad.stderr
    assert "wrong  Backup restored on trial: forged.zip does not restore" in shop.run("health").stdout
    assert "No backup lies in" in shop.run("restore", "--trial", tmp_path).stderr


def test_two_copies_that_both_go_on_part_after_their_last_common_entry(shop, copy, tmp_path):
    one, other = Shop(tmp_path / "one"), Shop(tmp_path / "other")
    for site in (one, other):
        site.do("restore", copy)
    assert one.head()[0] == other.head()[0] and one.head()[1] != other.head()[1]
    parted = one.run("verify", "--head", other.head()[1])
    assert parted.returncode == 1
    number, digest = shop.head()
    assert f"The digest is that of entry {number} of " in one.do("verify", "--head", digest)
    other.do("backup", tmp_path / "other.zip")
    apart = one.run("verify", "--against", tmp_path / "other.zip")
    assert apart.returncode == 1 and f"They parted after entry {number} of " in apart.stderr
    assert f"Only here: one entry, {number + 1}." in apart.stderr
    assert f"Only in other.zip: one entry, {number + 1}." in apart.stderr
    ahead = shop.run("verify", "--against", tmp_path / "other.zip")
    assert (
        ahead.returncode == 1 and f"other.zip is ahead of this ledger, which ends with entry {number}" in ahead.stderr
    )
