"""Photos of a job: kept once, seen by those who see the job, on its sheet if chosen, and stated in the chain."""

import hashlib
import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pypdf import PdfReader

from inventory.attachments.models import Attachment
from inventory.ledger.stated_rows import stated
from jobs.people.models import Person, Role
from jobs.signing.actions import correct_job, sign_job
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (fixture)
from tests.jobs.test_job_pages import job  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def send(client, job, body=None, **more):  # noqa: F811
    upload = SimpleUploadedFile("p.jpg", body or picture(), "image/jpeg")
    fields = {"key": str(uuid.uuid4()), "title": "label", "file": upload} | more
    return client.post(f"/jobs/{job.pk}/photos/", fields, headers=HTMX)


def test_a_photo_is_kept_with_its_job_once(job, technician_client):  # noqa: F811
    key = str(uuid.uuid4())
    for _ in range(2):
        answer = send(technician_client, job, key=key, chosen="on")
        assert answer.status_code == 200 and "Photo: label" in answer.content.decode()
    one = Attachment.objects.get()
    assert (one.subject, one.chosen, one.added_by) == (f"job:{job.pk}", True, "tess")
    assert technician_client.get(f"/files/{one.pk}/").status_code == 200
    other = Person.objects.create_user(username="tom", name="Tom", role=Role.TECHNICIAN)
    stranger = Client()
    stranger.force_login(other)
    assert stranger.get(f"/files/{one.pk}/").status_code == 404
    assert send(stranger, job).status_code == 404


def test_a_photo_that_a_phone_kept_smaller_is_the_one_that_it_was_made_of(job, technician_client):  # noqa: F811
    """Its first sending arrived, and the answer was lost. Another file under its key is another photo."""
    key, whole, smaller = str(uuid.uuid4()), picture(size=(300, 200)), picture(size=(30, 20))
    made_of = {"file-sha256": hashlib.sha256(whole).hexdigest()}
    assert send(technician_client, job, whole, key=key).status_code == 200
    assert send(technician_client, job, smaller, key=key, **made_of).status_code == 200
    refused = send(technician_client, job, smaller, key=key)
    assert refused.status_code == 422 and "Choose the file again" in refused.content.decode()
    assert Attachment.objects.count() == 1


def test_what_is_no_photo_is_refused_at_the_field(job, technician_client):  # noqa: F811
    answer = send(technician_client, job, body=b"MZ\x90")
    assert answer.status_code == 422 and "neither a picture nor a PDF" in answer.content.decode()
    assert Attachment.objects.count() == 0


def test_a_photo_is_left_off_the_sheet_or_withdrawn(job, technician_client):  # noqa: F811
    send(technician_client, job, chosen="on")
    one = Attachment.objects.get()
    address = f"/jobs/{job.pk}/photos/{one.pk}/"
    technician_client.post(address, {"chosen": "off"}, headers=HTMX)
    assert Attachment.objects.get().chosen is False
    answer = technician_client.post(address, {"why": ""}, headers=HTMX)
    assert answer.status_code == 422 and "Say why" in answer.content.decode()
    technician_client.post(address, {"why": "thumb"}, headers=HTMX)
    assert Attachment.objects.get().withdrawn_why == "thumb"
    assert technician_client.post(address, {"chosen": "on"}, headers=HTMX).status_code == 422


def test_the_sheet_shows_what_was_chosen_and_the_chain_names_all(job, technician, technician_client):  # noqa: F811
    send(technician_client, job, chosen="on")
    send(technician_client, job, body=picture(size=(60, 20)), title="leak")
    whole_job(job, technician)
    signed = sign_job(job.pk, by=technician)
    photos = Attachment.objects.order_by("id")
    told = [stated("attachment", str(one.pk)) for one in photos]
    assert [(one.said["subject"], one.said["title"], one.said["sha256"]) for one in told] == [
        (f"job:{job.pk}", one.title, one.sha256) for one in photos
    ]
    assert max(one.voucher for one in told) < signed.voucher_id, "before the job was signed"
    sheets = {technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content for _ in range(2)}
    assert len(sheets) == 1
    pages = PdfReader(io.BytesIO(sheets.pop())).pages
    shown = pages[1].extract_text()
    assert len(pages) == 2 and photos[0].sha256 in shown and photos[1].sha256 not in shown
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Photo: label" in page and "Photo: leak" in page
    assert send(technician_client, job).status_code == 422, "a signed job is locked"
    new = correct_job(job.pk, by=technician, note="x")
    assert "Photo: label" in technician_client.get(f"/jobs/{new.pk}/").content.decode()


def test_a_label_of_another_shop_leads_nowhere(job, technician_client):  # noqa: F811
    answer = technician_client.get("/scan/NOT-OURS/", follow=True)
    assert answer.status_code == 200
    assert "no container NOT-OURS in this shop" in answer.content.decode()
