"""Buying from the need to the statement: ordered, half of it delivered without a price, billed otherwise than
its lines add up to, a cylinder sent back, its deposit credited. Each page is looked at on the way."""

import csv
import datetime as dt
import io

import pytest
from django.test import Client
from django.urls import reverse
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from inventory.buying.models import Invoice
from inventory.containers.models import Container, Scale
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.orders.models import Order
from inventory.parties.models import Party
from inventory.shop.clock import today
from tests.browser import driving
from tests.browser.keyboard import Keyboard
from tests.browser.test_accessible import faults
from tests.kept import made
from tests.stock import came, charge, delivery

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000


class Way(Keyboard):
    """The office manager's, from page to page."""

    def __init__(self, driver, server):
        super().__init__(driver)
        self.server = server

    def open(self, name, *args, **query):
        self.driver.get(f"{self.server.url}{reverse(name, args=args, query=query or None)}")

    def follow(self, words):
        driving.act_on(self.driver, "main", lambda main: main.find_element(By.LINK_TEXT, words).click())

    def fill(self, **said):
        """Into fields that may hold something already."""
        for name, text in said.items():
            field = self.driver.find_element(By.NAME, name)
            field.clear()
            field.send_keys(text)

    def choose(self, name, words):
        Select(self.driver.find_element(By.NAME, name)).select_by_visible_text(words)

    def row(self, about):
        """The beginning of the names of the invoice's line for that."""
        (found,) = (
            one.get_attribute("name").removesuffix("about")
            for one in self.driver.find_elements(By.CSS_SELECTOR, "[name$='-about']")
            if one.get_property("value") == about and self.value(one.get_attribute("name").replace("about", "of"))
        )
        return found

    def value(self, name):
        return self.driver.find_element(By.NAME, name).get_property("value")

    def said(self, words):
        driving.wait_for_text(self.driver, words)

    def look(self, name):
        """No serious fault at the desk in either scheme, and nothing beside the screen of a phone."""
        assert faults(self.driver) == [], name
        driving.shot(self.driver, f"{name}-desk")
        driving.set_screen(self.driver, driving.PHONE)
        assert driving.overflow(self.driver) == 0, name
        assert driving.small_targets(self.driver) == [], name
        driving.shot(self.driver, f"{name}-phone")
        driving.set_screen(self.driver, driving.DESK)


@pytest.fixture
def way(shop, desk, live_server, office):
    """A cylinder that came 100 days ago, of which a kilogram went each week."""
    made(Scale, code="bench", readability_mg=G, usual=True)
    cylinder = came("CYL-1", net=15_000 * G, grade="virgin", tare_mg=7_000 * G, price_minor=20_000, deposit_minor=5_000)
    delivery(cylinder, supplier="Polar Gas Supply", day=today() - dt.timedelta(100), document="A-1")
    for week in range(13):
        charge("CYL-1", quantity=1_000 * G, day=today() - dt.timedelta(7 * week + 1))
    driving.sign_in(desk, live_server, office)
    return Way(desk, live_server)


def test_from_the_need_to_the_statement(way, office):
    order = ordered(way)
    voucher = delivered_in_part(way, order)
    bill = billed_otherwise(way, order, voucher)
    sent = sent_back(way)
    credited(way, bill, sent)
    stated(way, office)
    for name in ("orders", "invoices", "statements", "order-new", "costs"):
        way.open(name)
        way.look(name)
    complaints = [one for one in driving.console_errors(way.driver) if "status of 422" not in one]  # of the question
    assert complaints == [] and verify().faults == []


def ordered(way):
    way.open("need")
    way.said("From Polar Gas Supply")
    way.look("need")
    way.fill(**{"count-R-134a": "3"})
    way.click("[name=supplier] ~ .actions button, form .actions button")
    way.said("is written.")
    order = Order.objects.get()
    way.look("order-written")
    way.click("form[action$='/sent/'] button:not([data-menu])")
    way.said("was sent.")
    return order


def delivered_in_part(way, order):
    """Two of the three, without a price."""
    way.follow("Receive what came")
    driving.wait_for(way.driver, "[name=line-0-count]")
    assert (way.value("line-0-count"), way.value("line-0-price")) == ("3", "200.00")
    way.fill(**{"document": "D-7", "line-0-count": "2", "line-0-price": ""})
    way.driver.execute_script("for (const one of document.querySelectorAll('form details')) one.open = true")
    way.fill(**{"line-0-deposit": "50.00"})
    way.look("delivery-of-an-order")
    way.driver.find_element(By.NAME, "document").click()
    way.post()
    driving.wait_until(way.driver, lambda: Voucher.objects.filter(kind="receipt").count() == 2)
    driving.wait_for(way.driver, ".page-head")
    way.open("order", order.pk)
    facts = way.driver.find_element(By.CSS_SELECTOR, "dl.facts").text.split("\n")
    assert [facts[facts.index(name) + 1] for name in ("Came", "Still to come")] == ["2", "1"]
    way.look("order-in-part")
    assert set(Container.objects.exclude(code="CYL-1").values_list("price_minor", flat=True)) == {None}
    return Voucher.objects.filter(kind="receipt").latest("number")


