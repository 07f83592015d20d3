"""The search over any page, and the keys of the main actions."""

import uuid

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from jobs.people.actions import choose_units
from tests.browser import driving
from tests.browser.counted import Counted
from tests.browser.test_three_people import looks_right

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000


@pytest.fixture
def shelf(shop):
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, 3, "Store", "CYL-41", tare_mg=8_000 * G)
    receive(lines=[line], supplier=supplier_called("Quillon"), document="I", day=today(), by="o", key=str(uuid.uuid4()))


def press(driver, key):
    driver.find_element(By.TAG_NAME, "body").send_keys(key)


def test_anything_is_found_from_any_page_by_keyboard(desk, live_server, shelf, owner):
    driving.sign_in(desk, live_server, owner)
    desk.get(f"{live_server.url}/people/")
    hand = Counted(desk)
    hand.type("/")
    hand.until_focused("q")
    hand.type("cyl-4")
    driving.wait_for(desk, "#find-q-found a[href='/stock/containers/CYL-42/']")
    looks_right(desk, "find-open")
    hand.type(Keys.ARROW_DOWN, Keys.ARROW_DOWN, Keys.ENTER)
    driving.wait_until(desk, lambda: desk.current_url.endswith("/stock/containers/CYL-42/"))
    print(f"\na container found and opened from another page: {hand.total} keys")
    press(desk, "w")
    hand.until_focused("q")
    hand.type("cyl-43", Keys.ENTER)
    driving.wait_until(desk, lambda: desk.current_url.endswith("/stock/containers/CYL-43/weigh/"))


def test_keys_lead_to_the_main_actions_but_never_while_typing(desk, live_server, shelf, owner):
    driving.sign_in(desk, live_server, owner)
    desk.get(f"{live_server.url}/")
    driving.wait_for(desk, "#keys a[data-key='m']")
    press(desk, "?")
    driving.wait_for(desk, "#keys[open]")
    looks_right(desk, "keys-open")
    press(desk, Keys.ESCAPE)
    driving.wait_until(desk, lambda: not desk.find_elements(By.CSS_SELECTOR, "#keys[open]"))
    press(desk, Keys.CONTROL + "m" + Keys.CONTROL)
    assert desk.current_url == f"{live_server.url}/"
    press(desk, "m")
    driving.wait_until(desk, lambda: "/month/" in desk.current_url)
    press(desk, "s")
    driving.wait_for(desk, "#id_text")
    press(desk, "f")
    hand = Counted(desk)
    hand.until_focused("text")
    hand.type("mun/?")
    field = desk.find_element(By.ID, "id_text")
    assert field.get_property("value") == "mun/?" and desk.current_url.endswith("/stock/")
    assert not desk.find_elements(By.CSS_SELECTOR, "dialog[open]")


def test_whoever_switched_them_off_has_none(desk, live_server, shelf, owner):
    choose_units(owner, by=owner, mass_unit="g", volume_unit="mL", single_keys=False)
    driving.sign_in(desk, live_server, owner)
    desk.get(f"{live_server.url}/stock/")
    driving.wait_for(desk, "#keys[data-off]")
    for key in "/?mwfj":
        press(desk, key)
    assert not desk.find_elements(By.CSS_SELECTOR, "dialog[open], tr[data-here]")
    assert desk.current_url.endswith("/stock/")
    driving.act_on(desk, "a.finder", lambda it: it.click())  # the way by pointing stays
    driving.wait_for(desk, "#find-anything[open]")


def test_a_thumb_finds_too(phone, live_server, shelf, technician):
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/")
    driving.act_on(phone, "a.finder", lambda it: it.click())
    driving.wait_for(phone, "#find-anything[open]")
    Counted(phone).type("cyl")
    driving.wait_for(phone, "#find-q-found a")
    looks_right(phone, "find-phone")
    assert driving.small_targets(phone) == []
