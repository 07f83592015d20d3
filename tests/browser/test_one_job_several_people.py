"""On a phone: a pressure test tapped and judged, a colleague on the job, the job handed over, the same unit again."""

import datetime as dt
import uuid

import pytest
from django.utils import timezone

from inventory.ledger.verify import verify
from jobs.drafts.actions import change_job, start_job
from jobs.drafts.models import Job, JobHand
from jobs.people.models import Person
from jobs.signing.actions import sign_job
from tests.browser import driving
from tests.browser.test_three_people import fill, looks_right, press
from tests.jobs.test_jobs import bay, whole_job  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db(transaction=True)


def choose(driver, css, words):
    driver.execute_script(
        "const box = document.querySelector(arguments[0]);"
        "box.value = [...box.options].find((one) => one.text === arguments[1]).value;",
        css,
        words,
    )


def test_a_pressure_test_a_colleague_and_a_hand_over(phone, live_server, shop, bay, technician):  # noqa: F811
    timur = Person.objects.create_user("timur", password="wet pump 7 am", name="Timur Test", role="technician")
    first = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    whole_job(first, technician)
    habits = {"identified_how": "identifier", "leak_method": "electronic", "leak_detector": "D-1"}
    change_job(first.pk, by=technician, repairs="Condenser", leak_result="none found", **habits)
    sign_job(first.pk, by=technician)
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/jobs/{job.pk}/")
    phone.execute_script("document.getElementById('last-time').scrollIntoView()")
    looks_right(phone, "trade-last-time")
    press(phone, "#last-time button.primary")
    driving.wait_until(phone, lambda: Job.objects.get(pk=job.pk).leak_detector == "D-1")
    driving.wait_until(phone, lambda: not phone.find_elements("css selector", "#last-time button"))

    driving.opened(phone, "test")
    choose(phone, "#test [name=test_medium]", "dry nitrogen")
    fill(phone, "#test [name=test_start_said]", "20 bar")
    fill(phone, "#test [name=test_start_c]", "25")
    press(phone, "#test button[formaction]")
    driving.wait_for_text(phone, "under pressure")
    driving.opened(phone, "test")
    looks_right(phone, "trade-test-running")
    started = Job.objects.get(pk=job.pk).test_started
    assert started is not None and Job.objects.get(pk=job.pk).test_start_c == 25.0
    Job.objects.filter(pk=job.pk).update(test_started=timezone.now() - dt.timedelta(minutes=40))
    phone.get(f"{live_server.url}/jobs/{job.pk}/#test")
    fill(phone, "#test [name=test_end_said]", "19.4 bar")
    fill(phone, "#test [name=test_end_c]", "17")
    press(phone, "#test button[formaction]")
    driving.wait_for(phone, "#test.is-done .badge.good")
    driving.opened(phone, "test")
    driving.wait_for_text(phone, "Its temperature explains 20.45 bar")
    looks_right(phone, "trade-test-held")
    assert driving.small_targets(phone) == []

    driving.opened(phone, "hands", "Add a colleague")
    choose(phone, "#hands [name=person]", "Timur Test")
    looks_right(phone, "trade-hands-add")
    press(phone, "#hands form[action$='/hands/'] button")
    driving.wait_until(phone, lambda: JobHand.objects.filter(person=timur).exists())
    driving.wait_for(phone, "#hands .entry")
    driving.opened(phone, "hands", "Hand it over")
    choose(phone, "#hands [name=to]", "Timur Test")
    fill(phone, "#hands [name=note]", "Tested tight. Evacuate next.")
    looks_right(phone, "trade-hand-over")
    press(phone, "#hands form[action$='/hand-over/'] button")
    driving.wait_until(phone, lambda: Job.objects.get(pk=job.pk).technician == timur)

    driving.sign_in(phone, live_server, timur)
    phone.get(f"{live_server.url}/jobs/{job.pk}/")
    driving.wait_for_text(phone, "Tested tight. Evacuate next.")
    phone.execute_script("document.getElementById('hands').scrollIntoView()")
    looks_right(phone, "trade-taken-over")
    driving.opened(phone, "ports")
    fill(phone, "#ports [name=ports]", "low side at the firewall")
    press(phone, "#ports button.primary")
    driving.wait_for_text(phone, "low side at the firewall")
    looks_right(phone, "trade-ports")
    assert verify().faults == []


def test_the_signed_page_at_the_desk(desk, live_server, shop, bay, technician, owner):  # noqa: F811
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    whole_job(job, technician)
    change_job(job.pk, by=owner, step="check", vent_c=6.5)
    sign_job(job.pk, by=technician)
    driving.sign_in(desk, live_server, technician)
    desk.get(f"{live_server.url}/jobs/{job.pk}/")
    driving.wait_for_text(desk, "For the customer (PDF)")
    looks_right(desk, "trade-signed")
