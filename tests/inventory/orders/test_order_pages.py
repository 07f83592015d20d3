"""The pages of orders, and the delivery that is entered from one."""

import uuid

import pytest
from django.urls import reverse

from inventory.orders.actions import OrderHead, Wanted, order_sent, place_order
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from tests.forms import sent

pytestmark = pytest.mark.django_db
G = 1000
CAN = Wanted("can", "R-134a", False, "virgin", 340 * G, 24, 980)
LARGE = Wanted("can", "R-134a", False, "virgin", 900 * G, 2, 2_000)


def ordered(*lines, **head):
    said = {"head": OrderHead(today(), **head), "by": "oscar", "key": uuid.uuid4()}
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
