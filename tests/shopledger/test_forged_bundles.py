"""Bundles that somebody changed, and made to match as far as he can: each is refused, or said to be nobody's."""

import datetime as dt
import hashlib
import io
import json
import re
import subprocess
import sys
import uuid
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import transaction

from inventory.attachments.actions import attach
from inventory.attachments.models import Attachment
from inventory.ledger import canonical
from inventory.ledger.erasing import erase
from inventory.ledger.models import Record, Voucher
from inventory.ledger.queries import head
from inventory.ledger.verify import verify as verify_ledger
from inventory.parties.models import Party
from shopledger.inspection import index, verify
from shopledger.reports.usage import IN, OUT
from shopledger.sealing.actions import issue, seal_period
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (fixture)
from tests.kept import made
from tests.shopledger.forging import Forged
from tests.shopledger.test_reports import log  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)
QUARTER = ("2026-01-01", "2026-03-31")
ALONE = "It is consistent in itself; nothing here says whose it is."
SCRIPT = Path(verify.__file__)


@pytest.fixture
def shop_with_all(log, uploads, settings, tmp_path):  # noqa: F811
    """A sealed month, a paper, a scan, a change; returns the digest that was printed when the month was sealed."""
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    number = Voucher.objects.get(kind="receipt").number
    attach(subject=f"voucher:{number}", upload=SimpleUploadedFile("invoice.pdf", PDF), by="omar", title="Invoice D-1")
    month = seal_period(dt.date(2026, 1, 31), "olive")
    issue(month, "olive")
    return head()


def bundled(path, first=QUARTER[0], last=QUARTER[1]):
    call_command("bundle", "--from", first, "--to", last, "--output", str(path))
    return path


def asked(path, digest=""):
    """How the program judges it: exit code, and what it says."""
    out = io.StringIO()
    try:
        call_command("verify", "--bundle", str(path), *(["--head", digest] if digest else []), stdout=out)
    except CommandError as refused:
        return refused.returncode, str(refused)
    return 0, out.getvalue()


def alone(place, digest="", script=SCRIPT):
    """How verify.py judges it, without this program: exit code, and what it says."""
    words = [sys.executable, "-I", str(script), *(["--head", digest] if digest else []), str(place)]
    done = subprocess.run(words, capture_output=True, text=True, env={})
    return done.returncode, done.stdout + done.stderr


def test_verify_is_small_and_named_in_the_readme():
    readme = (SCRIPT.parents[2] / "README.md").read_text(encoding="utf-8")
    assert hashlib.sha256(index.verifier()).hexdigest() in readme
    assert len(index.verifier().splitlines()) <= 150
    assert not re.search(rb"import (django|inventory|jobs|shopledger)", index.verifier())


def test_a_true_bundle_is_attested_by_its_ledger_or_by_a_digest_that_was_kept(shop_with_all, tmp_path):
    number, printed = shop_with_all
    path = bundled(tmp_path / "b.zip")
    code, said = asked(path)
    assert code == 0 and f"Attested: this ledger holds entry {head()[0]}" in said
    folder = Forged(path, tmp_path / "open").folder
    for place in (path, folder):
        for digest, expected, sentence in (
            ("", 1, ALONE),
            ("f" * 64, 1, "does not hold the digest given"),
            (printed, 0, f"the digest given is that of entry {number}"),
            (printed.upper(), 0, f"the digest given is that of entry {number}"),
            (head()[1], 0, f"the digest given is that of entry {head()[0]}"),
        ):
            code, said = alone(place, digest)
            assert code == expected and sentence in said, (place, digest, said)
    code, said = alone(folder, script=folder / "verify.py")
    assert code == 1 and ALONE in said
    done = subprocess.run([sys.executable, "-I", "verify.py"], cwd=folder, capture_output=True, text=True, env={})
    assert done.returncode == 1 and ALONE in done.stdout, "run inside the folder"
    assert asked(path, "f" * 64)[0] == 1 and asked(path, printed)[0] == 0
    made(Party, name="Later", role="supplier")
    code, said = asked(path, head()[1])
    assert code == 0 and "which came after it" in said
    assert asked(path)[0] == 0, "an older bundle of this ledger"


