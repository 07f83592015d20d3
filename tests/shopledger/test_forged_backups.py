"""Backups that somebody made, with this program's own writer, so that all their digests fit: what a backup may not hold
is refused before anything is written."""

import hashlib
import os
import zipfile
from types import SimpleNamespace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import DatabaseError

from inventory.attachments.actions import attach
from inventory.ledger import begun
from inventory.ledger.actions import Draft, post
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from shopledger.backup import archive, outside, restore
from shopledger.backup.staging import prove
from tests.inventory.test_attachments import PDF

BODY = b"a paper"
SHA256 = hashlib.sha256(BODY).hexdigest()
PLACE = f"uploads/{SHA256[:2]}/{SHA256}"
LIST = {
    "made_at": "2026-03-02T10:00:00+00:00",
    "migrations": [["inventory", "0001_initial"]],
    "head": {"ledger_id": "x", "number": 0, "digest": "0" * 64},
    "tables": {"inventory_party": 0},
    "missing": [],
}


def forged(path, *places, body=BODY, **said):
    """A backup with files at these places, and a list that says so."""
    writer = archive.Writer(path)
    writer.rows("inventory_party", ["id"], [])
    for place in places:
        writer.member(f"files/{place}", [body])
    writer.close({**LIST, **said})
    return path


def test_what_a_backup_holds_is_taken(tmp_path):
    prove(forged(tmp_path / "whole.zip", PLACE, PLACE.replace("uploads", "issued"))).close()


@pytest.mark.parametrize(
    "place",
    [
        "secret_key",
        "shopledger.sqlite3",
        "shopledger.sqlite3-journal",
        "shopledger.sqlite3-wal",
        "logs/shopledger.log",
        "erased.txt",
        f"replaced/{SHA256}",
        "uploads/secret_key",
        f"Uploads/{SHA256[:2]}/{SHA256}",
        f"uploads/{SHA256[:2]}/{SHA256.upper()}",
        f"uploads/ab/{SHA256}",
        f"uploads/{SHA256[:2]}/../../secret_key",
        f"../{PLACE}",
        f"/{PLACE}",
        f"//server/{PLACE}",
        f"C:/{PLACE}",
        PLACE.replace("/", "\\"),
        f"{PLACE}:stream",
        f"{PLACE} ",
        f"{PLACE}\n",
        f"{PLACE}.",
        "uploads/nu/nul",
        "uploads/co/con.zip",
        f"./{PLACE}",
        "",
    ],
)
def test_a_place_that_no_upload_and_no_issued_paper_has_is_refused(tmp_path, place):
    with pytest.raises(Refused, match="no upload and no issued paper") as refused:
        prove(forged(tmp_path / "forged.zip", place))
    assert "written" in refused.value.message
    with pytest.raises(Refused, match="no upload and no issued paper"):
        prove(forged(tmp_path / "missing.zip", missing=[place]))


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"head": []}, "not that of a backup"),
        ({"head": {"number": "1"}}, "not that of a backup"),
        ({"tables": {"inventory_party": "x"}}, "not that of a backup"),
        ({"tables": {}}, "no file that a backup holds"),
        ({"tables": {"inventory_party": 0, "inventory_scale": 1}}, "is missing"),
        ({"migrations": [["inventory"]]}, "not that of a backup"),
        ({"missing": "uploads"}, "not that of a backup"),
        ({"made_at": None}, "not that of a backup"),
    ],
)
def test_a_list_that_is_not_a_backup_s_is_refused(tmp_path, said, why):
    with pytest.raises(Refused, match=why):
        prove(forged(tmp_path / "forged.zip", **said))


def test_who_is_signed_in_is_no_part_of_a_backup(tmp_path):
    writer = archive.Writer(tmp_path / "forged.zip")
    writer.rows("django_session", ["session_key"], [["x"]])
    writer.close({**LIST, "tables": {"django_session": 1}})
    with pytest.raises(Refused, match="django_session is none that a backup holds"):
        prove(tmp_path / "forged.zip")


@pytest.mark.parametrize("said", [b"[]", b"{}", b'"x"', b"{" * 10_000, b'{"format": 1, "files": {"x": {"size": -1}}}'])
def test_a_list_that_is_none_is_refused(tmp_path, said):
    with zipfile.ZipFile(tmp_path / "forged.zip", "w") as made:
        made.writestr("backup.json", said)
    with pytest.raises(Refused, match="not a file of this program|cannot be read"):
        prove(tmp_path / "forged.zip")


def test_more_than_the_list_says_is_not_unpacked(tmp_path, monkeypatch):
    """A file of a gigabyte in a megabyte: read as far as its size goes in the list, and no further."""
    monkeypatch.setattr(archive, "CHUNK", 1 << 16)
    writer = archive.Writer(tmp_path / "bomb.zip")
    writer.rows("inventory_party", ["id"], [])
    writer.member(f"files/{PLACE}", (bytes(1 << 20) for _ in range(64)))
    writer.files[f"files/{PLACE}"] = {"sha256": SHA256, "size": len(BODY)}
    writer.close(LIST)
    read = []
    chunks = archive.Reader.chunks
    monkeypatch.setattr(archive.Reader, "chunks", lambda *which: (read.append(len(c)) or c for c in chunks(*which)))
    with pytest.raises(Refused, match=f"files/{PLACE} is not as it was written"):
        prove(tmp_path / "bomb.zip")
    assert sum(read) < 1 << 18
    monkeypatch.setattr(archive, "LONGEST_LIST", 100)
    with pytest.raises(Refused, match="not a file of this program"):
        prove(forged(tmp_path / "long.zip"))


