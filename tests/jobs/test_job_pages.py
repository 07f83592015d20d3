"""The pages of a job: what each step answers, and to whom."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.models import Voucher
from jobs.people.actions import add_certificate, add_person
from jobs.work.actions import start_job
from jobs.work.models import Job, JobLine
from tests.jobs.test_jobs import bay, content, enter, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def job(shop, bay, technician):  # noqa: F811
    return start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())


def entry(action, container="", **amounts):
    return {"action": action, "key": str(uuid.uuid4()), "container": container} | amounts


def test_a_job_is_started_from_its_unit_once(shop, bay, technician_client):  # noqa: F811
    page = technician_client.get("/jobs/new/?text=tst").content.decode()
    assert "TST-1" in page and "500 g to 540 g" in page
    key = {"key": str(uuid.uuid4())}
    first = technician_client.post(f"/jobs/new/{bay.pk}/", key)
    assert technician_client.post(f"/jobs/new/{bay.pk}/", key).url == first.url
    assert Job.objects.get().substance == "R-134a"


def test_a_weight_before_shows_the_reading_to_stop_at(job, technician_client):
    """520 g are the aim; CAN-1 holds 340 g: it is emptied, to its tare of 100 g. Then 180 g of CAN-2: 260 g."""
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", entry("charge", "CAN-1", before="440"), headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Stop when the scale shows" in page and '<span class="q">100 g</span>' in page
    line = JobLine.objects.get()
    data = entry("charge", "CAN-1", before="440", after="100") | {"key": str(line.key)}
    page = technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX).content.decode()
    assert "Next: <strong>CAN-2</strong>" in page and '<span class="q">260 g</span>' in page
    assert JobLine.objects.count() == 1


def test_over_the_most_is_said_at_once(job, technician_client, technician):
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    data = entry("charge", "CAN-2", before="440", after="200")
    page = technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX).content.decode()
    assert "Over the most on the label by" in page and "40 g" in page


def test_a_wrong_entry_comes_back_with_its_reason_and_what_was_typed(job, technician_client):
    data = entry("charge", "CAN-1", before="440", after="450")
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", data)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "cannot weigh more (450 g) than before (440 g)" in page and 'value="450"' in page
    assert JobLine.objects.count() == 0


def test_steps_save_by_themselves_and_refuse_what_cannot_be(job, technician_client):
    def save(step, **data):
        version = Job.objects.get().version
        return technician_client.post(f"/jobs/{job.pk}/step/{step}/", {"version": version, **data})

    assert save("evacuate", vacuum_said="500 micron").status_code == 302
    assert Job.objects.get().vacuum_pa == pytest.approx(66.66, abs=0.01)
    assert "is no vacuum reading" in save("evacuate", vacuum_said="500").content.decode()
    assert save("check", ambient_c="24.5", low_side_said="2.1 bar").status_code == 302
    assert "Write a number and psi" in save("check", low_side_said="much").content.decode()
    assert (
        "turn the two round" in save("start", day="2026-03-02", charge_min_mg="9", charge_max_mg="8").content.decode()
    )
    assert technician_client.post(f"/jobs/{job.pk}/step/nonsense/").status_code == 404


def test_a_page_that_is_behind_keeps_what_was_typed(job, technician_client, office_client):
    version = Job.objects.get().version
    office_client.post(f"/jobs/{job.pk}/step/check/", {"version": version, "note": "from the desk"})
    answer = technician_client.post(f"/jobs/{job.pk}/step/check/", {"version": version, "note": "from the bay"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "changed by someone else" in page and "from the bay" in page
    assert Job.objects.get().note == "from the desk"


def test_what_a_hose_holds_is_offered_as_the_line_loss(job, technician_client):
    """1.8 m x 4.8 mm full of liquid R-134a at 25 degrees C: 39.3 g (geometry and CoolProp 8.0.0)."""
    address = f"/jobs/{job.pk}/hose/?length_m=1.8&inner_diameter_mm=4.8&phase="
    page = technician_client.get(address + "liquid").content.decode()
    assert "39.3 g" in page and 'name="quantity" value="39.305"' in page
    assert technician_client.get(address + "plasma").status_code == 422
    assert technician_client.get(f"/jobs/{job.pk}/hose/?length_m=0", headers=HTMX).status_code == 422


def test_one_tap_keeps_the_moment(job, technician_client):
    technician_client.post(f"/jobs/{job.pk}/clock/evacuation_started/")
    assert Job.objects.get().evacuation_started is not None
    assert technician_client.post(f"/jobs/{job.pk}/clock/signed_at/").status_code == 404


def test_signing_twice_by_a_double_tap_posts_once(job, technician, technician_client):
    whole_job(job, technician)
    from inventory.shop.clock import today

    Job.objects.update(day=today())
    for _ in range(2):
        answer = technician_client.post(f"/jobs/{job.pk}/sign/")
        assert answer.status_code == 302, answer.content
    assert Voucher.objects.filter(kind="job").count() == 1
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "516 g" in page and Voucher.objects.get(kind="job").digest in page


def test_what_stands_in_the_way_is_said_and_reasons_are_kept(job, technician, technician_client):
    technician.certificates.all().delete()
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    answer = technician_client.post(f"/jobs/{job.pk}/sign/", {"reason-under": "only a little"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "has no certificate on file" in page and "only a little" in page
    assert Job.objects.get().reasons == {"under": "only a little"}
    assert Voucher.objects.filter(kind="job").count() == 0


def test_a_sheet_is_printed_the_same_each_time(job, technician, technician_client):
    whole_job(job, technician)
    assert technician_client.get(f"/jobs/{job.pk}/sheet.pdf").status_code == 200
    technician_client.post(f"/jobs/{job.pk}/sign/")
    sheets = {technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content for _ in range(2)}
    assert len(sheets) == 1 and sheets.pop().startswith(b"%PDF")


def test_a_technician_reaches_no_other_s_job(job, owner, client, office_client):
    other = add_person(by=owner, username="mara", name="Mara Test", role="technician")
    add_certificate(by=owner, person=other, scheme="X", number="1", issued=job.day)
    client.force_login(other)
    for page in ("", "correct/", "drop/", "sheet.pdf"):
        assert client.get(f"/jobs/{job.pk}/{page}").status_code == 404
    for page in ("sign/", "entry/", "step/start/", "clock/hold_started/"):
        assert client.post(f"/jobs/{job.pk}/{page}").status_code == 404
    assert str(job.number) not in client.get("/jobs/").content.decode()
    assert job.number in office_client.get("/jobs/").content.decode()
    assert "Only Tess Test or the owner can sign" in office_client.get(f"/jobs/{job.pk}/").content.decode()


def test_correcting_asks_why_and_opens_the_next_revision(job, technician, technician_client):
    whole_job(job, technician)
    technician_client.post(f"/jobs/{job.pk}/sign/")
    assert technician_client.post(f"/jobs/{job.pk}/correct/", {"note": ""}).status_code == 422
    answer = technician_client.post(f"/jobs/{job.pk}/correct/", {"note": "misread"})
    assert "This corrects revision 1: misread" in technician_client.get(answer.url).content.decode()


def test_a_draft_is_given_up_by_a_post_alone(job, technician_client):
    assert technician_client.get(f"/jobs/{job.pk}/drop/").status_code == 200
    assert Job.objects.get().state == "draft"
    assert technician_client.post(f"/jobs/{job.pk}/drop/").status_code == 302
    assert Job.objects.get().state == "dropped"


def test_text_is_shown_as_text(job, technician_client):
    version = Job.objects.get().version
    technician_client.post(f"/jobs/{job.pk}/step/check/", {"version": version, "note": "<script>alert(1)</script>"})
    assert b"<script>alert" not in technician_client.get(f"/jobs/{job.pk}/").content
    assert technician_client.get(f"/jobs/{job.pk}/sheet.pdf").status_code == 200


def test_the_number_of_queries_does_not_grow_with_what_is_shown(job, bay, technician, technician_client):  # noqa: F811
    def queries(page):
        with CaptureQueriesContext(connection) as captured:
            assert technician_client.get(page).status_code == 200
        return len(captured)

    enter(job, technician, "charge", "CAN-1", before=440_000, after=430_000)
    few = [queries(page) for page in (f"/jobs/{job.pk}/", "/jobs/")]
    for step in range(12):
        enter(job, technician, "charge", "CAN-1", before=430_000 - step * 1000, after=429_000 - step * 1000)
        start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    assert [queries(page) for page in (f"/jobs/{job.pk}/", "/jobs/")] == few
