"""A count of 44 containers, all as expected but two: by keyboard, and by a scanner. Every key is counted."""

import datetime as dt
import json
import uuid

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.containers.models import Location, Scale, Weighing
from inventory.counting import entering
from inventory.counting.actions import start_count
from inventory.counting.models import Count
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from tests.browser import driving
from tests.browser.keyboard import Keyboard
from tests.kept import made

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000
MANY, GOAL = 44, 60
SCANNED = "return [document.readyState, document.querySelector('[name=code]').value, document.activeElement.name]"


@pytest.fixture
def store(shop):
    made(Scale, code="bench", readability_mg=G, usual=True)
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, MANY, "Store", "C-01", tare_mg=8_000 * G)
    open_stock(lines=[line], day=today() - dt.timedelta(days=30), by="oscar", key=str(uuid.uuid4()))
    return Location.objects.get(name="Store")


@pytest.fixture
def at_desk(desk, live_server, office, store):
    count = start_count(location=store, day=today(), scale=None, by=office.username, key=uuid.uuid4())
    driving.sign_in(desk, live_server, office)
    desk.get(f"{live_server.url}/counts/{count.pk}/")
    comes_to(Keyboard(desk), "code")
    return Keyboard(desk)


def comes_to(keys, name):
    driving.wait_until(keys.driver, lambda: keys.at == name)


def enter(keys, code, reading):
    """A code and its weight, and the page that comes then."""
    keys.type(code)
    keys.enter()
    comes_to(keys, "gross")
    keys.type(reading)
    keys.enter()
    driving.wait_for_text(keys.driver, f"{code} is counted.")
    comes_to(keys, "code")


def posted(keys):
    driving.wait_for_text(keys.driver, "The count is posted as voucher")
    assert verify().faults == []
    return json.loads(Voucher.objects.get(kind="count").detail)


def test_a_count_of_44_as_expected_but_two_takes_sixty_keys(at_desk, capsys):
    keys = at_desk
    enter(keys, "C-07", "12880")
    enter(keys, "C-31", "12997")  # within what weighing tells
    keys.press(Keys.F8)
    driving.wait_for_text(keys.driver, "All that stands here by the book is counted.")
    driving.shot(keys.driver, "count-seen")
    comes_to(keys, "reason")
    keys.type("l")  # leaked
    keys.enter()
    driving.wait_until(keys.driver, lambda: not keys.driver.find_elements(By.CSS_SELECTOR, "form[data-wanting]"))
    comes_to(keys, "code")
    keys.post()
    said = posted(keys)
    with capsys.disabled():
        print(f"\ncount of {MANY}, two of them otherwise: {keys.count} keystrokes")
    assert keys.count <= GOAL
    assert len(said["seen"]) == MANY - 2 and Weighing.objects.count() == 2


def test_a_count_of_44_takes_44_scans(at_desk, capsys):
    keys, scans = at_desk, 0
    for number in range(1, MANY + 1):
        code = f"C-{number:02d}"
        keys.type(code)  # a scanner types the code, and Enter
        keys.enter()
        scans += 1
        driving.wait_until(
            keys.driver,
            lambda code=code: keys.driver.execute_script(SCANNED) == ["complete", code, "gross"],
        )
    keys.press(Keys.F8)  # the last one has no other behind it
    driving.wait_for_text(keys.driver, "All that stands here by the book is counted.")
    comes_to(keys, "code")
    keys.post()
    said = posted(keys)
    with capsys.disabled():
        print(f"\ncount of {MANY} by scanner: {scans} scans, one key and Ctrl+Enter")
    assert scans == MANY and len(said["seen"]) == MANY and not Weighing.objects.exists()


def test_what_another_enters_comes_in_by_itself(at_desk, owner):
    entering.enter(count_id=Count.objects.get().pk, code="C-03", gross=None, by=owner.username)
    driving.wait_until(
        at_desk.driver, lambda: "C-03" in at_desk.driver.find_element(By.CSS_SELECTOR, "#lists .entry").text
    )
    assert at_desk.at == "code", "whoever types is not disturbed"
    assert driving.console_errors(at_desk.driver) == []
