"""The pages of orders, and the delivery that is entered from one."""

import datetime as dt
import uuid
from dataclasses import replace

import pytest
from django.urls import reverse

from inventory.orders.actions import OrderHead, Wanted, give_up_line, order_sent, place_order
from inventory.orders.models import Order
from inventory.orders.queries import late_orders, progress_of
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from tests.forms import sent

pytestmark = pytest.mark.django_db
G = 1000
CAN = Wanted("can", "R-134a", False, "virgin", 340 * G, 24, 980)
LARGE = Wanted("can", "R-134a", False, "virgin", 900 * G, 2, 2_000)


def ordered(*lines, ago=0, **head):
    said = {"head": OrderHead(today() - dt.timedelta(ago), **head), "by": "oscar", "key": uuid.uuid4()}
    return place_order(supplier=supplier_called("Acme"), lines=lines, **said)


def test_what_is_received_for_an_order_stands_where_such_stood_last(shop, office_client):
    """The place of last time; the tare as well, where they are of the same size. Prices are those of the order."""
    came = Arrival("can", "R-134a", False, "virgin", 340 * G, 12, "Store", tare_mg=100 * G, price_minor=900)
    head = {"day": today(), "by": "oscar", "key": str(uuid.uuid4())}
    receive(lines=[came], supplier=supplier_called("Acme"), document="A-1", **head)
    order = ordered(CAN, LARGE)
    shown = sent(office_client.get(f"{reverse('receipt-new')}?order={order.code}").content.decode())
    wanted = ("count", "net", "tare", "price", "location")
    assert [shown[f"line-0-{name}"] for name in wanted] == ["24", "340 g", "100 g", "9.80", "Store"]
    assert [shown[f"line-1-{name}"] for name in wanted] == ["2", "900 g", "", "20.00", "Store"]


def test_orders_are_listed_by_whether_they_were_sent(shop, office_client):
    kept, gone = ordered(CAN, number="B-1"), ordered(CAN, number="B-2")
    order_sent(code=gone.code, on=today())
    for asked, wanted in (("", {kept, gone}), ("no", {kept}), ("yes", {gone})):
        page = office_client.get(reverse("orders"), {"sent": asked})
        assert {row.record for row in page.context["table"].rows} == wanted
        assert "Unknown" not in page.content.decode()


def test_lines_of_an_order_are_filled_in_by_buttons(shop, office_client):
    """Without a script: a line typed in one go, repeated, more of them; blank ones are no lines when it is kept."""
    page = reverse("order-new")
    data = sent(office_client.get(page).content.decode()) | {"supplier": "Acme"}
    shown = office_client.post(page, data | {"line_in_one_go": "24 can R-134a 340 g 9.80", "add": "1"})
    data = sent(shown.content.decode())
    assert [data[f"line-0-{name}"] for name in ("count", "kind", "net", "price")] == ["24", "can", "340 g", "9.80"]
    data = sent(office_client.post(page, data | {"repeat": "0"}).content.decode())
    data = sent(office_client.post(page, data | {"more": "1"}).content.decode())
    assert office_client.post(page, data | {"line-1-count": "2"}).status_code == 302
    assert [line.count for line in Order.objects.get().lines.all()] == [24, 2]


def test_a_line_that_says_too_little_is_asked_about(shop, office_client):
    page = reverse("order-new")
    data = sent(office_client.get(page).content.decode()) | {"supplier": "Acme", "line_in_one_go": "24 can", "add": "1"}
    shown = office_client.post(page, data).content.decode()
    assert sent(shown)["line_in_one_go"] == "24 can" and "Name what is in it" in shown


