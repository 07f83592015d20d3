"""Several people on one job: added, ended, handed over; who wrote what; and who signs."""

import datetime as dt
import io
import json
import uuid

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from pypdf import PdfReader

from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.actions import ChangedMeanwhile, change_job, drop_job, enter_line, line_mark, skip_step, start_job
from jobs.drafts.hands import add_hand, end_hand, hand_over
from jobs.drafts.merge import marks
from jobs.drafts.models import Job, JobHand, JobLine
from jobs.drafts.queries import jobs_for
from jobs.drafts.signed import signed
from jobs.people.actions import add_certificate
from jobs.people.models import Person
from jobs.signing.actions import NotSignable, correct_job, sign_job
from tests.jobs.test_job_pages import entry, job, step_fields  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, enter, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db


def person(username, role="technician", **more):
    return Person.objects.create_user(
        username, password="wet pump 7 am", name=f"{username.title()} Test", role=role, **more
    )


def certified(somebody):
    issued = today() - dt.timedelta(100)
    add_certificate(
        by=None, person=somebody, scheme="Section 609", number=f"A-{somebody.pk}", issued=issued, expires=None
    )
    return somebody


@pytest.fixture
def timur(db):
    return person("timur")


@pytest.fixture
def timur_client(timur):
    client = Client()
    client.force_login(timur)
    return client


# -- a colleague ------------------------------------------------------------------------------------------


def test_a_colleague_enters_everything_and_does_not_sign(job, technician, timur):  # noqa: F811
    with pytest.raises(Refused, match="is Tess Test's; ask them"):
        change_job(job.pk, by=timur, vent_c=6.0)
    assert list(jobs_for(timur)) == []
    add_hand(job.pk, person=timur, by=technician)
    assert list(jobs_for(timur)) == list(jobs_for(technician)) == [job]
    change_job(job.pk, by=timur, step="check", vent_c=6.0)
    enter(job, timur, "charge", "CAN-1", before=440_000, after=100_000)
    enter(job, timur, "charge", "CAN-2", before=440_000, after=259_000)
    skip_step(job.pk, by=timur, step="oil", reason="none came out")
    with pytest.raises(Refused, match="Only Tess Test or the owner can sign"):
        sign_job(job.pk, by=timur)
    with pytest.raises(Refused, match="Tess Test answers for job"):
        drop_job(job.pk, by=timur)
    assert Job.objects.get().is_draft
    assert sign_job(job.pk, by=technician).is_signed and verify().faults == []


def test_only_who_answers_for_it_adds_and_ends_others(job, technician, timur, owner):  # noqa: F811
    hand = add_hand(job.pk, person=timur, by=technician)
    other = person("theo")
    with pytest.raises(Refused, match="answers for job"):
        add_hand(job.pk, person=other, by=timur)
    with pytest.raises(Refused, match="answers for job"):
        hand_over(job.pk, to=timur, by=timur)
    of_the_owner = add_hand(job.pk, person=other, by=owner)
    with pytest.raises(Refused, match="answers for job"):
        end_hand(job.pk, hand=of_the_owner.pk, by=timur)
    end_hand(job.pk, hand=hand.pk, by=timur)  # themselves they may
    assert list(jobs_for(timur)) == [] and list(jobs_for(other)) == [job]
    with pytest.raises(Refused, match="is Tess Test's"):
        change_job(job.pk, by=timur, vent_c=6.0)


def test_an_ended_hand_stays_ended_and_may_come_again(job, technician, timur):  # noqa: F811
    hand = add_hand(job.pk, person=timur, by=technician)
    assert add_hand(job.pk, person=timur, by=technician) == hand, "once"
    end_hand(job.pk, hand=hand.pk, by=technician)
    kept = JobHand.objects.get()
    version = Job.objects.get().version
    end_hand(job.pk, hand=hand.pk, by=technician)
    assert JobHand.objects.get().ended == kept.ended and Job.objects.get().version == version
    assert add_hand(job.pk, person=timur, by=technician) != hand
    end_hand(job.pk, hand=hand.pk, by=technician)  # the old form's button, pressed late: the new one stays
    assert list(jobs_for(timur)) == [job]
    with pytest.raises(IntegrityError), transaction.atomic():
        JobHand.objects.create(job=job, person=timur, since=kept.since, by=technician)