def test_without_a_database_only_a_digest_attests(shop_with_all, tmp_path):
    _, printed = shop_with_all
    path = bundled(tmp_path / "b.zip")
    root, nowhere = SCRIPT.parents[2], tmp_path / "nowhere"
    for digest, expected, sentence in (("", 1, ALONE), (printed, 0, "The bundle holds."), ("e" * 64, 1, "not hold")):
        words = [sys.executable, "manage.py", "verify", "--bundle", str(path)] + (["--head", digest] if digest else [])
        done = subprocess.run(words, cwd=root, capture_output=True, text=True, env={"DATA_DIR": str(nowhere)})
        assert (done.returncode, sentence in done.stdout + done.stderr) == (expected, True), done
    assert not (nowhere / "shopledger.sqlite3").exists(), "asking made no database"


def test_each_file_changed_removed_renamed_or_added_is_refused(shop_with_all, tmp_path):
    path = bundled(tmp_path / "b.zip")
    names = Forged(path, tmp_path / "f").names()
    forgeries = 0
    for name in names:
        for how in ("changed", "removed", "renamed"):
            forged = Forged(path, tmp_path / "f")
            body = forged.read(name)
            (forged.folder / name).unlink()
            if how == "changed":
                forged.write(name, body.replace(b"2026", b"2025", 1) if b"2026" in body else body + b"x")
            elif how == "renamed":
                forged.write(f"{name}.old", body)
            code, said = asked(forged.pack(tmp_path / "f.zip"))
            forgeries += 1
            if (name, how) == ("receipt.json", "changed"):  # another entry than the ledger's, and just as good alone
                assert code == 1 and "parts from it after" in said
                assert ALONE in verify.Bundle(forged.folder).prove()[1]
                continue
            assert code == 1 and "does not hold" in said, (name, how)
            with pytest.raises(verify.Wrong) as refused:
                verify.Bundle(forged.folder).prove()
            if name != "manifest.json":
                assert name in said and name in str(refused.value), (name, how, said)
    for name in ("jobs/one-more.pdf", "verify.pyc", "reports/extra.csv"):
        forged = Forged(path, tmp_path / "f")
        forged.write(name, b"x")
        code, said = asked(forged.pack(tmp_path / "f.zip"))
        assert code == 1 and f"{name} is not named" in said and alone(forged.folder)[0] == 1
        forgeries += 1
    assert forgeries == 3 * len(names) + 3 > 100


def first_of(forged, kind):
    return next(one for one in forged.lines("vouchers.jsonl") if json.loads(one["text"])[3] == kind)


def without_job(forged):
    """A job's entry is taken out, with its records and its sheet, as if it had never been."""
    number = first_of(forged, "job")["number"]
    forged.put_lines("vouchers.jsonl", [one for one in forged.lines("vouchers.jsonl") if one["number"] != number])
    forged.put_lines("records.jsonl", [one for one in forged.lines("records.jsonl") if one["voucher"] != number])
    for name in forged.names():
        if name.startswith("jobs/"):
            (forged.folder / name).unlink()


def without_record(forged):
    lines = forged.lines("records.jsonl")
    gone = next(one for one in lines if one["kind"] == "job")
    forged.put_lines("records.jsonl", [one for one in lines if one is not gone])


def with_another_record(forged):
    lines = forged.lines("records.jsonl")
    one = next(one for one in lines if one["kind"] == "job")
    one["body"] = one["body"].replace("ines", "omar")
    forged.put_lines("records.jsonl", lines)


def with_a_record_that_fits(forged):
    """The body and the digest beside it."""
    with_another_record(forged)
    lines = forged.lines("records.jsonl")
    one = next(one for one in lines if one["kind"] == "job")
    one["digest"] = canonical.record_digest(one["salt"], one["body"])
    forged.put_lines("records.jsonl", lines)


def as_if_erased(forged):
    """Words are taken out, as if somebody had erased them."""
    lines = forged.lines("records.jsonl")
    one = next(one for one in lines if one["kind"] == "words")
    del one["salt"], one["body"]
    one["erased"] = lines[-1]["voucher"]
    forged.put_lines("records.jsonl", lines)


