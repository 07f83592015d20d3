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


def test_an_order(keys, live_server):
    keys.driver.get(f"{live_server.url}/buying/orders/new/")
    driving.wait_until(keys.driver, lambda: keys.at == "supplier")
    for text in ("pol", "B-1", ""):  # supplier, number, day
        keys.type(text)
        keys.enter()
    assert keys.driver.find_element(By.NAME, "supplier").get_attribute("value") == "Polar Gas Supply"
    assert keys.at == "note" and not Order.objects.exists(), "Enter goes on"
    keys.press(Keys.TAB)
    keys.press("c")
    keys.enter()
    for text in ("R-134a", "", "340 g", "24", "9.50"):
        keys.type(text)
        keys.enter()
    assert keys.at == "line-0-expected_on" and not Order.objects.exists()
    keys.post()
    driving.wait_for_text(keys.driver, "Order B-1 is written.")
    order = Order.objects.get()
    (line,) = order.lines.all()
    assert (line.substance, line.net, line.count, line.price_minor) == ("R-134a", 340 * G, 24, 950)
    assert list(Party.objects.filter(role="supplier").values_list("name", flat=True)) == ["Polar Gas Supply"]
    assert driving.console_errors(keys.driver) == []


def test_an_invoice_as_it_was_offered(keys, live_server):
    keys.driver.get(f"{live_server.url}/buying/invoices/new/?supplier={Party.objects.get().pk}")
    driving.wait_until(keys.driver, lambda: keys.at == "number")
    keys.type("I-1")
    keys.enter()
    assert keys.at == "day" and not Invoice.objects.exists(), "Enter goes on"
    keys.click("[name=total]")
    keys.type("9.80")
    keys.post()
    driving.wait_for_text(keys.driver, "is kept.")
    assert [(line.count, line.price_minor) for line in Invoice.objects.get().lines.all()] == [(1, 980)]
    assert driving.console_errors(keys.driver) == []
