"""No page has a serious fault by the accessibility rules of axe-core (WCAG 2.1 A and AA), in daylight and dark."""

import pytest
from axe_core_python.selenium import Axe
from django.urls import reverse
from selenium.webdriver.common.keys import Keys

from inventory.containers.models import Container
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.signing import actions as signing
from shopledger.findings import report as findings_report
from shopledger.findings.finding import Finding
from tests.browser import driving
from tests.browser.test_three_people import garage  # noqa: F401 (fixture)
from tests.verdicts import ASKED, BANNED, judging

pytestmark = pytest.mark.django_db(transaction=True)
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]}}
IN_THE_DARK = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}  # nothing else is another there

SEEN = {"exclude": [["details:not([open]) > :not(summary)"]]}  # what is folded is opened first, to be looked at


def faults(driver):
    """Each serious or critical fault in daylight and in the dark: its rule, and where."""
    found = Axe().run(driver, SEEN, RULES)["violations"]
    driving.set_dark(driver, True)
    found += Axe().run(driver, SEEN, IN_THE_DARK)["violations"]
    driving.set_dark(driver, False)
    return [
        f"{one['id']}: {node['html'][:120]} {node['failureSummary'][:300]}"
        for one in found
        if one["impact"] in {"serious", "critical"}
        for node in one["nodes"]
    ]


def open_everything(driver):
    driver.execute_script("for (const one of document.querySelectorAll('main details')) one.open = true")


@pytest.fixture
def draft(garage, technician):  # noqa: F811
    job = start_job(unit=garage, technician=technician, by=technician, key="5b0f5c9e-0000-4000-8000-000000000001")
    enter_line(job.pk, by=technician, key=job.key, action="charge", container="CAN-0001", before=440_000, after=100_000)
    return change_job(
        job.pk, by=technician, identified_as="R-134a", leak_result="found, not repaired", note="two\nlines"
    )


def test_every_page_of_a_job(phone, live_server, draft, technician):
    driving.sign_in(phone, live_server, technician)
    for path in (
        f"/jobs/{draft.pk}/",
        "/jobs/new/?text=tst",
        "/jobs/",
        f"/jobs/{draft.pk}/drop/",
        f"/units/{draft.unit_id}/",
        "/units/new/",
    ):
        phone.get(live_server.url + path)
        open_everything(phone)
        assert faults(phone) == [], path
        assert driving.overflow(phone) == 0, path
        assert driving.small_targets(phone) == [], path
    # A refusal has words and marks of its own.
    phone.get(f"{live_server.url}/jobs/{draft.pk}/")
    open_everything(phone)
    phone.execute_script("document.querySelector('#check [name=low_side_said]').value = 'much'")
    phone.execute_script("document.querySelector('#check form').requestSubmit()")
    driving.wait_for(phone, "#check .errors")
    driving.settled(phone)
    assert faults(phone) == []


PAGES = (
    "home",
    "stock",
    "units",
    "customers",
    "receiving",
    "receipt-new",
    "month-end",
    "find",
    "opening-new",
    "counting",
    "leaving",
    "shipment-new",
    "reports",
    "people",
    "person-new",
    "settings",
    "ledger",
    "places",
    "parties",
    "preferences",
    "password",
)


def test_every_page_of_the_office(desk, live_server, draft, owner):
    driving.sign_in(desk, live_server, owner)
    code = Container.objects.first().code
    paths = [reverse(name) for name in PAGES]
    paths += [reverse("container", args=[code]), reverse("voucher", args=[1]), reverse("report", args=["usage"])]
    for path in paths:
        desk.get(live_server.url + path)
        open_everything(desk)
        assert faults(desk) == [], path


SCREENS = {"phone": driving.PHONE, "desk": driving.DESK}


@pytest.fixture
def judged(draft, monkeypatch):
    """A draft that one rule refuses and another asks a reason for, and findings by both."""
    monkeypatch.setattr(signing, "objections", judging(signing.objections, leak=BANNED, under=ASKED))
    found = [
        Finding("high", "service ban", BANNED.cited, "Job J-1: virgin R-404A was charged.", "/jobs/1/", verdict=BANNED),
        Finding("low", "leak check", ASKED.cited, ASKED.said, "/units/1/", verdict=ASKED),
        Finding("low", "paper", "good practice", "A delivery has no paper.", "/vouchers/1/"),
    ]
    monkeypatch.setattr(findings_report, "findings", lambda period: found)
    return draft


@pytest.mark.parametrize("screen", SCREENS)
def test_what_the_rulebook_says_opens_by_keyboard_on_every_screen(driver, live_server, judged, owner, screen):
    driving.set_screen(driver, SCREENS[screen])
    driving.sign_in(driver, live_server, owner)
    for name, path in (("job", f"/jobs/{judged.pk}/"), ("findings", reverse("report", args=["findings"]))):
        driver.get(live_server.url + path)
        if name == "job":
            driving.opened(driver, "sign")
        summary = driving.wait_for(driver, ".verdict summary")
        assert not driving.wait_for(driver, ".verdict .why").is_displayed()
        driver.execute_script("arguments[0].focus()", summary)
        summary.send_keys(Keys.ENTER)
        assert driving.wait_for(driver, ".verdict .why").is_displayed()
        open_everything(driver)
        assert faults(driver) == [], path
        assert driving.overflow(driver) == 0, path
        if screen == "phone":
            assert driving.small_targets(driver) == [], path
        driver.execute_script("document.querySelector('.verdict').scrollIntoView()")
        driving.shot(driver, f"why-{name}-{screen}")


@pytest.mark.parametrize("screen", SCREENS)
def test_what_a_person_may_do_is_read_on_every_screen(driver, live_server, garage, technician, owner, screen):  # noqa: F811
    driving.set_screen(driver, SCREENS[screen])
    driving.sign_in(driver, live_server, owner)
    driver.get(live_server.url + reverse("person", args=[technician.pk]))
    driving.wait_for(driver, "#allowed")
    driver.execute_script("document.querySelector('#allowed').scrollIntoView()")
    driving.shot(driver, f"allowed-{screen}")
    opened = "document.querySelectorAll('.behind:nth-child(2) details')"
    driver.execute_script(f"for (const it of {opened}) it.open = true")
    assert faults(driver) == []
    assert driving.overflow(driver) == 0
    if screen == "phone":
        assert driving.small_targets(driver) == []
    driver.execute_script("document.querySelector('.behind').scrollIntoView()")
    driving.shot(driver, f"allowed-open-{screen}")
