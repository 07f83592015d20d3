"""A count at a desk and on a phone at the same time: a connected scale, what is wanted, pausing, two people at once."""

import datetime as dt
import uuid

import pytest
from selenium.webdriver import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.containers.models import Location, Scale
from inventory.counting.actions import start_count
from inventory.counting.models import Count
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.receiving.actions import Arrival, open_stock
from inventory.scales.sending import Connection, connect_scale
from inventory.shop.clock import today
from inventory.shop.models import Shop
from tests.browser import driving
from tests.browser.test_scales_read import FAKES, sends
from tests.browser.test_scales_read import keys as quick
from tests.browser.test_three_people import fill, press
from tests.inventory.test_scale_sends import confirmed
from tests.kept import made, saved

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000
ENTRY = "form[data-entry]"


@pytest.fixture
def started(shop):
    """A count of four cylinders of 13 kg with what is in them."""
    made(Scale, code="bench", readability_mg=G, usual=True)
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, 4, "Store", "C-01", tare_mg=8_000 * G)
    open_stock(lines=[line], day=today() - dt.timedelta(days=30), by="oscar", key=str(uuid.uuid4()))
    store = Location.objects.get(name="Store")
    return start_count(location=store, day=today(), scale=None, by="oscar", key=uuid.uuid4())


def at(driver):
    return driver.execute_script("return document.activeElement.name || document.activeElement.className")


def keys(driver, *text):
    ActionChains(driver).send_keys(*text).perform()


def comes_to(driver, name):
    driving.wait_until(driver, lambda: at(driver) == name)


def opens(driver, live_server, count, person):
    driving.sign_in(driver, live_server, person)
    driver.get(f"{live_server.url}/counts/{count.pk}/")
    driving.wait_for_text(driver, "The next container")


def looks_right(driver, name):
    driving.shot(driver, name)
    assert driving.overflow(driver) == 0, name
    assert [one for one in driving.console_errors(driver) if "422" not in one] == [], name


def value(driver, name="gross"):
    return driver.find_element(By.CSS_SELECTOR, f"{ENTRY} [name={name}]").get_attribute("value")


def test_a_connected_scale_is_read_into_a_count(desk, live_server, started, office):
    told = desk.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": FAKES})
    connect_scale(confirmed(Scale.objects.get()), connection=Connection("serial", 2400, 7, "even"))
    opens(desk, live_server, started, office)
    keys(desk, "C-01", Keys.ENTER)
    comes_to(desk, "gross")
    press(desk, f"{ENTRY} .from-scale .read")
    driving.wait_for_text(desk, "is connected")
    sends(desk, "\nST,GS,+0012.998kg\r\n")
    driving.wait_for_text(desk, "Take 12.998 kg")
    looks_right(desk, "count-scale")
    press(desk, f"{ENTRY} .from-scale .offer")
    assert value(desk) == "12.998 kg"
    comes_to(desk, "gross")
    keys(desk, Keys.ENTER)
    driving.wait_for_text(desk, "C-01 is counted.")
    entry = started.entries.get()
    assert (entry.gross, entry.raw) == (12_998 * G, "ST,GS,+0012.998kg<CR> | gross, stable")
    driving.wait_for_text(desk, "Read from scale bench")
    assert driving.console_errors(desk) == []
    desk.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", told)


def test_a_scanner_beside_a_scale_that_types(desk, live_server, started, office):
    """A code that is scanned where a weight is wanted is a code; what the scale types is a weight, and is offered."""
    saved(confirmed(Scale.objects.get()), form=10, connects="keyboard")
    opens(desk, live_server, started, office)
    keys(desk, "C-01", Keys.ENTER)
    comes_to(desk, "gross")
    quick(desk, "C-02\r", 0.005)
    driving.wait_for_text(desk, "C-01 is seen.")
    assert value(desk, "code") == "C-02"
    comes_to(desk, "gross")
    quick(desk, "12.999 kg\r", 0.005)
    driving.wait_for_text(desk, "Take 12.999 kg")
    press(desk, f"{ENTRY} .from-scale .offer")
    keys(desk, Keys.ENTER)
    driving.wait_for_text(desk, "C-02 is counted.")
    assert list(started.entries.order_by("id").values_list("gross", flat=True)) == [None, 12_999 * G]


