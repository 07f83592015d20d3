"""What is to be done now on a job's page, what is done, and what is said before a step is done."""

import re
import uuid

import pytest

from inventory.containers.models import Container
from inventory.ledger.actions import writing
from jobs.drafts.actions import change_job, enter_line, skip_step
from jobs.drafts.clocks import HELD, REACHED, VacuumRead, mark_vacuum, tap_clock
from jobs.drafts.models import Job
from jobs.units.models import Unit
from tests.jobs.test_job_pages import entry, job, step_fields  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, enter  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def page_of(client, job):  # noqa: F811
    return client.get(f"/jobs/{job.pk}/", headers=HTMX).content.decode()


def now(client, job):  # noqa: F811
    return re.search(r'data-now="([a-z]+)"', page_of(client, job))[1]


def step_of(page, name):
    """The words of one step on the page."""
    part = page.partition(f'<details id="{name}"')[2].split('<details id="')[0]
    return " ".join(re.sub(r"<[^>]+>", " ", part).split())


def again(job, person, **weights):  # noqa: F811
    """The job's only line, with the weight after."""
    line = job.lines.get()
    said = {"action": line.action, "container": line.container.code, **weights}
    enter_line(job.pk, by=person, key=line.key, **said)


def test_the_trade_s_order_leads_and_what_is_done_is_folded(job, technician, technician_client):  # noqa: F811
    assert now(technician_client, job) == "identify", "the label is known from the unit"
    change_job(job.pk, by=technician, step="identify", identified_as="R-134a", identified_how="identifier")
    assert now(technician_client, job) == "recover"
    enter(job, technician, "recover", "REC-1", before=5_000_000)
    assert now(technician_client, job) == "recover", "it is on the scale"
    again(job, technician, before=5_000_000, after=5_200_000)
    assert now(technician_client, job) == "repair"
    for step, then in (("repair", "test"), ("test", "evacuate"), ("evacuate", "oil"), ("oil", "charge")):
        skip_step(job.pk, by=technician, step=step, reason="not part of it")
        assert now(technician_client, job) == then
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    assert now(technician_client, job) == "charge", "the aim is not reached"
    enter(job, technician, "charge", "CAN-2", before=440_000, after=260_000)
    assert now(technician_client, job) == "check"
    skip_step(job.pk, by=technician, step="check", reason="later")
    assert now(technician_client, job) == "sign"
    page = page_of(technician_client, job)
    assert "200 g" in step_of(page, "recover").split("Saved")[0]
    assert re.findall(r'<details id="(\w+)" class="sheet step is-now', page) == ["sign"]


def test_nobody_is_held_to_the_order(job, technician, technician_client):  # noqa: F811
    """What is recorded out of turn moves on; what was left out comes later, and is asked at the end."""
    enter(job, technician, "charge", "CAN-1", before=440_000)
    assert now(technician_client, job) == "charge"
    again(job, technician, before=440_000, after=100_000)
    assert now(technician_client, job) == "charge", "its aim is not reached"
    skip_step(job.pk, by=technician, step="oil", reason="none")
    page = page_of(technician_client, job)
    assert 'data-now="charge"' in page
    later = re.findall(r'<details id="(\w+)" class="sheet step is-later', page)
    assert later[:4] == ["identify", "recover", "repair", "test"]
    assert "Identify" in step_of(page, "sign"), "what is not recorded is named"


def test_a_running_clock_stays_on_top_and_one_tap_reads_and_marks(job, technician, technician_client):  # noqa: F811
    tap_clock(job.pk, by=technician, clock="evacuation_started")
    Job.objects.update(evacuation_started="2026-03-02T09:00Z")
    assert now(technician_client, job) == "evacuate"
    answer = technician_client.post(
        f"/jobs/{job.pk}/vacuum/reached/", {"reading": "500", "unit": "micron"}, headers=HTMX
    )
    assert answer.status_code == 200 and 'data-now="evacuate"' in answer.content.decode()
    kept = Job.objects.get()
    assert (kept.vacuum_said, kept.hold_start_said) == ("500 micron", "500 micron")
    assert kept.vacuum_pa == kept.hold_start_pa == pytest.approx(66.66, abs=0.01)
    assert kept.evacuation_ended == kept.hold_started is not None
    # The same tap again, or a late one, moves nothing.
    read = VacuumRead("900 micron", 120.0)
    mark_vacuum(job.pk, by=technician, mark=REACHED, read=read)
    assert Job.objects.get().vacuum_said == "500 micron"
    Job.objects.update(hold_started="2026-03-02T09:40Z")
    mark_vacuum(job.pk, by=technician, mark=HELD, read=VacuumRead("620 micron", 82.7))
    kept = Job.objects.get()
    assert kept.hold_end_said == "620 micron" and kept.hold_ended is not None
    assert now(technician_client, job) == "oil"


