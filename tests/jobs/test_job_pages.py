"""The pages of a job: what each step answers, and to whom."""

import datetime as dt
import html
import json
import re
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.containers.models import Container, Location
from inventory.ledger.accounts import AccountClass
from inventory.ledger.actions import writing
from inventory.ledger.models import Account, Voucher
from jobs.drafts.actions import start_job
from jobs.drafts.models import Job, JobLine
from jobs.pages.forms import STEPS
from jobs.people.actions import add_certificate, add_person
from tests.jobs.test_jobs import bay, content, enter, whole_job  # noqa: F401 (fixtures)
from tests.kept import made
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
SUPPLIER = AccountClass.SUPPLIER


@pytest.fixture
def job(shop, bay, technician):  # noqa: F811
    return start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())


def step_fields(step):
    """The hidden fields of a step's form as the page shows them now."""
    shown = Job.objects.select_related("technician").get()
    return {"shown": json.dumps(STEPS[step](job=shown, person=shown.technician).initial["shown"])}


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
    assert "450 g cannot be" in page and "It weighed 440 g before. Nothing went in." in page and 'value="450"' in page
    assert JobLine.objects.count() == 0


def test_steps_save_by_themselves_and_refuse_what_cannot_be(job, technician_client):
    def save(step, **data):
        return technician_client.post(f"/jobs/{job.pk}/step/{step}/", {**step_fields(step), **data})

    assert save("evacuate", vacuum_said="500 micron").status_code == 302
    assert Job.objects.get().vacuum_pa == pytest.approx(66.66, abs=0.01)
    assert "is no vacuum reading" in save("evacuate", vacuum_said="500").content.decode()
    assert save("check", ambient_c="24.5", low_side_said="2.1 bar").status_code == 302
    assert "Write a number and psi" in save("check", low_side_said="much").content.decode()
    assert (
        "turn the two round" in save("start", day="2026-03-02", charge_min_mg="9", charge_max_mg="8").content.decode()
    )
    assert technician_client.post(f"/jobs/{job.pk}/step/nonsense/").status_code == 404


