"""The inspection bundle: whole, readable without the program, and refused where one byte was changed."""

import datetime as dt
import html.parser
import io
import json
import re
import subprocess
import sys
import uuid
import zipfile
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.core.management.base import CommandError
from pypdf import PdfReader

from inventory.attachments.actions import attach
from inventory.ledger.models import Record, Voucher
from inventory.ledger.queries import head
from inventory.shop.models import Shop
from shopledger.inspection.models import BundleOrder
from shopledger.reports.registry import wanted
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (fixture)
from tests.kept import saved
from tests.shopledger.test_reports import log  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)
PERIOD = ("--from", "2026-01-01", "--to", "2026-03-31")


@pytest.fixture
def bundle(log, uploads, tmp_path):  # noqa: F811
    number = Voucher.objects.get(kind="receipt").number
    attach(subject=f"voucher:{number}", upload=SimpleUploadedFile("invoice.pdf", PDF), by="omar", title="Invoice D-1")
    path = tmp_path / "bundle.zip"
    call_command("bundle", *PERIOD, "--output", str(path))
    return path


def test_scans_what_happened_and_what_was_issued_are_in_it(log, uploads, settings, tmp_path):  # noqa: F811
    from jobs.people.models import Certificate
    from shopledger.sealing.actions import issue, seal_period

    settings.DATA_DIR = tmp_path
    certificate = Certificate.objects.get(number="C-1")
    scan = attach(subject=f"certificate:{certificate.pk}", upload=SimpleUploadedFile("scan.pdf", PDF), by="olive")
    attach(subject="certificate:999999", upload=SimpleUploadedFile("other.pdf", PDF), by="olive")
    saved(certificate, issuer="Another board")
    seal = seal_period(dt.date(2026, 1, 31), "olive")
    issue(seal, "olive")
    path = tmp_path / "with.zip"
    call_command("bundle", "--from", "2026-01-01", "--to", str(dt.date.today()), "--output", str(path))
    assert "The bundle holds." in verified(path)
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        assert [name for name in names if name.startswith("papers/")] == [f"papers/{scan.pk}.pdf"]
        assert "issued/usage-2026-01-05-to-2026-01-31-as-issued.csv" in names
        lines = [json.loads(line) for line in archive.read("trail.jsonl").splitlines()]
    assert any(one["after"] == {"issuer": "Another board"} for one in lines)


def of_the_period():
    return Voucher.objects.filter(day__lte="2026-03-31").order_by("number")


def verified(path):
    out = io.StringIO()
    call_command("verify", "--bundle", str(path), stdout=out)
    return out.getvalue()


def test_a_bundle_holds_all_that_was_promised(bundle):
    assert "The bundle holds." in verified(bundle)
    with zipfile.ZipFile(bundle) as archive:
        names = set(archive.namelist())
        for report in wanted(Shop.current().rules, dt.date.max):
            assert {f"reports/{report}.pdf", f"reports/{report}.csv"} <= names
        (job,) = [name for name in names if name.startswith("jobs/")]
        assert "J-1" in PdfReader(io.BytesIO(archive.read(job))).pages[0].extract_text()
        assert [archive.read(name) for name in names if name.startswith("papers/")] == [PDF]
        assert b"Trade school" in archive.read("certificates.csv")
        manifest = json.loads(archive.read("manifest.json"))
        before = Voucher.objects.get(number=head()[0] - 1)  # the last entry is that of the bundle
        assert manifest["head"] == {"number": before.number, "digest": before.digest}
        assert set(manifest["files"]) == names - {"manifest.json", "receipt.json"}
        numbers = [json.loads(line)["number"] for line in archive.read("vouchers.jsonl").splitlines()]
        assert set(of_the_period().values_list("number", flat=True)) <= set(numbers)
        records = [json.loads(line) for line in archive.read("records.jsonl").splitlines()]
        assert {one["voucher"] for one in records} <= set(numbers)


def test_its_index_opens_without_the_program(bundle):
    with zipfile.ZipFile(bundle) as archive:
        names = set(archive.namelist())
        for page in ("index.html", "check.html"):
            text = archive.read(page).decode()
            assert "<script" not in text and "http://" not in text and "https://" not in text
        found = re.findall(r'href="([^"]+)"', archive.read("index.html").decode())
        assert {html.unescape(name) for name in found} <= names and len(found) > 15


def test_anyone_recomputes_the_chain(bundle, tmp_path):
    """A script with nothing of this program in it, and the very lines that the bundle prints."""
    with zipfile.ZipFile(bundle) as archive:
        for name in ("vouchers.jsonl", "links.bin", "manifest.json"):
            archive.extract(name, tmp_path)
        lines = html.unescape(archive.read("check.html").decode())
        digest = json.loads(archive.read("manifest.json"))["head"]["digest"]
    script = Path(__file__).with_name("recompute_chain.py")
    assert not re.search(r"import (django|inventory|jobs|shopledger)", script.read_text())
    run = subprocess.run([sys.executable, script, tmp_path], capture_output=True, text=True)
    assert run.stdout.strip() == digest, run.stderr
    printed = re.search(r"<<'END'\n(.*?)\nEND", lines, re.S)[1]
    assert len(printed.splitlines()) <= 10
    run = subprocess.run([sys.executable, "-c", printed], capture_output=True, text=True, cwd=tmp_path)
    assert digest in run.stdout, run.stderr
    changed = (tmp_path / "vouchers.jsonl").read_text().replace('"2026-01-12"', '"2026-01-13"', 1)
    (tmp_path / "vouchers.jsonl").write_text(changed)
    for command in ([script, tmp_path], ["-c", printed]):
        run = subprocess.run([sys.executable, *command], capture_output=True, cwd=tmp_path)
        assert run.returncode == 1


