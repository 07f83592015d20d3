"""The customer's signature by finger: one that stands, on a draft alone, on the page and on paper."""

import html
import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfReader

from inventory.attachments.models import Attachment
from inventory.ledger.erasing import erase
from inventory.ledger.stated_rows import stated
from jobs.drafts.actions import change_job
from jobs.drafts.photos import photos_of
from jobs.drafts.signatures import REPLACED, signature_of
from jobs.signing.actions import correct_job, sign_job
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (fixture)
from tests.jobs.test_job_pages import job  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, whole_job  # noqa: F401 (fixtures)
from tests.shopledger.test_erasing import LATER

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def send(client, job, name="Ada Example", body=None, **more):  # noqa: F811
    fields = {"key": str(uuid.uuid4()), "name": name} | more
    if body is not None:
        fields["file"] = SimpleUploadedFile("signature.png", body, "image/png")
    return client.post(f"/jobs/{job.pk}/finger/", fields, headers=HTMX)


def drawn(width=90):
    return picture("PNG", size=(width, 30))


def test_a_signature_is_kept_once_with_name_and_moment(job, technician_client):  # noqa: F811
    key = str(uuid.uuid4())
    for _ in range(2):
        answer = send(technician_client, job, body=drawn(), key=key)
        assert answer.status_code == 200 and "Signature of Ada Example" in answer.content.decode()
    one = Attachment.objects.get()
    assert (one.title, one.proves, one.type) == ("Ada Example", f"signature:drawn:{job.version}", "image/png")
    assert stated("attachment", str(one.pk)).said["title"] == "Ada Example"
    assert list(photos_of(job)) == [], "it is no photo of the work"
    refused = send(technician_client, job, body=drawn(80), key=key, name="Bo")
    assert refused.status_code == 422 and "already recorded" in refused.content.decode()


def test_a_new_one_takes_the_place_of_the_old(job, technician_client):  # noqa: F811
    send(technician_client, job, body=drawn())
    send(technician_client, job, body=drawn(80), name="Bo Example")
    first, second = Attachment.objects.order_by("id")
    assert (first.withdrawn_why, first.withdrawn_by) == (REPLACED, "tess") and signature_of(job) == second
    address = f"/jobs/{job.pk}/finger/back/"
    answer = technician_client.post(address, {"why": ""}, headers=HTMX)
    assert answer.status_code == 422 and "Say why" in answer.content.decode()
    assert technician_client.post(address, {"why": "left before"}, headers=HTMX).status_code == 200
    assert signature_of(job) is None


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"name": "", "body": b"\x89PNG\r\n\x1a\n"}, "Write the name"),
        ({"body": picture()}, "PNG picture"),
        ({"body": b"%PDF-1.4"}, "PNG picture"),
        ({"body": b"\x89PNG\r\n\x1a\nno more"}, "picture"),
        ({"body": b"\x89PNG\r\n\x1a\n" + b"0" * 300_000}, "larger than a signature"),
    ],
)
def test_what_is_no_signature_is_refused_and_the_old_one_stands(job, technician_client, said, why):  # noqa: F811
    send(technician_client, job, body=drawn())
    answer = send(technician_client, job, **said)
    assert answer.status_code == 422 and why in html.unescape(answer.content.decode())
    assert signature_of(job).title == "Ada Example" and Attachment.objects.count() == 1


def test_who_draws_nothing_types_their_name(job, technician_client):  # noqa: F811
    answer = send(technician_client, job, name="Zoë Пример")
    assert answer.status_code == 200 and "name typed" in answer.content.decode()
    assert Attachment.objects.get().proves.startswith("signature:typed:")


def test_a_change_after_it_is_said(job, technician, technician_client):  # noqa: F811
    send(technician_client, job, body=drawn())
    assert signature_of(job).changed is False
    change_job(job.pk, by=technician, repairs="Hose")
    job.refresh_from_db()
    assert signature_of(job).changed is True
    page = send(technician_client, job, body=drawn(80))
    assert "was changed after" not in page.content.decode()


def test_page_and_sheet_show_it_and_a_correction_is_signed_anew(job, technician, technician_client):  # noqa: F811
    whole_job(job, technician)
    job.refresh_from_db()
    send(technician_client, job, body=drawn())
    signed = sign_job(job.pk, by=technician)
    assert signature_of(signed).changed is False
    page = " ".join(technician_client.get(f"/jobs/{job.pk}/").content.decode().split())
    assert "<strong>Ada Example</strong>, signed by finger" in page
    sheets = {technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content for _ in range(2)}
    assert len(sheets) == 1
    words = " ".join(PdfReader(io.BytesIO(sheets.pop())).pages[0].extract_text().split())
    assert "Ada Example, signed by finger" in words and Attachment.objects.get().sha256[:8] in words
    assert send(technician_client, job, body=drawn(80)).status_code == 422, "a signed job is locked"
    new = correct_job(job.pk, by=technician, note="x")
    assert signature_of(new) is None


def test_it_goes_without_scripts(job, technician_client):  # noqa: F811
    address, said = f"/jobs/{job.pk}/finger/", {"key": str(uuid.uuid4()), "name": ""}
    answer = technician_client.post(address, said)
    assert answer.status_code == 422 and "Write the name" in answer.content.decode()
    answer = technician_client.post(address, {**said, "name": "Ada"})
    assert (answer.status_code, answer.url) == (302, f"/jobs/{job.pk}/#finger")
    answer = technician_client.post(f"{address}back/", {"why": ""})
    assert answer.status_code == 422 and "Say why" in answer.content.decode()


def test_once_it_is_erased_the_rest_of_the_sheet_stands(job, technician, technician_client, monkeypatch):  # noqa: F811
    whole_job(job, technician)
    job.refresh_from_db()
    send(technician_client, job, body=drawn())
    sign_job(job.pk, by=technician)
    monkeypatch.setattr("inventory.ledger.erasing.today", lambda: LATER)
    erase("attachment", str(Attachment.objects.get().pk), why="asked", by="olive")
    sheet = technician_client.get(f"/jobs/{job.pk}/sheet.pdf")
    words = " ".join(PdfReader(io.BytesIO(sheet.content)).pages[0].extract_text().split())
    assert sheet.status_code == 200 and "erased since, signed by finger" in words and "Ada Example, signed" not in words
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Erased since" in page and "<img" not in page