def test_who_cannot_be_a_hand_is_refused_with_what_is_right(job, technician, office):  # noqa: F811
    gone = person("gone", is_active=False)
    for somebody, why in (
        (technician, "is its technician already; name a colleague"),
        (office, "does no jobs; name a technician or the owner"),
        (gone, "no longer works here; name someone who does"),
    ):
        with pytest.raises(Refused, match=why) as refused:
            add_hand(job.pk, person=somebody, by=technician)
        assert refused.value.field == "person"
        with pytest.raises(Refused) as refused:
            hand_over(job.pk, to=somebody, by=technician)
        assert refused.value.field == "to"
    assert not JobHand.objects.exists()
    with pytest.raises(Refused, match="no person of this job"):
        end_hand(job.pk, hand=0, by=technician)


def test_a_signed_job_takes_no_more_hands(job, technician, timur):  # noqa: F811
    whole_job(job, technician)
    sign_job(job.pk, by=technician)
    for act in (
        lambda: add_hand(job.pk, person=timur, by=technician),
        lambda: hand_over(job.pk, to=timur, by=technician),
    ):
        with pytest.raises(Refused, match="is signed and no longer changes"):
            act()


# -- handing over -----------------------------------------------------------------------------------------


def test_a_job_that_is_handed_over_is_signed_by_its_new_technician(job, technician, timur):  # noqa: F811
    whole_job(job, technician)
    add_hand(job.pk, person=timur, by=technician)
    hand_over(job.pk, to=timur, by=technician, note="  The condenser is in, nothing is weighed after 3 pm. ")
    job.refresh_from_db()
    assert job.technician == timur
    stays = JobHand.objects.get(ended=None)
    assert (stays.person, stays.handed_to, stays.by) == (technician, timur, technician)
    assert stays.note == "The condenser is in, nothing is weighed after 3 pm."
    assert [one.person for one in JobHand.objects.exclude(ended=None)] == [timur], "no hand of their own job"
    change_job(job.pk, by=technician, vent_c=6.0)  # who handed it over still works on it
    with pytest.raises(Refused, match="Only Timur Test or the owner"):
        sign_job(job.pk, by=technician)
    with pytest.raises(NotSignable) as refused:
        sign_job(job.pk, by=timur)
    assert {one.key for one in refused.value.objections} == {"certificate-recover", "certificate-charge"}
    certified(timur)
    assert sign_job(job.pk, by=timur).certificate == f"Section 609 A-{timur.pk}"
    assert verify().faults == []


def test_it_may_come_back(job, technician, timur):  # noqa: F811
    hand_over(job.pk, to=timur, by=technician)
    with pytest.raises(Refused, match="is Timur Test's already"):
        hand_over(job.pk, to=timur, by=timur)
    hand_over(job.pk, to=technician, by=timur, note="all yours")
    found = list(JobHand.objects.order_by("id").values_list("person__username", "handed_to__username", "ended"))
    assert [(who, to, ended is None) for who, to, ended in found] == [("tess", "timur", False), ("timur", "tess", True)]


# -- who wrote what ---------------------------------------------------------------------------------------