def with_another_text(forged):
    lines = forged.lines("vouchers.jsonl")
    one = next(one for one in lines if json.loads(one["text"])[3] == "job")
    one["text"] = one["text"].replace("490000", "480000")
    forged.put_lines("vouchers.jsonl", lines)


def with_another_day(forged):
    lines = forged.lines("vouchers.jsonl")
    lines[-1]["day"] = "2026-01-01"
    forged.put_lines("vouchers.jsonl", lines)


def in_another_order(forged):
    lines = forged.lines("vouchers.jsonl")
    forged.put_lines("vouchers.jsonl", [*lines[:-2], lines[-1], lines[-2]])


def twice(forged):
    lines = forged.lines("records.jsonl")
    forged.put_lines("records.jsonl", [lines[0], *lines])


def with_a_link_more(forged):
    forged.write("links.bin", forged.read("links.bin") + b"\0" * 32)


def with_a_link_less(forged):
    forged.write("links.bin", forged.read("links.bin")[:-32])


def with_a_bit_of_a_link(forged):
    links = forged.read("links.bin")
    forged.write("links.bin", links[:-1] + bytes([links[-1] ^ 1]))


def with_less_charged(forged):
    """The usage report, made to add up again."""
    forged.replace("reports/usage.csv", "490.000", "480.000")
    rows = [row.split(",") for row in forged.read("reports/usage.csv").decode().splitlines()]
    closing = rows[1][-1]
    rows[1][-1] = f"{float(closing) + 10:.3f}"
    forged.write("reports/usage.csv", "".join(",".join(row) + "\n" for row in rows).encode())


def without_a_substance(forged):
    rows = forged.read("reports/usage.csv").splitlines(keepends=True)
    forged.write("reports/usage.csv", b"".join(rows[:-1]))


def with_a_substance_twice(forged):
    rows = forged.read("reports/usage.csv").splitlines(keepends=True)
    forged.write("reports/usage.csv", b"".join([*rows, rows[-1].replace(b"30.000", b"20.000")]))


def with_a_substance_more(forged):
    rows = forged.read("reports/usage.csv").splitlines(keepends=True)
    forged.write("reports/usage.csv", b"".join([*rows, rows[-1].replace(b"PAG 46", b"POE 68")]))


def without_a_column(forged):
    rows = [row.split(",") for row in forged.read("reports/usage.csv").decode().splitlines()]
    at = rows[0].index("charged")
    forged.write("reports/usage.csv", "".join(",".join(row[:at] + row[at + 1 :]) + "\n" for row in rows).encode())


def with_another_opening(forged):
    """What was there before, and what is left, are both more."""
    rows = [row.split(",") for row in forged.read("reports/usage.csv").decode().splitlines()]
    for at in (2, -1):
        rows[1][at] = f"{float(rows[1][at]) + 5:.3f}"
    forged.write("reports/usage.csv", "".join(",".join(row) + "\n" for row in rows).encode())


CONTRADICTED = {  # what the chain itself says otherwise, and in which words it is refused
    without_job: "is missing",
    without_record: "not those that it names",
    with_another_record: "not what its digest was made from",
    with_a_record_that_fits: "not what its digest was made from",
    as_if_erased: "did not erase what is gone",
    with_another_text: "not what the chain holds",
    with_another_day: "not what the chain holds",
    in_another_order: "",  # of entries of the period: one is missing; of others: not where the chain has it
    twice: "not those that it names",
    with_a_link_more: "leads astray",
    with_a_link_less: "",  # what then stands in the place of the last entry is not its text, where that is in it
    with_a_bit_of_a_link: "",
    with_less_charged: "of R-134a is not what the entries come to",
    without_a_substance: "lacks a substance",
    with_a_substance_twice: "has one twice",
    with_a_substance_more: "of POE 68 is not what the entries come to",
    without_a_column: "charged of R-134a is not what the entries come to",
    with_another_opening: "of R-134a is not what the entries come to",
}