def test_a_page_that_is_behind_keeps_what_was_typed_and_shows_what_is_recorded(job, technician_client, office_client):
    fields = step_fields("check")
    office_client.post(f"/jobs/{job.pk}/step/check/", {**fields, "note": "from the desk", "vent_c": "6"})
    answer = technician_client.post(f"/jobs/{job.pk}/step/check/", {**fields, "note": "from the bay"}, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Someone else changed this part" in page and "from the bay" in page
    assert "Recorded meanwhile: from the desk." in page and "Recorded meanwhile: 6" not in page
    assert Job.objects.get().note == "from the desk"
    again = html.unescape(re.search(r'name="shown" value="([^"]*)" id="id_shown"', page)[1])
    data = {"shown": again, "note": "from the bay", "vent_c": "6"}
    assert technician_client.post(f"/jobs/{job.pk}/step/check/", data).status_code == 302
    assert (Job.objects.get().note, Job.objects.get().vent_c) == ("from the bay", 6.0)


def test_steps_save_one_after_another_without_a_new_page(job, technician_client):
    """The forms of the other steps are those that the first page showed."""
    fields = {step: step_fields(step) for step in ("identify", "check", "start")}
    technician_client.post(f"/jobs/{job.pk}/step/identify/", {**fields["identify"], "identified_as": "R-134a"})
    technician_client.post(f"/jobs/{job.pk}/entry/", entry("charge", "CAN-1", before="440"))
    answer = technician_client.post(f"/jobs/{job.pk}/step/check/", {**fields["check"], "ambient_c": "24"}, headers=HTMX)
    assert answer.status_code == 200
    assert (Job.objects.get().identified_as, Job.objects.get().ambient_c) == ("R-134a", 24.0)


def test_a_step_without_its_marks_is_refused(job, technician_client):
    for shown in ("", "[]", "{", "null"):
        answer = technician_client.post(f"/jobs/{job.pk}/step/check/", {"shown": shown, "note": "x"})
        assert answer.status_code == 422 and "has lost its number" in answer.content.decode()
    assert Job.objects.get().note == ""


def test_what_a_hose_holds_is_offered_as_the_line_loss(job, technician_client):
    """1.8 m x 4.8 mm full of liquid R-134a at 25 degrees C: 39.3 g (geometry and CoolProp 8.0.0)."""
    address = f"/jobs/{job.pk}/hose/?length_m=1.8&inner_diameter_mm=4.8&phase="
    page = technician_client.get(address + "liquid").content.decode()
    assert "39.3 g" in page and 'name="quantity" value="39.305"' in page
    assert technician_client.get(address + "plasma").status_code == 422
    assert technician_client.get(f"/jobs/{job.pk}/hose/?length_m=0", headers=HTMX).status_code == 422


def test_one_tap_keeps_the_moment_and_what_was_typed_beside_it(job, technician_client, monkeypatch):
    moment = timezone.now()
    monkeypatch.setattr("django.utils.timezone.now", lambda: moment)  # however long the machine takes
    technician_client.post(f"/jobs/{job.pk}/clock/evacuation_started/")
    assert Job.objects.get().evacuation_started is not None
    assert technician_client.post(f"/jobs/{job.pk}/clock/signed_at/").status_code == 404
    data = {**step_fields("evacuate"), "evacuation_started": "2026-03-02T09:30", "vacuum_said": "500 micron"}
    technician_client.post(f"/jobs/{job.pk}/clock/evacuation_ended/", data)
    kept = Job.objects.get()
    assert kept.evacuation_ended is None, "it would be a stop within the minute of the start"
    assert (kept.vacuum_said, kept.evacuation_started.year) == ("500 micron", 2026)
    data = {**step_fields("evacuate"), "evacuation_started": "2026-03-02T09:30", "vacuum_said": "nonsense"}
    answer = technician_client.post(f"/jobs/{job.pk}/clock/evacuation_ended/", data, headers=HTMX)
    assert answer.status_code == 422 and "nonsense" in answer.content.decode()
    assert Job.objects.get().evacuation_ended is not None, "the moment is kept all the same"


def test_the_weight_that_is_wanted_is_asked_beside_the_figures(job, technician_client):
    """First of the container proposed, then after the charge; the rest of the entry goes along."""

    def asked(page):
        form = re.search(r'<section id="figures".*?<form class="form weigh"(.*?)</form>', page, re.DOTALL)[1]
        picked = re.search(r'name="pick".*?<option value="([^"]*)" selected', form, re.DOTALL)
        fields = dict(re.findall(r'name="([^"]+)"(?: value="([^"]*)")?', form))
        return {name: value for name, value in fields.items() if not name.endswith("-unit")} | (
            {"pick": picked[1]} if "pick" in fields else {}
        )

    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Weight of CAN-1 before, g" in page
    fields = asked(page) | {"before": "439"}
    page = technician_client.post(f"/jobs/{job.pk}/entry/", fields, headers=HTMX).content.decode()
    assert "Weight of CAN-1 after, g" in page and "Stop when the scale shows" in page
    assert "CAN-1: the scale says 1 g less than the book, within what weighing can tell" in page
    JobLine.objects.update(note="hissed")
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    fields = asked(page)
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", fields | {"after": ""}, headers=HTMX)
    assert answer.status_code == 422 and "Type what the display shows." in answer.content.decode()
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", fields | {"after": "500"}, headers=HTMX)
    assert answer.status_code == 422 and "500 g cannot be" in answer.content.decode()
    assert technician_client.post(f"/jobs/{job.pk}/entry/", fields | {"after": "100"}).url.endswith("#charge")
    line = JobLine.objects.get()
    assert (line.before, line.after, line.note) == (439_000, 100_000, "hissed")


def test_a_machine_s_label_asks_what_it_gave_and_a_can_s_its_weight(job, technician_client):
    Container.objects.filter(code="CAN-2").update(kind="machine", grade="recycled", opened_on=job.day)
    for code, asks in (("CAN-1", "Weight of CAN-1 before"), ("CAN-2", "What CAN-2 says it gave")):
        page = technician_client.get(f"/jobs/{job.pk}/?scanned={code}", headers=HTMX).content.decode()
        assert asks in page.partition('<section id="figures"')[2], code


def test_a_service_machine_is_asked_for_what_it_gave(job, technician_client):
    Container.objects.filter(code="CAN-2").update(kind="machine", grade="recycled", opened_on=job.day)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Next: <strong>CAN-2</strong> (Store). Let it give" in page
    assert "What CAN-2 says it gave, g" in page


def test_opened_cans_with_nothing_but_vapour_hide_no_full_one(job, technician_client):
    Container.objects.filter(code="CAN-1").update(opened_on=job.day)
    Account.objects.filter(container__code="CAN-1").update(balance=14_999)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "CAN-1" not in page and "Next: <strong>CAN-2</strong>" in page
    Account.objects.filter(container__code="CAN-1").update(balance=15_000)
    assert "Next: <strong>CAN-1</strong>" in technician_client.get(f"/jobs/{job.pk}/").content.decode()


def test_a_can_that_lost_gas_on_the_shelf_is_told_when_it_is_weighed(job, technician_client):
    data = entry("charge", before="428") | {"pick": "CAN-1"}
    page = technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX).content.decode()
    assert "CAN-1: the scale says 12 g less than the book; weighing can explain" in page
    assert "CAN-1 to unexplained loss" in page