def billed_otherwise(way, order, voucher):
    """The price that was not known, and a total a unit higher than its lines."""
    way.follow(f"Enter the invoice of voucher {voucher.number}")
    driving.wait_until(way.driver, lambda: way.at == "number")
    goods = way.row("goods")
    assert (way.value(f"{goods}count"), way.value(f"{way.row('deposit')}price")) == ("2", "50.00")
    way.fill(**{"number": "I-7", f"{goods}price": "210.00", "total": "521.00"})
    way.look("invoice-form")
    way.post()
    way.said("a difference of 1.00 USD")
    way.look("invoice-asked")
    assert way.value("number") == "I-7" and not Invoice.objects.exists()
    way.click("[name=sure]")
    way.post()
    way.said("is kept.")
    way.look("invoice-kept")
    bill = Invoice.objects.get()
    assert (bill.total_minor, bill.sure_of) == (52_100, ["total"])
    prices = Container.objects.exclude(code="CYL-1").values_list("price_minor", "deposit_minor")
    assert set(prices) == {(21_000, 5_000)}, "a price that came late"
    return bill


def sent_back(way):
    """The cylinder that was there before, with what is left in it."""
    way.open("shipment-new", codes="CYL-1")
    way.choose("purpose", "return")
    way.choose("party", "Polar Gas Supply, supplier")
    way.fill(document="S-1")
    if not way.driver.find_element(By.NAME, "containers_go").is_selected():
        way.click("[name=containers_go]")
    way.look("sending-back")
    way.click("main form button.primary")
    way.said("Is this right?")
    way.click("main form button.primary")
    driving.wait_until(way.driver, lambda: Voucher.objects.filter(kind="shipment").exists())
    return Voucher.objects.get(kind="shipment")


def credited(way, bill, sent):
    """The deposit on one cylinder, and not what was in it."""
    way.open("invoice", bill.pk)
    way.follow("Enter a credit note for it")
    driving.wait_until(way.driver, lambda: way.at == "number")
    assert way.value("kind") == "credit" and way.value("credits") == str(bill.pk)
    goods, deposit = way.row("goods"), way.row("deposit")
    way.fill(**{"number": "C-1", f"{goods}count": "0", f"{deposit}count": "1", "total": "50.00"})
    (words,) = (one.text for one in Select(way.driver.find_element(By.NAME, "shipment")).options if "S-1" in one.text)
    way.choose("shipment", words)
    way.look("credit-form")
    way.post()
    way.said("Credit note C-1 of Polar Gas Supply is kept.")
    way.look("credit-kept")
    kept = Invoice.objects.get(kind="credit")
    assert (kept.credits, kept.shipment, kept.total_minor, kept.sure_of) == (bill, sent, 5_000, [])
    way.open("invoice", bill.pk)
    assert "credit note C-1, 50.00 USD" in way.driver.find_element(By.CSS_SELECTOR, "dl.facts").text


def stated(way, office):
    """The same figures on the page, in its file and in the report of all suppliers."""
    supplier = Party.objects.get(name="Polar Gas Supply")
    way.open("statement", supplier.pk)
    way.said("Statement of Polar Gas Supply")
    way.look("statement")
    shown = way.driver.find_element(By.CSS_SELECTOR, "dl.summary").text.split("\n")
    wanted = {
        "Billed less credited": "471.00 USD",
        "Not billed yet": "200.00 USD",
        "Billed and did not come": "0.00 USD",
        "Deposits out": "100.00 USD",
        "Cylinders out": "2",
    }
    assert {name: shown[shown.index(name) + 1] for name in wanted} == wanted
    client = Client()
    client.force_login(office)
    file = b"".join(client.get(reverse("statement", args=[supplier.pk]), {"export": "csv"})).decode("utf-8-sig")
    amounts = {row["What"]: row["Amount"] for row in csv.DictReader(io.StringIO(file))}
    assert (amounts["invoice"], amounts["credit note"]) == ("521.00", "-50.00")
    assert amounts["on cylinders that are out at the end"] == "100.00"
    days = {"first": today().replace(day=1), "last": today(), "format": "csv"}
    report = client.get(reverse("report", args=["suppliers"]), days).content.decode()
    (row,) = csv.DictReader(io.StringIO(report))
    assert (row["billed"], row["not_billed"], row["not_come"]) == ("471.00", "200.00", "0.00")
    assert (row["deposits_charged"], row["deposits_back"], row["deposits_after"]) == ("100.00", "50.00", "100.00")