@pytest.mark.parametrize("first", ["2026-01-01", "2026-02-01"])
def test_what_the_entries_contradict_is_refused_however_well_the_rest_was_made_to_match(shop_with_all, tmp_path, first):
    """Each alone: the list is not the one that was entered. With the list: the same. With the entry too: the entries
    say otherwise, whatever digest is given."""
    _, printed = shop_with_all
    path = bundled(tmp_path / "b.zip", first)
    forgeries = 0
    for change, sentence in CONTRADICTED.items():
        if first > "2026-01" and change in {without_job, with_less_charged, with_another_text, with_a_substance_twice}:
            continue  # February has no job
        if first > "2026-01" and change in {
            without_record,
            with_another_record,
            with_a_record_that_fits,
            without_a_column,
        }:
            continue
        forged = Forged(path, tmp_path / "f")
        change(forged)
        assert asked(forged.pack(tmp_path / "f.zip"), printed)[0] == 1, change
        forged.relist()
        code, said = asked(forged.pack(tmp_path / "f.zip"), printed)
        assert code == 1 and "manifest.json is not the list" in said, (change, said)
        forged.enter()
        code, said = asked(forged.pack(tmp_path / "f.zip"), printed)
        assert code == 1 and "The bundle does not hold." in said and sentence in said, (change, said)
        assert alone(forged.folder, printed) == (1, said + "\n"), change
        forgeries += 1
    assert forgeries >= 10


# -- what nothing in the bundle contradicts ------------------------------------------------------------------------


def with_another_sheet(forged):
    (name,) = [name for name in forged.names() if name.startswith("jobs/")]
    forged.write(name, PDF)


def without_a_sheet(forged):
    (name,) = [name for name in forged.names() if name.startswith("jobs/")]
    (forged.folder / name).unlink()


def with_another_name(forged):
    forged.replace("who.csv", "Gas Supply", "Somebody Else")


def without_a_row(forged):
    rows = forged.read("reports/jobs.csv").splitlines(keepends=True)
    forged.write("reports/jobs.csv", b"".join(rows[:-1]))


def with_a_paper_more(forged):
    forged.write("papers/999.pdf", PDF)


def with_another_index(forged):
    forged.replace("index.html", "not recorded here", "all in order")


def with_a_verifier_that_always_agrees(forged):
    forged.write("verify.py", b"print('Attested.')\n")


UNCONTRADICTED = (
    with_another_sheet,
    without_a_sheet,
    with_another_name,
    without_a_row,
    with_a_paper_more,
    with_another_index,
    with_a_verifier_that_always_agrees,
)


@pytest.mark.parametrize("ledger", ["its own", "made up"])
def test_what_is_consistent_in_itself_is_nobodys(shop_with_all, tmp_path, ledger):
    """A drawing, a name, a row of another table: with list, entry and receipt made to match, and with the real id or a
    made-up one, all agrees. The ledger beside says that it is not its own; a digest says up to which entry it is."""
    number, printed = shop_with_all
    path = bundled(tmp_path / "b.zip")
    last = head()[0]
    for change in UNCONTRADICTED:
        forged = Forged(path, tmp_path / "f")
        change(forged)
        forged.relist()
        assert "manifest.json is not the list" in asked(forged.pack(tmp_path / "f.zip"), printed)[1], change
        if ledger == "its own":
            forged.enter()
        else:
            forged.rechain(str(uuid.uuid4()))
        packed = forged.pack(tmp_path / "f.zip")
        code, said = asked(packed)
        if ledger == "its own":
            assert (code, said) == (1, f"This ledger parts from it after entry {last - 1}."), change
        else:
            assert code == 1 and "It is of another ledger" in said, change
        code, said = alone(forged.folder)
        assert code == 1 and ALONE in said, change
        for place, judge in ((packed, asked), (forged.folder, alone)):
            code, said = judge(place, printed)
            if ledger == "its own":
                assert code == 0 and f"entry {number}. What came after it rests on the bundle alone." in said, change
                assert judge is alone or f"This ledger parts from it after entry {last - 1}." in said
            else:
                assert code == 1 and "does not hold the digest given" in said, change
            code, said = judge(place, head()[1])  # of the entry that names the true list
            assert code == 1 and "does not hold the digest given" in said, change


