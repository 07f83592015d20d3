"""A photo belongs to the reading that it proves, in each revision to what that revision said."""

import html
import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfReader

from inventory.attachments.models import Attachment
from inventory.ledger.stated_rows import stated
from jobs.drafts.actions import change_job, enter_line
from jobs.drafts.photos import photos_told
from jobs.drafts.wording import reader_of
from jobs.signing.actions import correct_job, sign_job
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (fixture)
from tests.jobs.test_job_pages import job  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, enter, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
SIDES = iter(range(20, 200))


def send(client, job, proves, **more):  # noqa: F811
    upload = SimpleUploadedFile("p.jpg", picture(size=(next(SIDES), 30)), "image/jpeg")
    fields = {"key": str(uuid.uuid4()), "title": "scale", "file": upload, "proves": proves} | more
    return client.post(f"/jobs/{job.pk}/photos/", fields, headers=HTMX)


def said(job, person, shop):  # noqa: F811
    return [one.proves_said for one in photos_told(job, list(job.lines.all()), reader_of(person, shop.zone))]


def test_a_photo_says_which_reading_it_proves(job, technician, technician_client, shop):  # noqa: F811
    line = enter(job, technician, "charge", "CAN-1", before=440_000)
    oil = enter(job, technician, "oil-add", "OIL-1", quantity=30_000)
    change_job(job.pk, by=technician, vacuum_said="500 micron", vacuum_pa=66.7)
    for proves in (line.proof_before, line.proof_after, oil.proof_quantity, "vacuum_said", ""):
        assert send(technician_client, job, proves).status_code == 200
    job.refresh_from_db()
    told = [
        "CAN-1 before: 440 g",
        "CAN-1 after: not weighed",
        "OIL-1 quantity: 30 mL",
        "Vacuum reached: 500 micron",
        "",
    ]
    assert said(job, technician, shop) == told
    assert stated("attachment", str(Attachment.objects.earliest("id").pk)).said["proves"] == line.proof_before


@pytest.mark.parametrize(
    "proves", ["entry:0b5a7c1e-0000-4000-8000-000000000009:before", "entry:x:before", "unit", "signature:drawn:1"]
)
def test_a_reading_that_the_job_has_not_is_refused(job, technician_client, proves):  # noqa: F811
    answer = send(technician_client, job, proves)
    assert answer.status_code == 422 and "keep" in answer.content.decode()
    assert Attachment.objects.count() == 0


def test_an_entry_of_another_job_is_none_of_this_one(job, technician, technician_client):  # noqa: F811
    from jobs.drafts.actions import start_job

    other = start_job(unit=job.unit, technician=technician, by=technician, key=uuid.uuid4())
    line = enter(other, technician, "charge", "CAN-1", before=440_000)
    assert send(technician_client, job, line.proof_before).status_code == 422


def test_an_entry_that_is_removed_leaves_its_photo(job, technician, technician_client, shop):  # noqa: F811
    line = enter(job, technician, "charge", "CAN-1", before=440_000)
    send(technician_client, job, line.proof_before)
    technician_client.post(f"/jobs/{job.pk}/entry/{line.key}/remove/", headers=HTMX)
    assert said(job, technician, shop) == ["an entry that was removed since"]


def test_page_sheet_and_correction_say_it(job, technician, technician_client, shop):  # noqa: F811
    whole_job(job, technician)
    line = job.lines.filter(action="charge").first()
    send(technician_client, job, line.proof_before, chosen="on")
    signed = sign_job(job.pk, by=technician)
    page = html.unescape(technician_client.get(f"/jobs/{job.pk}/").content.decode())
    assert "CAN-1 before: 440 g" in " ".join(page.split())
    sheet = PdfReader(io.BytesIO(technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content))
    assert "Photo: scale of CAN-1 before: 440 g" in " ".join(sheet.pages[-1].extract_text().split())
    new = correct_job(signed.pk, by=technician, note="misread")
    line = new.lines.filter(action="charge").first()
    weights = {"container": "CAN-1", "before": 438_000, "after": line.after}
    enter_line(new.pk, by=technician, key=line.key, action="charge", **weights)
    send(technician_client, new, line.proof_before)
    assert said(new, technician, shop) == ["revision 1, CAN-1 before: 440 g", "CAN-1 before: 438 g"]
