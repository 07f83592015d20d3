"""A weight that was read from a scale: what that sent is read again, kept with the weighing, shown and carried on."""

import html
import io
import uuid

import pytest
from pypdf import PdfReader

from inventory.containers.models import Scale
from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from jobs.drafts.actions import enter_line, start_job
from jobs.drafts.models import JobLine
from jobs.signing.actions import correct_job, sign_job
from tests.inventory.test_scale_sends import confirmed
from tests.jobs.test_jobs import bay, enter  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
SENT = "ST,GS,+0000.440kg<CR>"
KEPT = f"{SENT} | gross, stable"


@pytest.fixture
def job(shop, bay, technician):  # noqa: F811
    confirmed(Scale.objects.get())
    return start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())


def send(client, job, **more):
    fields = {"action": "charge", "key": str(uuid.uuid4()), "container": "CAN-1", "before": "0.440 kg"}
    return client.post(f"/jobs/{job.pk}/entry/", {**fields, "before_raw": SENT, **more}, headers=HTMX)


def test_what_the_scale_sent_is_kept_with_the_weight_and_its_scale(job, technician_client):
    assert send(technician_client, job).status_code == 200
    line = JobLine.objects.get()
    assert (line.before, line.before_raw, line.after_raw, line.scale.code) == (440_000, KEPT, "", "bench")
    assert line.read_from_scale == [("before", "bench", "ST,GS,+0000.440kg (gross, stable)")]


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"before": "441 g"}, "sent 0.440 kg, and this is another weight"),
        ({"before_raw": "US,GS,+0000.440kg<CR>"}, "still moving"),
        ({"before_raw": "ST,GS,+0000.440kg"}, "not complete"),
        ({"before_raw": "440 g<CR>"}, "not written in the form confirmed"),
        ({"scale": "floor"}, "Nobody has confirmed yet"),
    ],
)
def test_what_does_not_say_what_the_field_says_is_refused(job, technician_client, more, why):
    from tests.kept import made

    made(Scale, code="floor", readability_mg=5000)
    answer = send(technician_client, job, **more)
    assert answer.status_code == 422 and why in html.unescape(answer.content.decode())
    assert JobLine.objects.count() == 0


def test_it_stays_with_the_weight_until_that_is_another(job, technician, technician_client):
    key = str(uuid.uuid4())
    send(technician_client, job, key=key)
    assert send(technician_client, job, key=key, scale="bench", before_raw="", after="300").status_code == 200
    assert JobLine.objects.get().before_raw == KEPT, "the weight after was typed, the one before stands"
    send(technician_client, job, key=key, scale="bench", before="440", before_raw="", after="300", note="x")
    assert JobLine.objects.get().before_raw == KEPT
    send(technician_client, job, key=key, scale="bench", before="439", before_raw="", after="300")
    assert JobLine.objects.get().before_raw == ""


def test_another_container_or_scale_has_not_sent_it(job, technician):
    for change in ({"container": "CAN-2"}, {"scale": ""}):
        said = {"container": "CAN-1", "scale": "bench", "before": 440_000}
        line = enter(job, technician, "charge", before_raw=KEPT, **said)
        enter_line(job.pk, by=technician, key=line.key, action="charge", **{**said, **change})
        line.refresh_from_db()
        assert line.before_raw == ""
        line.delete()


def test_paper_page_and_correction_say_what_the_scale_sent(job, technician, technician_client):
    said = {"before": 440_000, "after": 100_000, "scale": "bench"}
    enter(job, technician, "charge", "CAN-1", before_raw=KEPT, **said)
    enter(job, technician, "charge", "CAN-2", **{**said, "after": 260_000})
    signed = sign_job(job.pk, by=technician, reasons=dict.fromkeys(("evacuation", "hold", "leak", "empty"), "x"))
    page = html.unescape(technician_client.get(f"/jobs/{job.pk}/").content.decode())
    assert "before read from scale bench: <code>ST,GS,+0000.440kg (gross, stable)</code>" in page
    sheet = PdfReader(io.BytesIO(technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content))
    words = " ".join(sheet.pages[0].extract_text().split())
    assert "Read from scales" in words and "ST,GS,+0000.440kg (gross, stable)" in words
    assert stated("job", f"{signed.number}/1").body["lines"][0]["before_raw"] == KEPT and verify().faults == []
    new = correct_job(job.pk, by=technician, note="The second can was misread")
    assert [line.before_raw for line in new.lines.all()] == [KEPT, ""]