def test_containers_are_offered_with_what_is_in_them_and_who_has_them(job, bay, technician, technician_client):  # noqa: F811
    other = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    enter(other, technician, "charge", "CAN-1", before=440_000)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert f"CAN-1 · 340 g · Store · in use on job {other.number}" in page
    assert "REC-1 · room not known · recovered · Store" in page and "OIL-1 · PAG 46 · 250 mL" in page
    assert "Next: <strong>CAN-2</strong>" in page, "what another job uses is not planned with"
    enter(job, technician, "charge", "CAN-1", before=440_000)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert f"CAN-1 is in use on job {other.number} of Tess Test too" in page


def test_the_plan_keeps_to_the_place_that_was_chosen(job, technician_client):
    van = made(Location, name="Van")
    Container.objects.filter(code="CAN-2").update(location=van)
    technician_client.post(f"/jobs/{job.pk}/place/", {"place": van.pk})
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Next: <strong>CAN-2</strong> (Van)" in page and "What stands at Van is" in page
    for odd in ("", "9" * 30, "x", "0"):
        technician_client.post(f"/jobs/{job.pk}/place/", {"place": odd})
        page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
        assert "Next: <strong>CAN-1</strong> (Store)" in page


def test_what_is_still_to_be_weighed_stands_in_the_way(job, technician, technician_client):
    enter(job, technician, "charge", "CAN-1", before=440_000)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "CAN-1: The weight after is missing" in page and "Nothing stands in the way" not in page


def test_a_summary_that_is_behind_is_not_signed(job, technician, technician_client):
    whole_job(job, technician)
    version = Job.objects.get().version
    enter(job, technician, "line-loss", quantity=1_000)
    answer = technician_client.post(f"/jobs/{job.pk}/sign/", {"version": version})
    assert answer.status_code == 422 and "was changed since this summary was made" in answer.content.decode()
    assert technician_client.post(f"/jobs/{job.pk}/sign/", {"version": version + 1}).status_code == 302


def test_a_new_unit_leads_back_to_its_job(shop, technician_client):
    page = technician_client.get("/jobs/new/?text=NEW-7").content.decode()
    address = html.unescape(re.search(r'href="(/units/new/[^"]*)"', page)[1])
    form = technician_client.get(address).content.decode()
    key = re.search(r'name="key" value="([^"]+)"', form)[1]
    answer = technician_client.post(address, {"key": key, "plate": "NEW-7", "kind": "vehicle"})
    page = technician_client.get(answer.url).content.decode()
    assert answer.url.startswith("/jobs/new/?text=U-") and "NEW-7" in page and ">Start</button>" in page


def test_jobs_are_found_by_state_technician_day_and_text(job, bay, owner, technician, office_client, technician_client):  # noqa: F811
    mara = add_person(by=owner, username="mara", name="Mara Test", role="technician")
    hers = start_job(unit=bay, technician=mara, by=owner, key=uuid.uuid4())

    def found(client, query):
        page = client.get(f"/jobs/?{query}").content.decode()
        return {one.number for one in (job, hers) if f">{one.number}</a>" in page}

    assert found(office_client, "") == {job.number, hers.number}
    assert found(office_client, f"technician={mara.pk}") == {hers.number}
    assert found(technician_client, f"technician={mara.pk}") == {job.number}
    assert found(office_client, "state=signed") == set()
    assert found(office_client, f"until={job.day - dt.timedelta(1)}") == set()
    assert found(office_client, "text=ada+ex") == {job.number, hers.number}
    assert found(office_client, "text=tst1") == {job.number, hers.number}
    assert found(office_client, f"text={hers.number}") == {hers.number}


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


