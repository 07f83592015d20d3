"""Uploaded files: judged by what is in them, stripped of where they were taken, served as downloads."""

import hashlib
import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from inventory.attachments import content
from inventory.attachments.actions import attach, read_bytes, withdraw
from inventory.attachments.content import examine, safe_name
from inventory.attachments.models import Attachment
from inventory.attachments.queries import attachments_of
from inventory.text.refusal import Refused

PDF = b"%PDF-1.4\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"


def picture(kind="JPEG", size=(40, 30), **more):
    out = io.BytesIO()
    Image.new("RGB", size, (200, 10, 10)).save(out, kind, **more)
    return out.getvalue()


@pytest.fixture(scope="module")
def lock(tmp_path_factory):
    return tmp_path_factory.mktemp("lock") / "pictures.lock"


@pytest.fixture
def examined(lock):
    return lambda body, **more: examine(io.BytesIO(body), len(body), lock, **more)


@pytest.fixture(autouse=True)
def uploads(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "uploads"
    return settings.MEDIA_ROOT


def test_a_picture_loses_where_it_was_taken_and_stands_upright(examined):
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)  # a place
    exif[0x010E] = "a text"
    found = examined(picture(exif=exif.tobytes()))
    with Image.open(io.BytesIO(found.body)) as image:
        assert (found.type, image.size, dict(image.getexif())) == ("image/jpeg", (30, 40), {})


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_what_hides_behind_a_picture_is_gone(kind, examined):
    found = examined(picture(kind) + b"<script>alert(1)</script>MZ")
    assert b"script" not in found.body and found.type in {"image/jpeg", "image/png"}


def test_a_large_picture_is_made_smaller(examined):
    with Image.open(io.BytesIO(examined(picture(size=(5000, 2500))).body)) as image:
        assert image.size == (2400, 1200)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "is empty"),
        (b"MZ\x90\x00" + b"\0" * 200, "neither a picture nor a PDF"),
        (PDF[:-7], "cut off"),
        (b"<html><script>", "neither"),
        (picture()[:300], "damaged or cut off"),
        (b"GIF89a" + b"\0" * 50, "neither"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='x()'/>", "neither"),
        (b"PK\x03\x04" + b"\0" * 99, "neither"),
    ],
)
def test_what_is_no_picture_or_pdf_is_refused(body, said, examined):
    with pytest.raises(Refused, match=said):
        examined(body)


def test_a_pdf_is_kept_as_it_is_and_is_no_photo(examined):
    assert examined(PDF) == content.Content("application/pdf", PDF)
    with pytest.raises(Refused, match="a photo is wanted"):
        examined(PDF, pictures_only=True)


def test_a_flood_is_refused_before_it_is_read(lock):
    with pytest.raises(Refused, match="200 MB large; 15 MB are the most"):
        examine(io.BytesIO(), 200 * 1024 * 1024, lock)


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("invoice 7.pdf", "invoice 7.pdf"),
        ("../../etc/passwd", "passwd.pdf"),
        ("a.exe.pdf", "a.exe.pdf"),
        ("C:\\temp\\x.pdf", "x.pdf"),
        ("", "file.pdf"),
        ('a"b\r\nSet-Cookie: x.pdf', "abSet-Cookie x.pdf"),
    ],
)
def test_names_are_harmless(name, kept):
    assert safe_name(name, "pdf") == kept


@pytest.mark.django_db
def test_a_file_is_kept_once_and_proved_when_it_is_read(uploads):
    key = uuid.uuid4()
    for _ in range(2):
        one = attach(
            subject="voucher:1", upload=SimpleUploadedFile("i.pdf", PDF), by="oscar", title=" Invoice ", key=key
        )
    assert Attachment.objects.count() == 1
    assert (one.title, one.sha256) == ("Invoice", hashlib.sha256(PDF).hexdigest())
    assert [path.name for path in uploads.rglob("*") if path.is_file()] == [one.sha256]
    assert read_bytes(one) == PDF
    one.path.chmod(0o600)
    one.path.write_bytes(PDF.replace(b"obj", b"OBJ"))
    with pytest.raises(Refused, match="not as it was attached"):
        read_bytes(one)


@pytest.mark.django_db
def test_a_file_is_withdrawn_and_not_deleted():
    one = attach(subject="voucher:1", upload=SimpleUploadedFile("i.pdf", PDF), by="oscar")
    with pytest.raises(Refused, match="Say why"):
        withdraw(one.pk, by="oscar", why=" ")
    withdraw(one.pk, by="oscar", why="another delivery's")
    assert list(attachments_of("voucher:1")) == []
    assert list(attachments_of("voucher:1", withdrawn=True)) == [one]
    assert read_bytes(one) == PDF


@pytest.mark.django_db
def test_a_refused_file_leaves_nothing(uploads):
    with pytest.raises(Refused):
        attach(subject="voucher:1", upload=SimpleUploadedFile("i.pdf", b"MZ"), by="oscar")
    assert Attachment.objects.count() == 0 and not uploads.exists()


@pytest.mark.django_db
def test_a_file_is_served_as_a_download_to_those_who_may(shop, office_client, technician_client, client):
    one = attach(subject="voucher:1", upload=SimpleUploadedFile("инвойс.pdf", PDF), by="oscar")
    answer = office_client.get(f"/files/{one.pk}/")
    assert answer.content == PDF and answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith("attachment;") and answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]
    assert technician_client.get(f"/files/{one.pk}/").status_code == 404
    assert client.get(f"/files/{one.pk}/").status_code == 302
    assert office_client.post(f"/files/{one.pk}/").status_code == 405