def test_what_the_disk_does_not_hold_unpacked_is_refused_before_it_is_staged(tmp_path, settings, monkeypatch, db):
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    monkeypatch.setattr(archive.Reader, "size", lambda self: 10**18)
    with pytest.raises(Refused, match="takes 2000000000.0 GB.*Nothing was changed"):
        restore.restore(forged(tmp_path / "large.zip"))
    assert list(settings.DATA_DIR.iterdir()) == []


def test_a_ledger_that_cannot_be_read_is_not_taken_for_an_empty_one(tmp_path, settings, monkeypatch, db):
    settings.DATA_DIR = tmp_path

    def malformed():
        raise DatabaseError("database disk image is malformed")

    monkeypatch.setattr(restore, "is_empty", malformed)
    monkeypatch.setattr(restore, "connection", SimpleNamespace(vendor="sqlite", settings_dict={"NAME": "shop.sqlite3"}))
    with pytest.raises(Refused, match="cannot be read .*move shop.sqlite3 into another folder.*Nothing was changed"):
        restore.restore(forged(tmp_path / "whole.zip"))


@pytest.mark.parametrize("line", [b"x\n", b"{}\n", b"[1]", b"[1, 2]\n", b"[" * 5000 + b"\n"])
def test_a_line_that_is_no_row_is_refused(tmp_path, line):
    writer = archive.Writer(tmp_path / "forged.zip")
    writer.member("tables/inventory_party.jsonl", [b'["id"]\n', line])
    writer.close(LIST)
    with pytest.raises(archive.Damaged, match="holds a line that is no row|values for 1 columns"):
        list(archive.Reader(tmp_path / "forged.zip").rows("inventory_party")[1])


@pytest.mark.parametrize(
    "words",
    [[], ["x.zip", "--undo"], ["x.zip", "--lose-from", "x"], ["x.zip", "--lose-from", "0"], ["--undo", "--trial"]],
)
def test_what_is_to_be_restored_is_said_in_one_way(db, words):
    with pytest.raises((CommandError, SystemExit)) as wrong:
        call_command("restore", *words)
    assert 2 in (getattr(wrong.value, "returncode", 0), getattr(wrong.value, "code", 0))


# -- what is written beside the database -----------------------------------------------------------------


@pytest.fixture
def paper(db, settings, tmp_path):
    """An attachment, whose file was lost since; a backup that holds it is at hand."""
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path / "data", tmp_path / "data" / "uploads"
    settings.DATA_DIR.mkdir()
    found = attach(subject="voucher:1", upload=SimpleUploadedFile("paper.pdf", PDF), by="omar")
    body = found.path.read_bytes()
    found.path.unlink()
    return found, f"uploads/{found.sha256[:2]}/{found.sha256}", body


def test_only_what_a_record_names_is_put_and_only_as_it_was(paper, tmp_path):
    found, place, body = paper
    outside.put_files(archive.Reader(forged(tmp_path / "other.zip", PLACE)))
    assert not (found.path.parents[2] / PLACE).exists(), "no record names it"
    outside.put_files(archive.Reader(forged(tmp_path / "wrong.zip", place, body=b"not that")))
    assert not found.path.exists(), "other bytes than its name says"
    outside.put_files(archive.Reader(forged(tmp_path / "right.zip", place, body=body)))
    assert found.path.read_bytes() == body and found.path.stat().st_mode & 0o777 == 0o600
    found.path.write_bytes(b"rotten")
    outside.put_files(archive.Reader(forged(tmp_path / "again.zip", place, body=body)))
    assert found.path.read_bytes() == body


@pytest.mark.parametrize("which", ["uploads", "part", "issued"])
def test_nothing_is_written_through_a_link(paper, tmp_path, settings, which):
    found, place, body = paper
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    link = {"uploads": settings.MEDIA_ROOT, "part": found.path.parent, "issued": settings.DATA_DIR / "issued"}[which]
    if link.exists():
        link.rename(tmp_path / "before")
    link.symlink_to(elsewhere)
    with pytest.raises(Refused, match="is a link or no folder"):
        outside.put_files(archive.Reader(forged(tmp_path / "whole.zip", place, body=body)))
    with pytest.raises(Refused, match="is a link or no folder"):
        restore.restore(forged(tmp_path / "again.zip", place, body=body))
    assert list(elsewhere.iterdir()) == []


def test_a_file_that_is_a_link_is_put_in_its_place(paper, tmp_path):
    found, place, body = paper
    key = tmp_path / "secret_key"
    key.write_bytes(body)
    os.link(key, tmp_path / "kept")
    found.path.symlink_to(key)
    outside.put_files(archive.Reader(forged(tmp_path / "whole.zip", place, body=body)))
    assert not found.path.is_symlink() and found.path.read_bytes() == body and key.read_bytes() == body


def test_an_erased_attachment_names_no_file(paper):
    from inventory.attachments.models import Attachment

    Attachment.objects.filter(pk=paper[0].pk).update(sha256="")
    assert outside.outside_files() == []


# -- a form that was read before, and recorded after ------------------------------------------------------


def test_a_form_that_was_read_before_a_restoring_is_not_recorded_after_it(office_client, shop, monkeypatch):
    """As it is for one that waited for its turn while the backup took the ledger's place."""
    from shopledger import middleware

    def begin(known):
        begun.begin(known)
        if known:
            post(Draft(kind="restore", day=today(), recorded_by="x", detail={"head": "x"}))

    monkeypatch.setattr(middleware, "begin", begin)
    answer = office_client.post("/stock/places/", {"name": "Attic"})
    assert answer.status_code == 503, answer.status_code
    assert "A backup was restored just now" in answer.content.decode()
    monkeypatch.setattr(middleware, "begin", begun.begin)
    assert "Attic" not in office_client.get("/stock/places/").content.decode()