def test_a_pump_that_was_tapped_too_late_does_not_run_on(job, technician, technician_client):  # noqa: F811
    """Its start and the vacuum within one minute: how long it ran nobody knows, and the hold is what runs."""
    tap_clock(job.pk, by=technician, clock="evacuation_started")
    mark_vacuum(job.pk, by=technician, mark=REACHED, read=VacuumRead("500 micron", 66.7))
    assert Job.objects.get().evacuation_ended is None and Job.objects.get().hold_started is not None
    words = step_of(page_of(technician_client, job), "evacuate")
    assert "holding" in words and "pump running" not in words and "to now" not in words
    assert "when it stopped is not recorded" in words


def test_the_unit_of_a_vacuum_is_the_one_used_last(job, technician_client):  # noqa: F811
    technician_client.post(f"/jobs/{job.pk}/vacuum/reached/", {"reading": "0.7", "unit": "mbar"}, headers=HTMX)
    assert "<option selected>mbar</option>" in page_of(technician_client, job)
    assert Job.objects.get().vacuum_said == "0.7 mbar"


def test_a_vacuum_that_cannot_be_is_asked_before_anything_is_kept(job, technician_client):  # noqa: F811
    answer = technician_client.post(
        f"/jobs/{job.pk}/vacuum/reached/", {"reading": "29", "unit": "micron"}, headers=HTMX
    )
    assert answer.status_code == 422 and Job.objects.get().vacuum_said == ""
    assert 'name="settle" value="reading 29 inHg"' in answer.content.decode()
    assert 'name="sure" value="reading 29 micron"' in answer.content.decode(), "a good pump may reach it"
    answer = technician_client.post(f"/jobs/{job.pk}/vacuum/reached/", {"reading": "500", "unit": "inHg"}, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422 and Job.objects.get().vacuum_said == ""
    assert "no gauge can read more" in page
    answer = technician_client.post(f"/jobs/{job.pk}/vacuum/reached/", {"reading": "", "unit": "Pa"}, headers=HTMX)
    assert answer.status_code == 422 and "Type what the gauge shows." in answer.content.decode()
    assert technician_client.post(f"/jobs/{job.pk}/vacuum/nonsense/", {"reading": "5"}).status_code == 404


def test_a_vacuum_that_comes_back_keeps_its_unit_and_stands_in_its_own_field_alone(job, technician_client):  # noqa: F811
    """Nothing is filled in as the end of a hold that has not begun."""
    answer = technician_client.post(f"/jobs/{job.pk}/vacuum/reached/", {"reading": "500", "unit": "mbar"}, headers=HTMX)
    page = answer.content.decode()
    reached, held = (page.partition(f'/vacuum/{mark}/"')[2].partition("</form>")[0] for mark in (REACHED, HELD))
    assert answer.status_code == 422 and 'value="500"' in reached and "500 mbar, as I typed it" in reached
    assert "<option selected>mbar</option>" in reached
    assert 'value="500"' not in held and "as I typed it" not in held and "or 500 mbar?" not in held


# -- readings -----------------------------------------------------------------------------------------------------


def test_a_slip_of_unit_is_asked_with_both_readings_and_settled_by_one_tap(job, technician_client):  # noqa: F811
    key = str(uuid.uuid4())
    data = entry("charge", "CAN-1", before="0.44") | {"key": key, "before-unit": "g"}
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422 and job.lines.count() == 0, "asked before anything is kept"
    offered = re.findall(r'name="settle" value="([^"]+)"', page)
    assert offered == ["before 0.44 kg"]
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", data | {"settle": offered[0]}, headers=HTMX)
    assert answer.status_code == 200 and job.lines.get().before == 440_000
    assert Job.objects.get().reasons == {}


def test_what_is_right_as_it_was_typed_is_taken_after_one_yes_and_the_job_says_so(job, technician, technician_client):  # noqa: F811
    """The can lost 60 g on the shelf."""
    data = entry("charge", "CAN-1", before="380") | {"before-unit": "g"}
    answer = technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX)
    sure = re.findall(r'name="sure" value="([^"]+)"', answer.content.decode())
    if answer.status_code == 422:
        answer = technician_client.post(f"/jobs/{job.pk}/entry/", data | {"sure": sure}, headers=HTMX)
        assert Job.objects.get().reasons == {"sure-CAN-1 before": "380 g, as it was read"}
    assert answer.status_code == 200 and job.lines.get().before == 380_000