def test_three_people_write_on_one_draft_and_none_is_lost(job, technician, timur, owner):  # noqa: F811
    """Each has the same page open. What two wrote of different fields is both kept; of the same one the later is asked;
    each step and entry keeps the names of all who wrote in it."""
    add_hand(job.pk, person=timur, by=technician)
    names = ("repairs", "leak_method", "leak_detector")
    shown = marks({name: getattr(job, name) for name in names})
    blank = dict.fromkeys(names, "")

    def save(by, **typed):
        return change_job(job.pk, by=by, step="repair", shown=shown, **{**blank, **typed})

    save(technician, repairs="Condenser")
    save(timur, leak_method="electronic")
    with pytest.raises(ChangedMeanwhile) as clash:
        save(owner, repairs="Compressor", leak_detector="D-1")
    assert clash.value.clashes == ("repairs",)
    save(owner, leak_detector="D-1")
    job.refresh_from_db()
    assert (job.repairs, job.leak_method, job.leak_detector) == ("Condenser", "electronic", "D-1")
    wrote = [one.by.username for one in job.steps.filter(step="repair")]
    assert wrote == ["tess", "timur", "olive"], "in the order in which they saved it last"
    key = uuid.uuid4()
    said = {"key": key, "action": "charge", "container": "CAN-1"}
    enter_line(job.pk, by=technician, before=440_000, **said)
    seen = line_mark(JobLine.objects.get())
    enter_line(job.pk, by=timur, before=440_000, after=100_000, shown=seen, **said)
    with pytest.raises(ChangedMeanwhile, match="Timur Test changed this entry"):
        enter_line(job.pk, by=owner, before=440_000, after=120_000, shown=seen, **said)
    line = JobLine.objects.get()
    assert [one.username for one in line.writers] == ["tess", "timur"] and line.after == 100_000
    enter_line(job.pk, by=technician, before=440_000, after=101_000, **said)
    line = JobLine.objects.get()
    assert (line.entered_by, line.last_by, line.after) == (technician, technician, 101_000)
    assert [one.username for one in line.writers] == ["tess"], "who entered it, and who changed it last"
    assert {one.by.username for one in job.steps.filter(step="charge")} == {"tess", "timur"}, "no name is lost"


def test_a_step_that_was_passed_over_counts_as_its_latest_writer_left_it(job, technician, timur, technician_client):  # noqa: F811
    whole_job(job, technician)
    add_hand(job.pk, person=timur, by=technician)
    skip_step(job.pk, by=technician, step="check", reason="it rains")
    change_job(job.pk, by=timur, step="check", vent_c=6.0)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Saved by Timur Test" in page and "it rains" not in page
    sign_job(job.pk, by=technician)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "it rains" not in page and "Tess Test, Timur Test" in page


def test_the_sheet_and_the_signed_page_name_who_worked_with_them(job, technician, timur, technician_client):  # noqa: F811
    whole_job(job, technician)
    left, wrote = person("lena"), person("wanda")
    add_hand(job.pk, person=timur, by=technician)
    for one in (left, wrote):
        add_hand(job.pk, person=one, by=technician)
    change_job(job.pk, by=wrote, step="check", vent_c=6.0)
    for one in JobHand.objects.filter(person__in=[left, wrote]):
        end_hand(job.pk, hand=one.pk, by=technician)
    draft = words(technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content)
    assert "Tess Test, with Timur Test, Wanda Test" in draft
    sign_job(job.pk, by=technician)
    once = technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content
    assert "Tess Test, with Timur Test, Wanda Test" in words(once) and "Lena" not in words(once)
    assert "Timur Test, Wanda Test" in technician_client.get(f"/jobs/{job.pk}/").content.decode()
    body = stated("job", "J-00001/1").body
    assert [one["person"] for one in body["hands"]] == ["timur", "lena", "wanda"]
    # Drawn from the record: what stands in the rows now changes no paper.
    JobHand.objects.all().update(ended=None, ended_by=None)
    assert technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content == once
    assert verify().faults != [], "and is found"