def with_less_in_the_job(forged):
    """An entry's text, its records' digests and the report, all made to match: the job charged 100 g less."""
    lines = forged.lines("vouchers.jsonl")
    one = next(one for one in lines if json.loads(one["text"])[3] == "job")
    one["text"] = one["text"].replace(",490000,0]", ",390000,0]")
    forged.put_lines("vouchers.jsonl", lines)
    rows = [row.split(",") for row in forged.read("reports/usage.csv").decode().splitlines()]
    rows[1][rows[0].index("charged")] = "390.000"
    rows[1][-1] = f"{float(rows[1][-1]) + 100:.3f}"
    forged.write("reports/usage.csv", "".join(",".join(row) + "\n" for row in rows).encode())
    return one["number"]


def without_the_last_entry(forged):
    """The ledger, cut off before a shipment."""
    lines = forged.lines("vouchers.jsonl")
    gone = next(one["number"] for one in lines if json.loads(one["text"])[3] == "retirement")
    forged.put_lines("vouchers.jsonl", [one for one in lines if one["number"] < gone])
    forged.put_lines("records.jsonl", [one for one in forged.lines("records.jsonl") if one["voucher"] < gone])
    forged.write("links.bin", forged.read("links.bin")[: 32 * (gone - 1)])
    for name in forged.names():
        if name.startswith(("issued/", "papers/")):
            (forged.folder / name).unlink()
    rows = [row.split(",") for row in forged.read("reports/usage.csv").decode().splitlines()]
    at = rows[0].index("heel_loss")
    rows[1][-1] = f"{float(rows[1][-1]) + float(rows[1][at]):.3f}"
    rows[1][at] = "0.000"
    forged.write("reports/usage.csv", "".join(",".join(row) + "\n" for row in rows).encode())
    manifest = forged.json("manifest.json")
    forged.relist(head={"number": gone - 1, "digest": ""}, entries=[manifest["entries"][0], gone - 1])
    return gone


@pytest.mark.parametrize("change", [with_less_in_the_job, without_the_last_entry])
@pytest.mark.parametrize("ledger", ["its own", "made up"])
def test_a_chain_made_anew_is_not_the_one_that_others_hold(shop_with_all, tmp_path, change, ledger):
    _, printed = shop_with_all
    path = bundled(tmp_path / "b.zip")
    forged = Forged(path, tmp_path / "f")
    number = change(forged)
    forged.rechain(str(uuid.uuid4()) if ledger == "made up" else None)
    packed = forged.pack(tmp_path / "f.zip")
    code, said = alone(forged.folder)
    assert code == 1 and ALONE in said, said
    code, said = alone(forged.folder, printed)
    assert code == 1 and "does not hold the digest given" in said
    code, said = asked(packed)
    own = f"This ledger parts from it after entry {number - 1}."
    assert code == 1 and (said == own if ledger == "its own" else "of another ledger" in said)
    assert asked(packed, printed)[0] == 1
    before = Voucher.objects.get(number=number - 1).digest
    for judge, place in ((alone, forged.folder), (asked, packed)):
        assert judge(place, before)[0] == (ledger == "made up"), "up to there it is the true one"


def test_a_ledger_that_was_put_back_and_went_on_says_where_the_two_part(shop_with_all, tmp_path):
    """Two copies that both go on have one id: the bundle of one is not the other's."""
    number, printed = shop_with_all
    common = head()[0]
    with transaction.atomic():
        made(Party, name="In one", role="supplier")
        path = bundled(tmp_path / "b.zip", last=str(dt.date.today()))
        transaction.set_rollback(True)
    assert head()[0] == common
    code, said = asked(path)
    assert (code, said) == (1, f"This ledger parts from it after entry {common}, where this ledger ends.")
    made(Party, name="In the other", role="supplier")
    code, said = asked(path)
    assert (code, said) == (1, f"This ledger parts from it after entry {common}.")
    code, said = asked(path, printed)
    assert code == 0 and f"the digest given is that of entry {number}" in said
    assert f"This ledger parts from it after entry {common}." in said, "said also where a digest attests"


