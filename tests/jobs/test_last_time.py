"""The same unit again: what the last visit says, and what one tap takes over from it."""

import datetime as dt
import uuid

import pytest

from inventory.ledger.stated_rows import stated
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, start_job
from jobs.drafts.fields import BY_NAME
from jobs.drafts.last_time import CARRIED_OVER, carry_over, last_time
from jobs.drafts.models import Job
from jobs.drafts.wording import reader_of, sections_of
from jobs.signing.actions import sign_job
from jobs.units.actions import change_unit
from jobs.units.models import Unit
from tests.jobs.test_job_pages import job  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, enter, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
HABITS = {"identified_how": "identifier", "leak_method": "electronic", "leak_detector": "D-1"}
READ = {
    "identified_as": "R-134a",
    "purity_percent": 99.4,
    "complaint": "Blows warm",
    "repairs": "Condenser",
    "leak_result": "none found",
    "vent_c": 6.0,
    "vacuum_said": "500 micron",
    "vacuum_pa": 66.66,
    "test_medium": "nitrogen",
    "note": "Test drive",
}


@pytest.fixture
def again(job, bay, technician):  # noqa: F811
    """A second visit of a unit that was served three days ago."""
    whole_job(job, technician)
    change_job(job.pk, by=technician, day=today() - dt.timedelta(3), **HABITS, **READ)
    sign_job(job.pk, by=technician, reasons={"hold": "x"})
    return start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())


def test_of_a_unit_that_was_never_here_nothing_is_said(job, technician, technician_client):  # noqa: F811
    assert last_time(job) is None
    assert "Last time" not in technician_client.get(f"/jobs/{job.pk}/").content.decode()
    version = Job.objects.get().version
    assert carry_over(job.pk, by=technician).version == version
    assert technician_client.post(f"/jobs/{job.pk}/as-last-time/").status_code == 302


def test_what_the_last_visit_says(again, bay, technician, technician_client):  # noqa: F811
    change_unit(bay, by=technician, ports="low side at the firewall")
    again = Job.objects.get(pk=again.pk)
    found = last_time(again)
    assert found.visit.charged_mg == 516_000 and found.oils == (("PAG 46", 30_000),)
    assert found.offers == HABITS and found.ports == "low side at the firewall" and found.found == "Condenser"
    page = technician_client.get(f"/jobs/{again.pk}/").content.decode()
    part = page[page.index('id="last-time"') : page.index('id="ports"')]
    for words in ("516 g", "500 g to 540 g", "PAG 46", "30 mL", "none found", "electronic", "D-1", "Condenser"):
        assert words in part, words
    assert "low side at the firewall" in part and "As last time" in part


def test_one_tap_takes_over_habits_and_no_reading(again, technician, technician_client):
    assert technician_client.post(f"/jobs/{again.pk}/as-last-time/").url == f"/jobs/{again.pk}/#last-time"
    now = Job.objects.get(pk=again.pk)
    assert {name: getattr(now, name) for name in HABITS} == HABITS
    for name in READ:
        assert getattr(now, name) == Job._meta.get_field(name).get_default(), name
    assert (now.leak_result, now.version) == ("not checked", again.version + 1)
    assert not now.steps.exists(), "no step counts as done by it"
    page = technician_client.get(f"/jobs/{again.pk}/").content.decode()
    assert "As last time" not in page and "Saved by" not in page
    carry_over(again.pk, by=technician)
    assert Job.objects.get(pk=again.pk).version == now.version, "a second time takes over nothing"


def test_how_a_leak_check_is_made_is_on_paper_only_where_one_was_made(again, technician):
    carry_over(again.pk, by=technician)
    shop = Shop.current()
    reader = reader_of(technician, shop.zone)
    found = lambda: sections_of(Job.objects.get(pk=again.pk), shop, reader)["found"]  # noqa: E731
    said = lambda: {fact.label: fact.value for fact in found().facts}  # noqa: E731
    assert said()["Leak check"] == "not checked"
    change_job(again.pk, by=technician, leak_result="none found")
    assert said()["Leak check"] == "none found, electronic, D-1"


def test_what_is_filled_in_stays(again, technician):
    change_job(again.pk, by=technician, leak_method="soap")
    carry_over(again.pk, by=technician)
    now = Job.objects.get(pk=again.pk)
    assert (now.leak_method, now.leak_detector) == ("soap", "D-1")
    change_job(again.pk, by=technician, leak_detector="")  # undone in its field
    assert Job.objects.get(pk=again.pk).leak_detector == ""


def test_nothing_that_is_taken_over_is_a_figure_or_a_finding():
    for name in CARRIED_OVER:
        one = BY_NAME[name]
        assert not (one.unit or one.gauge or one.read_from or one.tap or one.personal), name
        assert Job._meta.get_field(name).get_internal_type() == "CharField" and not Job._meta.get_field(name).choices


def test_another_technician_s_draft_is_not_filled(again, client):
    from jobs.people.models import Person

    client.force_login(Person.objects.create_user("timur", password="wet pump 7 am", name="T", role="technician"))
    assert client.post(f"/jobs/{again.pk}/as-last-time/").status_code == 404
    assert client.post(f"/jobs/{again.pk}/ports/", {"ports": "mine", "key": uuid.uuid4()}).status_code == 404


# -- the service ports -------------------------------------------------------------------------------------


def test_the_ports_are_said_from_the_draft_and_on_the_unit(job, bay, technician, technician_client):  # noqa: F811
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert 'id="ports"' in page and "not known" in page
    data = {"ports": " high side  behind the headlamp", "key": str(uuid.uuid4())}
    assert technician_client.post(f"/jobs/{job.pk}/ports/", data).url == f"/jobs/{job.pk}/#ports"
    assert Unit.objects.get().ports == "high side behind the headlamp"
    assert stated("unit", bay.code).body["ports"] == "high side behind the headlamp"
    for address in (f"/jobs/{job.pk}/", f"/units/{bay.pk}/", f"/units/{bay.pk}/edit/"):
        assert "high side behind the headlamp" in technician_client.get(address).content.decode(), address
    odd = {"ports": "\x01", "key": str(uuid.uuid4())}
    answer = technician_client.post(f"/jobs/{job.pk}/ports/", odd)
    assert answer.status_code == 422 and Unit.objects.get().ports == "high side behind the headlamp"


def test_the_unit_s_form_keeps_them(bay, technician_client):  # noqa: F811
    from tests.forms import forms_of

    page = technician_client.get(f"/units/{bay.pk}/edit/").content.decode()
    fields = next(fields for _, fields in forms_of(page) if "ports" in fields)
    answer = technician_client.post(f"/units/{bay.pk}/edit/", {**fields, "ports": "both at the front"})
    assert answer.status_code == 302 and Unit.objects.get().ports == "both at the front"