def test_degrees_fahrenheit_are_read_as_such_and_doubted_where_celsius_stands(job, technician_client):  # noqa: F811
    data = step_fields("check") | {"ambient_c": "86"}
    answer = technician_client.post(f"/jobs/{job.pk}/step/check/", data, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422 and Job.objects.get().ambient_c is None
    assert 'name="settle" value="ambient_c 86 °F"' in page
    answer = technician_client.post(f"/jobs/{job.pk}/step/check/", data | {"settle": "ambient_c 86 °F"}, headers=HTMX)
    assert answer.status_code == 200 and Job.objects.get().ambient_c == 30.0


@pytest.mark.parametrize(
    ("typed", "chosen", "kept"),
    [("68", "°F", 20.0), ("-4", "°F", -20.0), ("68 °F", "°C", 20.0), ("20 C", "°F", 20.0), ("20", "°C", 20.0)],
)
def test_a_bare_temperature_has_the_degrees_chosen_beside_it(job, technician_client, typed, chosen, kept):  # noqa: F811
    data = step_fields("check") | {"ambient_c": typed, "ambient_c-unit": chosen}
    answer = technician_client.post(f"/jobs/{job.pk}/step/check/", data, headers=HTMX)
    assert answer.status_code == 200 and Job.objects.get().ambient_c == kept


def test_a_pressure_without_a_unit_has_the_one_beside_it(job, technician_client):  # noqa: F811
    data = step_fields("check") | {"low_side_said": "2.1", "low_side_said-unit": "bar"}
    assert technician_client.post(f"/jobs/{job.pk}/step/check/", data, headers=HTMX).status_code == 200
    assert Job.objects.get().low_side_said == "2.1 bar"


@pytest.mark.parametrize(
    ("action", "code", "field", "typed", "beside"),
    [
        *(("oil-add", "OIL-1", "quantity", "30", beside) for beside in ("oz", "g", "x", "")),
        *(("charge", "CAN-1", "before", "440", beside) for beside in ("mL", "x", "")),
    ],
)
def test_what_is_no_unit_of_a_field_is_judged_as_the_field_reads_it(
    job,  # noqa: F811
    technician_client,
    action,
    code,
    field,
    typed,
    beside,
):
    data = entry(action, code, **{field: typed}) | {f"{field}-unit": beside}
    assert technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX).status_code == 200
    assert getattr(job.lines.get(), field) == int(typed) * 1000


def test_the_unit_beside_a_weight_is_the_one_last_used_with_its_scale(job, technician_client):  # noqa: F811
    data = entry("charge", "CAN-1", before="0.44") | {"before-unit": "kg"}
    assert technician_client.post(f"/jobs/{job.pk}/entry/", data, headers=HTMX).status_code == 200
    figures = page_of(technician_client, job).partition('<section id="figures"')[2]
    assert '<option value="kg" selected>' in figures
    assert re.search(r'Stop when the scale shows\s*</span>\s*<span class="q">0\.\d+ kg</span>', figures), (
        "as it shows it"
    )


# -- before the deed --------------------------------------------------------------------------------------------------


def test_no_certificate_is_said_before_the_work(job, technician, technician_client):  # noqa: F811
    with writing():
        technician.certificates.all().delete()
    page = page_of(technician_client, job)
    assert "has no certificate on file" in step_of(page, "recover") and job.lines.count() == 0
    assert "has no certificate on file" in step_of(page, "charge")


def test_a_cylinder_says_at_what_reading_to_stop_at_the_latest(job, technician, technician_client):  # noqa: F811
    Container.objects.filter(code="REC-1").update(water_capacity_mg=12_000_000, tare_mg=5_000_000)
    words = step_of(page_of(technician_client, job), "recover")
    assert "Into REC-1 . Stop at the latest when the scale shows" in words
    assert "room for" in words
    Container.objects.filter(code="REC-1").update(water_capacity_mg=300_000)
    words = step_of(page_of(technician_client, job), "recover")
    assert "and the unit holds up to 540 g by its label. Have another cylinder ready." in words
    Container.objects.filter(code="REC-1").update(retired_on=job.day)
    assert "No recovery cylinder with room" in step_of(page_of(technician_client, job), "recover")


@pytest.mark.parametrize(("gas", "burns"), [("R-134a", ""), ("R-1234yf", "A2L"), ("R-290", "A3")])
def test_a_gas_that_burns_is_said_at_each_step_that_lets_it_out(job, technician_client, gas, burns):  # noqa: F811
    Job.objects.update(substance=gas)
    page = page_of(technician_client, job)
    for step in ("recover", "repair", "evacuate", "oil", "charge"):
        assert (f"{gas} burns ({burns})" in step_of(page, step)) is bool(burns), step


def test_a_bottle_of_another_oil_is_not_offered(job, technician_client):  # noqa: F811
    assert 'id="oil-add-quick-quantity"' in page_of(technician_client, job)
    Unit.objects.update(oil="POE 68")
    page = page_of(technician_client, job)
    assert 'id="oil-add-quick-quantity"' not in page and "No bottle of POE 68 is in stock" in page
    assert "NOT POE 68" in page, "in the list it says so"


def test_usual_reasons_are_offered(job, technician, technician_client):  # noqa: F811
    enter(job, technician, "charge", "CAN-1", before=440_000, after=300_000)
    assert "Topped up: the unit was not empty" in page_of(technician_client, job)