def test_a_deposit_is_not_taken_by_an_order_in_silence(shop, office_client):
    """An order says no deposit: what is typed of one stays where it was, and where it belongs is said."""
    page, typed = reverse("order-new"), "1 refill R-134a 10 kg 180.00 deposit 60"
    data = sent(office_client.get(page).content.decode()) | {"supplier": "Acme", "line_in_one_go": typed, "add": "1"}
    shown = office_client.post(page, data).content.decode()
    assert sent(shown)["line_in_one_go"] == typed and "The deposit stands on the delivery" in shown
    asked = {"text": typed, "supplier": "Acme"}
    line = reverse("receipt-line")
    assert "The deposit stands on" in office_client.get(line, asked | {"without": "deposit"}).json()["problem"]
    assert office_client.get(line, asked).json()["fields"]["deposit"] == "60"
    cylinder = Arrival("refillable", "R-134a", False, "virgin", 10_000 * G, 1, "Store", deposit_minor=6_000)
    head = {"day": today(), "by": "oscar", "key": str(uuid.uuid4())}
    receive(lines=[cylinder], supplier=supplier_called("Acme"), document="A-1", **head)
    asked["text"] = "1 refill R-134a 10 kg 180.00"
    assert office_client.get(line, asked).json()["fields"]["deposit"] == "60.00"
    assert "deposit" not in str(office_client.get(line, asked | {"without": "deposit"}).json())


def test_home_says_which_orders_are_late(shop, office_client):
    """As the list of orders has it: not those that came, nor those that are given up or not expected yet."""

    def said():
        (panel,) = [one for one in office_client.get("/").context["panels"] if one["title"] == "Open and due"] or [{}]
        return [(row["text"], row["badge"]) for row in panel.get("rows", ()) if "ordered" in row["text"].lower()]

    def expect(days):
        head, line = OrderHead(today() - dt.timedelta(30)), replace(CAN, expected_on=today() + dt.timedelta(days))
        supplier = supplier_called("Acme")
        return place_order(supplier=supplier, head=head, lines=[line], by="oscar", key=uuid.uuid4())

    came, given_up, late = expect(-2), expect(-3), expect(-1)
    expect(0)
    arrival = Arrival("can", "R-134a", False, "virgin", 340 * G, 24, "Store", tare_mg=100 * G)
    head = {"day": today(), "by": "oscar", "key": str(uuid.uuid4()), "order": came}
    receive(lines=[arrival], supplier=came.supplier, document="A-1", **head)
    give_up_line(pk=given_up.lines.get().pk, why="none left", by="oscar")
    assert list(late_orders(today())) == [late]
    assert said() == [("Ordered and not come", "1 late")]
    give_up_line(pk=late.lines.get().pk, why="none left", by="oscar")
    assert said() == []


@pytest.mark.parametrize("name", ["orders", "invoices"])
def test_lists_of_buying_call_the_supplier_so(shop, office_client, name):
    titles = [column.header for column in office_client.get(reverse(name)).context["table"].columns]
    assert "Supplier" in titles and "Name" not in titles


def test_a_delivery_is_linked_to_its_order_by_pages(shop, office_client):
    order = ordered(CAN, number="B-1")
    came = Arrival("can", "R-134a", False, "virgin", 340 * G, 12, "Store", tare_mg=100 * G, price_minor=900)
    head = {"day": today(), "by": "oscar", "key": str(uuid.uuid4())}
    number = receive(lines=[came], supplier=supplier_called("Acme"), document="A-1", **head)
    page = reverse("order-came", args=[order.pk])
    assert "12 × can R-134a virgin 340 g" in office_client.get(page).content.decode()
    assert office_client.post(page, {"delivery": ""}).status_code == 422
    assert office_client.post(page, {"delivery": number}).status_code == 302
    assert progress_of(order).came == 12
    assert "is for an order already" in office_client.get(page).content.decode()
    undo = reverse("order-not-came", args=[order.pk, number])
    assert office_client.post(undo, {"why": ""}).status_code == 422
    assert office_client.post(undo, {"why": "of another"}).status_code == 302
    assert progress_of(order).came == 0


def test_late_orders_stand_on_home_and_are_listed(shop, office_client):
    late = ordered(replace(CAN, expected_on=today() - dt.timedelta(1)), ago=5, number="B-1")
    ordered(CAN, number="B-2")
    assert "1 late" in office_client.get(reverse("home")).content.decode()
    page = office_client.get(reverse("orders"), {"late": "yes"})
    assert [row.record for row in page.context["table"].rows] == [late]