def words(pdf):
    return " ".join("".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_a_correction_has_the_hands_of_what_it_corrects(job, technician, timur):  # noqa: F811
    whole_job(job, technician)
    add_hand(job.pk, person=timur, by=technician)
    sign_job(job.pk, by=technician)
    new = correct_job(job.pk, by=technician, note="misread")
    change_job(new.pk, by=timur, vent_c=6.0)
    sign_job(new.pk, by=technician)
    assert signed(Job.objects.get(pk=new.pk)).others == ["Timur Test"] and verify().faults == []


# -- on the pages -----------------------------------------------------------------------------------------


def key():
    return {"key": str(uuid.uuid4())}


def test_a_colleague_is_added_and_ended_on_the_job_s_page(job, technician, timur, technician_client, timur_client):  # noqa: F811
    assert timur_client.get(f"/jobs/{job.pk}/").status_code == 404
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "answers for it and signs" in page and "Timur Test</option>" in page and "Who wrote what" not in page
    answer = technician_client.post(f"/jobs/{job.pk}/hands/", {"person": timur.pk, **key()})
    assert (answer.status_code, answer.url) == (302, f"/jobs/{job.pk}/#hands")
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "With <strong>Timur Test</strong> since" in page and "No longer on it" in page
    for address in ("/", "/jobs/"):
        assert job.number in timur_client.get(address).content.decode(), address
    page = timur_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "I am done here" in page and "Add a colleague" not in page and "Only Tess Test or the owner can sign" in page
    answer = timur_client.post(f"/jobs/{job.pk}/entry/", entry("charge", "CAN-1", before="440"))
    assert answer.status_code == 302 and JobLine.objects.get().entered_by == timur
    assert "Charge</dt><dd>Timur Test" in timur_client.get(f"/jobs/{job.pk}/").content.decode()
    hand = JobHand.objects.get()
    answer = timur_client.post(f"/jobs/{job.pk}/hands/{hand.pk}/end/")
    assert (answer.status_code, answer.url) == (302, "/jobs/")
    assert "You are no longer on job" in timur_client.get("/jobs/").content.decode()
    assert timur_client.get(f"/jobs/{job.pk}/").status_code == 404


def test_the_list_says_whose_job_it_is_where_not_all_are_the_readers(job, technician, timur, timur_client):  # noqa: F811
    mine = start_job(unit=job.unit, technician=timur, by=timur, **key())
    listed = lambda: timur_client.get("/jobs/").content.decode().partition("<table")[2].partition("</table>")[0]  # noqa: E731
    assert mine.title in listed() and "Technician" not in listed()
    add_hand(job.pk, person=timur, by=technician)
    assert job.title in listed() and "Tess Test" in listed() and "Timur Test" in listed()


def test_what_is_refused_stands_in_its_form(job, technician, technician_client, timur):  # noqa: F811
    answer = technician_client.post(f"/jobs/{job.pk}/hands/", key())
    assert answer.status_code == 422 and "Choose who works on it with you." in answer.content.decode()
    answer = technician_client.post(f"/jobs/{job.pk}/hands/", {"person": technician.pk, **key()})
    assert answer.status_code == 422 and "is its technician already" in answer.content.decode()
    data = {"to": technician.pk, "note": "kept as typed", **key()}
    answer = technician_client.post(f"/jobs/{job.pk}/hand-over/", data)
    page = answer.content.decode()
    assert answer.status_code == 422 and "is Tess Test&#x27;s already" in page and "kept as typed" in page
    assert not JobHand.objects.exists()


def test_who_takes_it_over_reads_the_note(job, technician_client, timur, timur_client):  # noqa: F811
    data = {"to": timur.pk, "note": "Mind the <b>low side</b>", **key()}
    assert technician_client.post(f"/jobs/{job.pk}/hand-over/", data).status_code == 302
    assert technician_client.post(f"/jobs/{job.pk}/hand-over/", data).status_code == 302, "the same form, once"
    assert JobHand.objects.count() == 1
    page = timur_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Handed over from Tess Test, " in page and "Mind the &lt;b&gt;low side&lt;/b&gt;" in page
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Add a colleague" not in page and "<strong>Timur Test</strong> answers for it" in page


def test_a_colleague_s_scan_leads_to_the_job(job, technician, timur, timur_client):  # noqa: F811
    assert timur_client.get("/scan/CAN-1/").url == "/stock/containers/CAN-1/"
    add_hand(job.pk, person=timur, by=technician)
    assert timur_client.get("/scan/CAN-1/").url.startswith(f"/jobs/{job.pk}/")


def test_marks_of_a_step_are_those_of_the_job(job):  # noqa: F811
    assert json.loads(step_fields("test")["shown"]).keys() >= {"test_medium", "test_start_said", "test_start_pa"}