def test_what_was_erased_is_in_no_bundle_and_the_bundle_holds(shop_with_all, tmp_path, monkeypatch):
    monkeypatch.setattr("inventory.ledger.erasing.Erasable.held_by", lambda self: None)  # years later
    before = bundled(tmp_path / "before.zip")
    gas, paper = Party.objects.get(name="Gas Supply"), Attachment.objects.get(title="Invoice D-1")
    erased = {
        erase("party", gas.code, why="asked", by="olive"),
        erase("attachment", str(paper.pk), why="mistake", by="o"),
    }
    path = bundled(tmp_path / "after.zip")
    forged = Forged(path, tmp_path / "f")
    for name in forged.names():
        assert b"Gas Supply" not in forged.read(name) and b"Invoice D-1" not in forged.read(name), name
    gone = [one for one in forged.lines("records.jsonl") if "erased" in one]
    assert {one["erased"] for one in gone} == erased
    assert all(set(one) == {"voucher", "line", "kind", "key", "digest", "erased"} for one in gone)
    assert asked(path)[0] == 0 and alone(path, head()[1])[0] == 0
    assert asked(before)[0] == 0, "one that was handed out before is what it was"
    for change in (lambda one: one.pop("erased"), lambda one: one.update(erased=one["erased"] + 1)):
        forged = Forged(path, tmp_path / "f")
        lines = forged.lines("records.jsonl")
        change(next(one for one in lines if "erased" in one))
        forged.put_lines("records.jsonl", lines)
        forged.relist()
        forged.enter()
        assert alone(forged.folder)[0] == 1 and "does not hold" in asked(forged.pack(tmp_path / "f.zip"))[1]


def test_a_bundle_tells_of_nobody_outside_its_period(shop_with_all, tmp_path):
    """Their words were stated in the same entries as those of the period."""
    stranger = made(Party, name="Not In It", role="supplier")
    forged = Forged(bundled(tmp_path / "b.zip", first="2026-02-01"), tmp_path / "f")
    for name in ("records.jsonl", "who.csv"):
        text = forged.read(name).decode()
        assert "Renew" in text and "Not In It" not in text and stranger.code not in text, name
        assert "Ada Example" not in text, "there was no job in February"
    kinds = {one["kind"] for one in forged.lines("records.jsonl")}
    assert {"ledger", "settings", "rulebook", "person", "certificate", "seal", "container", "party"} <= kinds
    assert "job" not in kinds and "customer" not in kinds


def test_every_bundle_has_its_entry_and_one_that_failed_too(shop_with_all, tmp_path, monkeypatch):
    before = head()[0]
    monkeypatch.setattr("shopledger.inspection.bundle.os.replace", lambda *_: (_ for _ in ()).throw(OSError("full")))
    with pytest.raises(CommandError):
        bundled(tmp_path / "b.zip")
    assert list(tmp_path.glob("*.zip")) == [] and head()[0] == before + 1
    assert Voucher.objects.get(number=before + 1).kind == "handout"
    monkeypatch.undo()
    monkeypatch.setattr("shopledger.inspection.bundle.handout.enter", lambda *_: (_ for _ in ()).throw(OSError("away")))
    with pytest.raises(CommandError):
        bundled(tmp_path / "b.zip")
    assert list(tmp_path.glob("*.zip")) == [] and head()[0] == before + 1
    monkeypatch.undo()
    bundled(tmp_path / "b.zip")
    about = Record.objects.get(voucher=head()[0], kind="handout")
    assert json.loads(about.body)["head"]["number"] == before + 1
    assert Record.objects.get(voucher=head()[0], kind="words").salt, "the list names files with words in them"
    assert verify_ledger().faults == []


def test_the_verifier_knows_the_columns_of_the_usage_report():
    assert {cls.word: name for name, cls in IN.items()} == {
        cls.word: verify.CAME.get(cls.word, cls.word.replace(" ", "_")) for cls in IN.values()
    }
    assert {cls.word: name for name, cls in OUT.items()} == {
        cls.word: verify.WENT.get(cls.word, cls.word.replace(" ", "_")) for cls in OUT.values()
    }
