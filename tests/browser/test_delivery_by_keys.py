"""A delivery entered by an office manager who leaves the mouse alone: every key is counted."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from tests.browser import driving
from tests.browser.keyboard import Keyboard
from tests.inventory.test_office_pages import CANS, delivery
from tests.kept import made

pytestmark = pytest.mark.django_db(transaction=True)
SMALL = {"kind": "can", "substance": "R-1234yf", "net": "200 g", "count": "12", "tare": "90 g", "location": "Store"}
OIL = {"kind": "oil", "substance": "PAG 46", "net": "250 mL", "count": "6", "location": "Store", "price": "14.00"}
GOAL = 40


@pytest.fixture
def known(shop, office_client):
    """A supplier that sent three lines before, and another one."""
    made(Scale, code="bench", readability_mg=1000, usual=True)
    made(Location, name="Store")
    before = delivery(CANS, SMALL | {"price": "31.00"}, OIL, supplier="Polar Gas Supply", day="2026-02-02")
    assert office_client.post("/receiving/new/", before).status_code == 302
    other = delivery(CANS, supplier="Boreal Cooling", document="B-1", day="2026-02-03")
    assert office_client.post("/receiving/new/", other).status_code == 302


@pytest.fixture
def at_desk(desk, live_server, office, known):
    driving.sign_in(desk, live_server, office)
    desk.get(f"{live_server.url}/receiving/new/")
    driving.wait_for(desk, "[data-row]")
    driving.wait_until(desk, lambda: Keyboard(desk).at == "supplier")
    return Keyboard(desk)


def values(keys, line):
    """What stands in a line."""
    names = ("count", "kind", "substance", "net", "price")
    found = (keys.driver.find_element(By.NAME, f"line-{line}-{name}") for name in names)
    return [one.get_attribute("value") for one in found]


def last():
    number = Voucher.objects.filter(kind="receipt").latest("number").number
    cans = Container.objects.filter(arrival_id=number).order_by("code")
    return [(one.kind, one.substance.code, one.nominal, one.price_minor) for one in cans.select_related("substance")]


def posted_soon(keys, number):
    driving.wait_for_text(keys.driver, "The delivery is posted as voucher")
    assert Voucher.objects.filter(kind="receipt").count() == number and verify().faults == []
    assert driving.console_errors(keys.driver) == []


def head(keys):
    keys.type("po")
    keys.enter()
    assert keys.driver.find_element(By.NAME, "supplier").get_attribute("value") == "Polar Gas Supply"
    keys.type("4711")
    keys.enter()
    assert keys.at == "day"
    keys.enter()
    assert keys.at == "line_in_one_go"


def test_an_invoice_of_three_lines_takes_forty_keys(at_desk, capsys):
    """Each line as its paper has it; sizes, prices and places are those of last time."""
    keys = at_desk
    head(keys)
    typed = {
        "24 134": ["24", "can", "R-134a", "340 g", "9.50"],
        "6 1234": ["6", "can", "R-1234yf", "200 g", "31.00"],
        "8 pag46": ["8", "oil", "PAG 46", "250 mL", "14.00"],
    }
    for line, (text, wanted) in enumerate(typed.items()):
        keys.type(text)
        keys.enter()
        driving.wait_until(keys.driver, lambda line=line, wanted=wanted: values(keys, line) == wanted)
        assert keys.at == "line_in_one_go"
    driving.shot(keys.driver, "delivery-typed")
    keys.post()
    posted_soon(keys, 3)
    with capsys.disabled():
        print(f"\ninvoice of three lines from a known supplier: {keys.count} keystrokes")
    assert keys.count <= GOAL
    assert len(last()) == 24 + 6 + 8 and last()[0] == ("can", "R-134a", 340_000, 950)


def test_what_is_open_is_asked_and_stays(at_desk):
    keys = at_desk
    head(keys)
    keys.type("24 can 134a 340")
    keys.enter()
    driving.wait_for_text(keys.driver, "Is 340 a weight or a price? Write 340 g or 340 kg, or @ 340 for a price.")
    assert keys.driver.find_element(By.NAME, "line_in_one_go").get_attribute("value") == "24 can 134a 340"
    driving.shot(keys.driver, "delivery-asked")
    keys.type(" kg 9,80")
    keys.enter()
    driving.wait_until(keys.driver, lambda: values(keys, 0) == ["24", "can", "R-134a", "340 kg", "9,80"])
    keys.post()
    driving.wait_for_text(keys.driver, "340 kg cannot be: is 340 g")
    driving.shot(keys.driver, "delivery-doubt")
    assert Voucher.objects.filter(kind="receipt").count() == 2
    driving.console_errors(keys.driver)  # the browser complains of the answer 422
    keys.click("button[name=settle]")
    posted_soon(keys, 3)
    assert last()[0] == ("can", "R-134a", 340_000, 980)


def test_lines_are_repeated_pasted_and_scanned(at_desk):
    keys = at_desk
    head(keys)
    keys.type("3 refill R-404A 10 kg")
    keys.enter()
    driving.wait_until(keys.driver, lambda: values(keys, 0)[:3] == ["3", "refillable", "R-404A"])
    for number in ("X-20417", "X-20418", "X-20419"):  # as a scanner types them
        keys.type(number)
        keys.enter()
    scanned = lambda: keys.driver.find_element(By.NAME, "line-0-supplier_number").get_attribute("value")  # noqa: E731
    driving.wait_until(keys.driver, lambda: scanned() == "X-20417, X-20418, X-20419")
    keys.press(Keys.F2)
    driving.wait_until(keys.driver, lambda: keys.at == "line-1-count")
    assert values(keys, 1) == values(keys, 0) and values(keys, 2)[2] == ""
    keys.driver.execute_script(
        r"""
        const sheet = new DataTransfer();
        sheet.setData("text/plain", "12\tcan\tR-134a\t340 g\t100 g\t9,80\n2\tFlasche\tR-134a\t5 kg\t\t60\n");
        const field = document.querySelector("[name=line-2-count]");
        field.dispatchEvent(new ClipboardEvent("paste", {clipboardData: sheet, bubbles: true, cancelable: true}));
        """
    )
    driving.wait_for_text(keys.driver, "1 cell could not be read; they are marked.")
    assert values(keys, 2) == ["12", "can", "R-134a", "340 g", "9,80"]
    assert values(keys, 3) == ["2", "", "R-134a", "5 kg", "60"]
    assert keys.driver.find_element(By.NAME, "line-3-kind").get_attribute("data-unread") == ""
    driving.shot(keys.driver, "delivery-pasted")


def test_the_same_as_last_time_is_one_key(at_desk, capsys):
    keys = at_desk
    keys.type("po")
    keys.enter()
    keys.type("4711")
    keys.press(Keys.F4)
    driving.wait_until(keys.driver, lambda: keys.at == "line-0-count")
    driving.shot(keys.driver, "delivery-last")
    assert values(keys, 2) == ["6", "oil", "PAG 46", "250 mL", "14.00"]
    keys.type("36")
    keys.post()
    posted_soon(keys, 3)
    with capsys.disabled():
        print(f"\ninvoice of three lines as last time, one count changed: {keys.count} keystrokes")
    assert keys.count <= GOAL
    assert len(last()) == 36 + 12 + 6 and last()[0] == ("can", "R-134a", 340_000, 950)


def test_one_field_of_an_invoice_is_corrected_by_the_field_and_a_reason(desk, live_server, office, known, capsys):
    """The price of its second line."""
    driving.sign_in(desk, live_server, office)
    number = Voucher.objects.filter(kind="receipt").earliest("number").number
    desk.get(f"{live_server.url}/ledger/{number}/correct/")
    driving.wait_for(desk, "[name=line-1-price]")
    keys, why = Keyboard(desk), "Misread."
    keys.click("[name=line-1-price]")
    desk.execute_script("document.activeElement.select()")
    keys.type("13.00")
    keys.click("[name=why]")
    keys.type(why)
    driving.shot(desk, "correct-one")
    keys.post()
    driving.wait_for_text(desk, "What the correction posts")
    keys.post()
    driving.wait_for_text(desk, f"Voucher {number} is corrected by voucher ")
    with capsys.disabled():
        print(f"\none field of an invoice corrected: {keys.count} keys and clicks, {len(why)} of them the reason")
    assert keys.count <= len("13.00") + len(why) + 6, "two clicks, and Ctrl+Enter twice"
    prices = list(Container.objects.filter(substance__code="R-1234yf").values_list("price_minor", flat=True))
    assert set(prices) == {1300} and len(prices) == 12 and verify().faults == []
