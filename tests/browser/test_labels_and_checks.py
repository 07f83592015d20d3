"""What the label of a container says, and checks for leaks: their pages on a phone and on the office's computer."""

import datetime as dt
import uuid

import pytest
from selenium.webdriver.common.by import By

from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.actions import enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.units.actions import add_unit
from tests.browser import driving
from tests.kept import saved

LABEL = {"label_says": "reclaimed", "batch": "B-7", "facility": "Example Reclaim, 1 Long Lane, 59000 Lille"}


@pytest.fixture
def cold_room(shop, transactional_db, technician):
    saved(Shop.objects.get(), rulebook="eu")
    kept = {"kind": "refillable", "substance": "R-404A", "is_oil": False, "grade": "reclaimed", "net": 9_000_000}
    lines = [
        Arrival(**kept, count=1, location="Store", code="CYL-1", tare_mg=7_000_000, **LABEL, label_statement=True),
        Arrival(**kept, count=1, location="Store", code="CYL-2", tare_mg=7_000_000),
    ]
    head = {"day": today(), "by": "oscar", "key": str(uuid.uuid4())}
    receive(lines=lines, supplier=supplier_called("Acme"), document="D-1", **head)
    add_certificate(by=None, person=technician, scheme="A1", number="A-1", issued=dt.date(2020, 1, 1))
    kept = {"by": technician, "kind": "stationary", "exactly": "refrigeration", "refrigerant": "R-404A"}
    add_unit(name="Walk-in without a charge", **kept)
    return add_unit(name="Walk-in cooler of the bakery", charge_nominal_mg=5_000_000, **kept)


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_labels_are_entered_where_gas_comes_in(screen, request, live_server, cold_room, office):
    driver = request.getfixturevalue(screen)
    driving.sign_in(driver, live_server, office)
    driver.get(f"{live_server.url}/receiving/new/")
    driving.act_on(driver, "fieldset summary", lambda one: one.click())
    driving.wait_for(driver, "#id_line-0-batch")
    driving.act_on(driver, "#id_line-0-label_says", lambda one: one.send_keys("reclaimed"))
    assert driving.overflow(driver) == 0 and driving.small_targets(driver) == []
    driving.shot(driver, f"labels-delivery-{screen}")
    for path, name in (("/stock/containers/CYL-1/", "container"), ("/stock/containers/CYL-2/relabel/", "relabel")):
        driver.get(live_server.url + path)
        assert driving.overflow(driver) == 0 and driving.small_targets(driver) == []
        driving.shot(driver, f"labels-{name}-{screen}")
    assert driver.find_element(By.ID, "id_facility").is_displayed()
    assert driving.console_errors(driver) == []


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_checks_say_why(screen, request, live_server, cold_room, technician):
    driver = request.getfixturevalue(screen)
    driving.sign_in(driver, live_server, technician)
    driver.get(f"{live_server.url}/units/leak-checks/")
    driving.act_on(driver, ".verdict summary", lambda one: one.click())
    driving.wait_for_text(driver, "article 5(1), (3)(a) and (6)")
    assert "say what its full charge is" in driver.find_element(By.TAG_NAME, "body").text
    assert driving.overflow(driver) == 0 and driving.small_targets(driver) == []
    driving.shot(driver, f"checks-list-{screen}")
    driver.get(f"{live_server.url}/units/{cold_room.pk}/")
    assert driving.overflow(driver) == 0
    driving.shot(driver, f"checks-unit-{screen}")
    assert driving.console_errors(driver) == []


def test_what_may_not_be_charged_says_why_on_a_phone(phone, live_server, cold_room, technician):
    job = start_job(unit=cold_room, technician=technician, by=technician, key=uuid.uuid4())
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="charge", container="CYL-2", quantity=1_000_000)
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/jobs/{job.pk}/")
    driving.opened(phone, "sign")
    driving.wait_for_text(phone, "may not be charged into this equipment any more")
    assert driving.overflow(phone) == 0
    driving.act_on(phone, "#sign", lambda one: None)
    driving.shot(phone, "charged-phone")