def test_enter_on_no_weight_says_what_is_wanted(desk, live_server, started, office):
    opens(desk, live_server, started, office)
    keys(desk, "C-01", Keys.ENTER)
    comes_to(desk, "gross")
    keys(desk, Keys.ENTER)
    driving.wait_for_text(desk, "Type what the scale shows for C-01")
    looks_right(desk, "count-blank")
    assert at(desk) == "gross" and not started.entries.exists()
    keys(desk, "1")
    assert "Type what the scale shows for C-01" not in desk.find_element(By.TAG_NAME, "main").text


def test_a_blind_count_by_keys(desk, live_server, started, office):
    Shop.objects.update(blind_counts=True)
    opens(desk, live_server, started, office)
    keys(desk, Keys.F8)
    keys(desk, "C-01", Keys.ENTER)
    comes_to(desk, "gross")
    keys(desk, "7000", Keys.ENTER)
    driving.wait_for_text(desk, "7000 g is right")
    looks_right(desk, "count-blind")
    assert "8 000" not in desk.find_element(By.TAG_NAME, "main").text.replace("\u202f", " ")


def test_two_people_in_one_count_which_is_paused(desk, second, live_server, started, office, owner):
    driving.set_screen(second, driving.PHONE)
    opens(desk, live_server, started, office)
    opens(second, live_server, started, owner)
    fill(second, f"{ENTRY} [name=code]", "C-01")
    fill(second, f"{ENTRY} [name=gross]", "13000")
    keys(desk, "C-01", Keys.ENTER)  # the same one, at the same time
    comes_to(desk, "gross")
    press(second, f"{ENTRY} button.primary")
    driving.wait_for_text(second, "C-01 is counted.")
    keys(desk, "12999", Keys.ENTER)
    driving.wait_for_text(desk, "entered 13 kg for C-01 meanwhile")
    looks_right(desk, "count-both")
    assert started.entries.get().gross == 13_000 * G
    press(desk, f"{ENTRY} button.primary")  # without the tick it stays as the other entered it
    driving.wait_for_text(desk, "entered 13 kg for C-01 meanwhile")
    assert started.entries.get().gross == 13_000 * G
    press(desk, f"{ENTRY} [name=sure]")
    press(desk, f"{ENTRY} button.primary")
    driving.wait_for_text(desk, "C-01 is counted.")
    assert started.entries.get().gross == 12_999 * G
    driving.wait_until(second, lambda: "12.999 kg, -1 g" in listed(second))

    desk.get(f"{live_server.url}/counting/")  # a pause: it is found again, and goes on
    driving.wait_for_text(desk, "Store")
    driving.act_on(desk, f'a[href="/counts/{started.pk}/"]', lambda link: link.click())
    driving.wait_for_text(desk, "The next container")
    for code in ("C-02", "C-03"):
        keys(desk, code, Keys.ENTER)
        comes_to(desk, "gross")
        keys(desk, "13000", Keys.ENTER)
        driving.wait_for_text(desk, f"{code} is counted.")
        comes_to(desk, "code")
    fill(second, f"{ENTRY} [name=code]", "C-04")
    press(second, f"{ENTRY} button[name=seen]")
    driving.wait_for_text(second, "C-04 is seen.")
    driving.wait_until(desk, lambda: "C-04" in listed(desk))
    looks_right(second, "count-phone")
    fill(second, f"{ENTRY} [name=code]", "C-03")
    fill(second, f"{ENTRY} [name=gross]", "12800")
    press(desk, "form[data-post-count] button.primary")
    driving.wait_for_text(desk, "The count is posted as voucher")
    driving.wait_for_text(second, "The count was posted meanwhile: what stands here for C-03 is not in it.")
    assert value(second) == "12800", "what was typed stays"
    press(second, f"{ENTRY} button.primary")
    driving.wait_for_text(second, "This count was posted by")
    looks_right(second, "count-posted")
    assert Count.objects.get().state == "posted" and verify().faults == []
    assert Voucher.objects.filter(kind="count").count() == 1


def listed(driver):
    return driver.find_element(By.ID, "lists").text.replace("\u202f", " ")