def test_one_byte_changed_in_each_kind_of_file_is_refused_with_its_name(bundle, tmp_path):
    whole = bundle.read_bytes()
    with zipfile.ZipFile(bundle) as archive:
        members = {re.sub(r"/.*\.", "/*.", one.filename): one for one in archive.infolist()}
    assert {"reports/*.pdf", "reports/*.csv", "jobs/*.pdf", "papers/*.pdf", "vouchers.jsonl", "index.html"} <= set(
        members
    )
    path = tmp_path / "changed.zip"
    for member in members.values():
        extra = int.from_bytes(whole[member.header_offset + 28 : member.header_offset + 30], "little")
        place = member.header_offset + 30 + len(member.filename.encode()) + extra + member.compress_size // 2
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x01]) + whole[place + 1 :])
        with pytest.raises(CommandError) as refused:
            verified(path)
        assert refused.value.returncode == 1
        if member.filename != "manifest.json":
            assert member.filename in str(refused.value), member.filename
    for cut in (0, 100, len(whole) - 1):
        path.write_bytes(whole[:cut])
        with pytest.raises(CommandError):
            verified(path)


def test_a_bundle_takes_no_other_s_place_and_needs_a_period(bundle, log):  # noqa: F811
    with pytest.raises(CommandError) as refused:
        call_command("bundle", *PERIOD, "--output", str(bundle))
    assert refused.value.returncode == 1 and "is there already" in str(refused.value)
    with pytest.raises(CommandError) as wrong:
        call_command("bundle", "--from", "2026-02-01", "--to", "2026-01-01", "--output", "x.zip")
    assert wrong.value.returncode == 2


def test_an_empty_period_makes_a_bundle_too(log, tmp_path):  # noqa: F811
    path = tmp_path / "empty.zip"
    call_command("bundle", "--from", "1999-01-01", "--to", "1999-12-31", "--output", str(path))
    assert "0 vouchers" in verified(path)


def test_a_bundle_is_made_beside_the_page_and_downloaded(log, settings, tmp_path, office_client, technician_client):  # noqa: F811
    settings.DATA_DIR = tmp_path
    form = {"key": str(uuid.uuid4()), "first": "2026-01-01", "last": "2026-03-31"}
    answer = office_client.post("/bundles/", form)
    assert answer.status_code == 302 and office_client.post("/bundles/", form).url == answer.url
    order = BundleOrder.objects.get()
    page = office_client.get(answer.url).content.decode()
    assert order.state == "made" and "1 job sheets" in page and order.sha256 in page
    number, digest = head()
    assert f"Entry {number} names its list" in page and digest in page
    assert Record.objects.get(voucher=number, kind="handout").key == str(order.key)
    assert "handout" in office_client.get(f"/ledger/{number}/").content.decode()
    path = tmp_path / "copy.zip"
    file = office_client.get(f"/bundles/{order.pk}/file/")
    assert f'filename="inspection-2026-01-01-to-2026-03-31-{order.pk}.zip"' in file["Content-Disposition"]
    path.write_bytes(b"".join(file.streaming_content))
    assert "The bundle holds." in verified(path)
    assert technician_client.get("/bundles/").status_code == 403
    wrong = {"key": str(uuid.uuid4()), "first": "2026-03-31", "last": "2026-01-01"}
    assert office_client.post("/bundles/", wrong).status_code == 422


def test_a_bundle_of_another_shop_in_the_same_folder_is_left_alone(log, settings, tmp_path, office_client):  # noqa: F811
    """Theirs is of the same days and has the same number: only the key that came with the form tells the two apart."""
    settings.DATA_DIR = tmp_path
    form = {"key": str(uuid.uuid4()), "first": "2026-01-01", "last": "2026-03-31"}
    office_client.post("/bundles/", form)
    theirs = BundleOrder.objects.get()
    lie = {path.name: path.read_bytes() for path in (tmp_path / "bundles").iterdir()}
    assert set(lie) == {f"{theirs.key.hex}.zip", f"{theirs.key.hex}.progress"}
    BundleOrder.objects.all().delete()  # our database knows nothing of it
    ours = BundleOrder.objects.create(pk=theirs.pk, first=theirs.first, last=theirs.last, by="oscar")
    call_command("make_bundle", str(ours.pk))
    ours.refresh_from_db()
    assert ours.is_made and (tmp_path / "bundles" / f"{ours.key.hex}.zip").exists()
    assert {name: (tmp_path / "bundles" / name).read_bytes() for name in lie} == lie


def test_the_ledger_says_whether_it_holds_a_printed_digest(log, technician_client):  # noqa: F811
    first = Voucher.objects.get(number=1)
    page = technician_client.get(f"/proof/?digest={first.digest.upper()}").content.decode()
    assert "The ledger holds it" in page and f"{Voucher.objects.count() - 1} vouchers were recorded since" in page
    assert "does not hold this digest" in technician_client.get(f"/proof/?digest={'0' * 64}").content.decode()
    assert technician_client.get("/proof/?digest=nonsense").status_code == 422
