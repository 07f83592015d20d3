"""Orders and invoices by an office manager who leaves the mouse alone: Enter goes on, Ctrl+Enter posts."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.buying.models import Invoice
from inventory.orders.models import Order
from inventory.parties.models import Party
from inventory.shop.clock import today
from tests.browser import driving
from tests.browser.keyboard import Keyboard
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000


@pytest.fixture
def keys(shop, desk, live_server, office):
    can = came("CAN-1", "can", 340 * G, grade="virgin", tare_mg=100 * G, price_minor=980)
    delivery(can, supplier="Polar Gas Supply", day=today(), document="A-1")
    driving.sign_in(desk, live_server, office)
    return Keyboard(desk)


def cut_off(driver):
    """Choices of lines that are wider than their field: its name, the pixels wanted, the room there is."""
    return driver.execute_script(
        """
        const pens = document.createElement("canvas").getContext("2d");
        const cut = [];
        for (const one of document.querySelectorAll(".line select")) {
          const look = getComputedStyle(one), arrow = 20;
          pens.font = `${look.fontWeight} ${look.fontSize} ${look.fontFamily}`;
          const wanted = Math.max(...[...one.options].map((it) => pens.measureText(it.text).width)) + arrow;
          const room = one.clientWidth - parseFloat(look.paddingLeft) - parseFloat(look.paddingRight);
          if (wanted > room) cut.push(`${one.name} ${Math.round(wanted)} ${Math.round(room)}`);
        }
        return cut;
        """
    )


def test_an_order(keys, live_server):
    keys.driver.get(f"{live_server.url}/buying/orders/new/")
    driving.wait_until(keys.driver, lambda: keys.at == "supplier")
    for text in ("pol", "B-1", ""):  # supplier, number, day
        keys.type(text)
        keys.enter()
    assert keys.driver.find_element(By.NAME, "supplier").get_attribute("value") == "Polar Gas Supply"
    assert keys.at == "note" and not Order.objects.exists(), "Enter goes on"
    keys.press(Keys.TAB)
    assert keys.at == "line_in_one_go"
    for number, line in enumerate(("24 134 9.50", "2 can 134 900g 20.00")):
        keys.type(line)
        keys.enter()
        price = f"[name=line-{number}-price]"
        driving.wait_until(
            keys.driver, lambda price=price: keys.driver.find_element(By.CSS_SELECTOR, price).get_attribute("value")
        )
    assert not Order.objects.exists()
    driving.shot(keys.driver, "order-typed")
    assert cut_off(keys.driver) == []
    keys.post()
    driving.wait_for_text(keys.driver, "Order B-1 is written.")
    order = Order.objects.get()
    said = [(line.substance, line.net, line.count, line.price_minor) for line in order.lines.all()]
    assert said == [("R-134a", 340 * G, 24, 950), ("R-134a", 900 * G, 2, 2_000)]
    assert list(Party.objects.filter(role="supplier").values_list("name", flat=True)) == ["Polar Gas Supply"]
    assert driving.console_errors(keys.driver) == []


def test_an_invoice_as_it_was_offered(keys, live_server):
    keys.driver.get(f"{live_server.url}/buying/invoices/new/?supplier={Party.objects.get().pk}")
    driving.wait_until(keys.driver, lambda: keys.at == "number")
    keys.type("I-1")
    keys.enter()
    assert keys.at == "day" and not Invoice.objects.exists(), "Enter goes on"
    keys.enter()
    assert keys.at == "total"
    keys.type("9.80")
    keys.post()
    driving.wait_for_text(keys.driver, "is kept.")
    assert [(line.count, line.price_minor) for line in Invoice.objects.get().lines.all()] == [(1, 980)]
    assert driving.console_errors(keys.driver) == []


def test_an_invoice_of_a_delivery_is_its_prices(keys, live_server, capsys):
    """Three lines came without prices: number, total and three prices are typed, everything else stands there."""
    more = {"grade": "virgin", "tare_mg": 100 * G}
    sorts = {"CAN-2": 340 * G, "CAN-3": 500 * G, "CAN-4": 900 * G}
    number = delivery(
        *(came(code, "can", net, **more) for code, net in sorts.items()),
        supplier="Polar Gas Supply",
        day=today(),
        document="A-2",
    )
    keys.driver.get(f"{live_server.url}/ledger/{number}/")
    keys.driver.find_element(By.LINK_TEXT, "Its invoice").click()
    driving.wait_until(keys.driver, lambda: keys.at == "number")
    keys.type("I-2")
    keys.enter()
    keys.enter()
    keys.type("43.40")
    for line, price in enumerate(("9.80", "13.10", "20.50")):
        keys.enter()
        assert keys.at == f"line-{line}-price"
        keys.type(price)
    driving.shot(keys.driver, "invoice-typed")
    assert cut_off(keys.driver) == []
    keys.post()
    driving.wait_for_text(keys.driver, "is kept.")
    with capsys.disabled():
        print(f"\ninvoice of a known delivery with three prices: {keys.count} keystrokes")
    assert keys.count <= 40
    said = [(line.codes, line.price_minor) for line in Invoice.objects.get().lines.all()]
    assert said == [(["CAN-2"], 980), (["CAN-3"], 1_310), (["CAN-4"], 2_050)]
    assert driving.console_errors(keys.driver) == []