def test_a_note_of_several_lines_is_signed(job, technician, technician_client):
    """A browser ends each line of a text field with CR LF."""
    from inventory.shop.clock import today

    whole_job(job, technician)
    Job.objects.update(day=today())
    data = step_fields("check") | {"note": "hissed at the hose\r\ncap missing"}
    assert technician_client.post(f"/jobs/{job.pk}/step/check/", data).status_code == 302
    assert technician_client.post(f"/jobs/{job.pk}/sign/").status_code == 302
    assert Voucher.objects.get(kind="job").note == "hissed at the hose\ncap missing"


def test_what_stands_in_the_way_is_said_and_reasons_are_kept(job, technician, technician_client):
    with writing():
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


def test_pages_about_a_draft_lead_from_a_signed_job_to_the_job(job, technician, technician_client):
    assert technician_client.get(f"/jobs/{job.pk}/correct/").url == f"/jobs/{job.pk}/"
    whole_job(job, technician)
    technician_client.post(f"/jobs/{job.pk}/sign/")
    assert technician_client.get(f"/jobs/{job.pk}/drop/").url == f"/jobs/{job.pk}/"


def test_text_is_shown_as_text(job, technician_client):
    data = {**step_fields("check"), "note": "<script>alert(1)</script>"}
    technician_client.post(f"/jobs/{job.pk}/step/check/", data)
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
        other = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
        code = f"CAN-{step + 3}"
        delivery(came(code, "can", 340_000, tare_mg=100_000), day=job.day)
        enter(other, technician, "charge", code, before=440_000)
        enter(job, technician, "recover", "REC-1", quantity=1_000)
        enter(job, technician, "oil-add", "OIL-1", quantity=1_000)
    assert [queries(page) for page in (f"/jobs/{job.pk}/", "/jobs/")] == few


@pytest.mark.parametrize(
    ("step", "name", "value", "said"),
    [
        ("identify", "purity_percent", "101", "Write a number from 0 to 100 %."),
        ("identify", "purity_percent", "-1", "Write a number from 0 to 100 %."),
        ("check", "humidity_percent", "140", "Write a number from 0 to 100 %."),
        ("check", "humidity_percent", "wet", "Write a number from 0 to 100 %."),
    ],
)
def test_a_percentage_that_cannot_be_is_refused_in_words(job, technician_client, step, name, value, said):
    answer = technician_client.post(f"/jobs/{job.pk}/step/{step}/", step_fields(step) | {name: value})
    assert answer.status_code == 422 and said in answer.content.decode()


# -- what a charge and a recovery are for -------------------------------------------------------------------


def test_what_a_charge_is_for_is_asked_and_never_inferred(job, technician_client):  # noqa: F811
    """40 CFR 82.157(b), 84.106(b): installation, retrofit and seasonal variance are exempt, where somebody says so."""
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "not said: it counts as making up a leak" in page and job.charge_why == ""
    data = step_fields("charge") | {
        "charge_why": "seasonal",
        "seasonal_statement": "8 lb as in October",
        "same_leak": "on",
    }
    answer = technician_client.post(f"/jobs/{job.pk}/step/charge/", data)
    assert answer.status_code == 302 and answer.url.endswith("#charge")
    job.refresh_from_db()
    assert (job.charge_why, job.seasonal_statement, job.same_leak) == ("seasonal", "8 lb as in October", True)
    answer = technician_client.post(f"/jobs/{job.pk}/step/charge/", step_fields("charge") | {"charge_why": "luck"})
    assert answer.status_code == 422


def test_saying_what_a_recovery_is_for_is_no_recovery(job, technician_client):  # noqa: F811
    def missing():
        return [step.title for step in technician_client.get(f"/jobs/{job.pk}/").context["missing"]]

    assert "Recover" in missing()
    data = step_fields("recover") | {"recover_why": "disposal"}
    assert technician_client.post(f"/jobs/{job.pk}/step/recover/", data).status_code == 302
    job.refresh_from_db()
    assert job.recover_why == "disposal" and "Recover" in missing()
    skip = {"reason": "it was empty"}
    technician_client.post(f"/jobs/{job.pk}/skip/recover/", skip)
    assert "Recover" not in missing()
