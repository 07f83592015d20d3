"""Deliveries as they are typed at a desk: their lines, and the numbers by which a supplier knows its cylinders."""

import datetime as dt
import json
import re
import uuid

import pytest

from inventory.containers.holdings import GRADES
from inventory.containers.models import Container, Location, Scale
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.orders.actions import OrderHead, Wanted, place_order
from inventory.orders.queries import order_of
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.typed_lines import read_line
from inventory.text.refusal import Refused
from tests.forms import sent
from tests.inventory.test_office_pages import CANS, delivery
from tests.kept import made

pytestmark = pytest.mark.django_db
NEW = "/receiving/new/"
CYLINDERS = {
    "kind": "refillable",
    "substance": "R-404A",
    "net": "10 kg",
    "count": "3",
    "tare": "8 kg",
    "location": "Store",
    "code": "F-001",
}


@pytest.fixture
def ready(shop, office_client):
    made(Scale, code="bench", readability_mg=1000, usual=True)
    made(Location, name="Store")
    return office_client


def corrected(client, number, change):
    """Change what a voucher said, look at what that posts, and post it."""
    page = f"/ledger/{number}/correct/"
    seen = client.post(page, sent(client.get(page).content.decode()) | change)
    assert seen.status_code == 200
    return client.post(page, sent(seen.content.decode()) | {"post": "1"}).status_code


def numbers():
    return list(Container.objects.order_by("code").values_list("supplier_number", flat=True))


@pytest.mark.parametrize("lines", [4, 5])
def test_lines_that_the_button_added_are_taken(ready, lines):
    head = {"supplier": "Acme", "document": "INV-9", "day": "2026-03-02"}
    form = sent(ready.get(NEW).content.decode()) | head
    for number in range(3):
        form |= {f"line-{number}-{name}": value for name, value in {**CANS, "count": "2"}.items()}
    form = sent(ready.post(NEW, form | {"more": "1"}).content.decode())
    assert form["line-TOTAL_FORMS"] == "6" and form["line-0-substance"] == "R-134a"
    for number in range(3, lines):
        form |= {f"line-{number}-{name}": value for name, value in {**CANS, "count": "2"}.items()}
    answer = ready.post(NEW, form)
    assert answer.status_code == 302, "what nobody typed into is no line"
    assert Container.objects.count() == 2 * lines and verify().faults == []


def test_each_cylinder_keeps_its_supplier_s_number(ready):
    answer = ready.post(NEW, delivery(CYLINDERS | {"supplier_number": "X-17, X-9\nX-18"}))
    assert answer.status_code == 302
    assert numbers() == ["X-17", "X-9", "X-18"], "one each, in the order of the codes"
    number = Voucher.objects.get(kind="receipt").number
    assert "X-18" in Voucher.objects.get(number=number).detail
    assert "X-9" in ready.get("/stock/containers/F-002/").content.decode()
    assert "F-003" in ready.get("/stock/?text=x-18").content.decode(), "found by it"
    again = sent(ready.get(f"/ledger/{number}/correct/").content.decode())
    assert again["line-0-supplier_number"] == "X-17, X-9, X-18" and again["line-0-count"] == "3"
    change = {"line-0-supplier_number": "X-17, X-10, X-18", "why": "Misread."}
    assert corrected(ready, number, change) == 302 and numbers() == ["X-17", "X-10", "X-18"]
    assert verify().faults == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [("X-1, X-2", "2 supplier&#x27;s numbers for 3 containers"), ("X-1, X-2, X-1", "X-1 stands there twice")],
)
def test_numbers_that_do_not_fit_their_containers_are_refused(ready, typed, said):
    answer = ready.post(NEW, delivery(CYLINDERS | {"supplier_number": typed}))
    assert answer.status_code == 422 and said in answer.content.decode()
    assert sent(answer.content.decode())["line-0-supplier_number"] == typed and not Container.objects.exists()


def test_a_number_that_was_read_later_is_kept_with_the_label(ready):
    ready.post(NEW, delivery(CYLINDERS))
    page = "/stock/containers/F-002/relabel/"
    assert ready.post(page, sent(ready.get(page).content.decode()) | {"supplier_number": "X-44"}).status_code == 302
    assert numbers() == ["", "X-44", ""] and verify().faults == []
    number = Voucher.objects.get(kind="receipt").number
    again = sent(ready.get(f"/ledger/{number}/correct/").content.decode())
    assert [again[f"line-{n}-supplier_number"] for n in range(3)] == ["", "X-44", ""], (
        "lines part where only some have one"
    )
    assert (
        corrected(ready, number, {"document": "INV-2", "why": "Another."}) == 302
        and numbers() == ["", "X-44", ""]
        and verify().faults == []
    )


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("24 can R-134a 340 g 9,80", (24, ("can",), "R-134a", "340 g", "9,80")),
        ("24x 134a 340g @ 12", (24, (), "R-134a", "340g", "12")),
        ("12 32", (12, (), "R-32", "", "")),
        ("12 32 680 g 14.50", (12, (), "R-32", "680 g", "14.50")),
        ("2 disp 410a 11.3 kg at 120", (2, ("disposable",), "R-410A", "11.3 kg", "120")),
        ("6 PAG46 250 mL 4", (6, (), "PAG 46", "250 mL", "4")),
        ("refill 404", (1, ("refillable",), "R-404A", "", "")),
        ("24\tcan\tR-134a\t340 g\t9.80", (24, ("can",), "R-134a", "340 g", "9.80")),
        ("2 refill 404a 10 kg 180.00 dep. 60", (2, ("refillable",), "R-404A", "10 kg", "180.00", "60")),
        ("2 refill 404a 10 kg deposit 60,50", (2, ("refillable",), "R-404A", "10 kg", "", "60,50")),
        ("2 cylinder 134a", (2, ("disposable", "refillable", "recovery"), "R-134a", "", "")),
    ],
)
def test_a_line_is_read_as_the_trade_writes_it(text, line):
    read = read_line(text, grades=GRADES, places=["Store"], here=["R-134a", "R-404A"])
    assert (read.count, read.kinds, read.substance, read.net, read.price, read.deposit) == (*line, "")[:6]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("24 can 134a 340", "Is 340 a weight or a price?"),
        ("24 can 4", "4 can be R-404A or R-407C"),
        ("134a 340 g 5 kg", "340 g and 5 kg are two amounts"),
        ("24 can 134a 340 g 9.80 soon", "is not understood"),
        ("2 refill 404a dep 60 dep 70", "60 and 70 are two deposits"),
        ("24 can", "Name what is in it"),
        ("600 can 134a", "1 to 500"),
    ],
)
def test_what_can_be_read_in_two_ways_is_asked(text, said):
    with pytest.raises(Refused, match=re.escape(said)):
        read_line(text, grades=GRADES, places=[], here=["R-134a", "R-404A", "R-407C"])


def test_the_buttons_fill_in_lines_where_no_script_runs(ready):
    assert ready.post(NEW, delivery(CANS, CYLINDERS | {"supplier_number": "X-1, X-2, X-3"})).status_code == 302
    form = sent(ready.get(NEW).content.decode()) | {"supplier": "Acme", "document": "INV-2", "day": "2026-03-03"}
    form = sent(ready.post(NEW, form | {"last": "1"}).content.decode())
    assert (form["line-0-count"], form["line-0-net"], form["line-0-price"]) == ("24", "340 g", "9.50")
    assert (form["line-1-kind"], form["line-1-code"], form["line-1-supplier_number"]) == ("refillable", "", "")
    form = sent(ready.post(NEW, form | {"line_in_one_go": "6 134a", "add": "1"}).content.decode())
    assert (form["line-2-count"], form["line-2-kind"], form["line-2-tare"]) == ("6", "can", "100 g")
    form = sent(ready.post(NEW, form | {"repeat": "2"}).content.decode())
    typed = sent(
        ready.post(NEW, form | {"line_in_one_go": "1 refill 404a 10 kg 180.00 deposit 60", "add": "1"}).content.decode()
    )
    assert (typed["line-4-price"], typed["line-4-deposit"]) == ("180.00", "60")
    assert (form["line-3-count"], form["line-3-substance"]) == ("6", "R-134a") and form["line-TOTAL_FORMS"] == "4"
    answer = ready.post(NEW, form | {"line_in_one_go": "6 can of air", "add": "1"})
    assert (
        "is not understood" in answer.content.decode()
        and sent(answer.content.decode())["line_in_one_go"] == "6 can of air"
    )
    assert ready.post(NEW, form).status_code == 302
    assert Container.objects.count() == 2 * (24 + 3) + 12 and verify().faults == []


def test_a_delivery_for_an_order_is_filled_in(ready, office):
    supplier = supplier_called("Acme")
    wanted = [Wanted("can", "R-134a", False, "virgin", 340_000, 24, 950)]
    head = OrderHead(day=dt.date(2026, 2, 20), number="PO-7")
    order = place_order(supplier=supplier, head=head, lines=wanted, by="oscar", key=uuid.uuid4())
    page = ready.get(f"{NEW}?order={order.code}")
    form = sent(page.content.decode()) | {"document": "INV-3"}
    assert "For order PO-7" in page.content.decode() and form["supplier"] == "Acme" and form["line-0-count"] == "24"
    assert ready.post(NEW, form).status_code == 302
    assert order_of(Voucher.objects.get(kind="receipt").number) == order and verify().faults == []
    assert ready.get(f"{NEW}?order=O-999999").status_code == 404


@pytest.mark.parametrize(
    ("line", "head", "question", "settle"),
    [
        ({"net": "340 kg"}, {}, "340 kg cannot be: is 340 g", {"settle": "line-0-net 340 g"}),
        ({"net": "2000 g"}, {}, "Hardly", None),
        ({"tare": "8 kg"}, {}, "8 kg", {"settle": "line-0-tare 80 g"}),
        ({"price": "950"}, {}, "9.50 or 950.00?", {"settle": "line-0-price 9.50"}),
        ({"location": "store"}, {}, "Store or store?", {"settle": "line-0-location Store"}),
        ({}, {"supplier": "ACME"}, "Acme or ACME?", {"settle": "supplier Acme"}),
        ({}, {"day": "1926-03-02"}, "Did you mean 2 Mar 2026?", None),
    ],
)
def test_what_can_be_is_asked_and_what_cannot_is_refused(ready, line, head, question, settle):
    assert ready.post(NEW, delivery(CANS)).status_code == 302
    answer = ready.post(NEW, delivery(CANS | line, **{"document": "INV-2", **head}))
    page = answer.content.decode()
    assert answer.status_code == 422 and Container.objects.count() == 24
    if settle is None:
        return
    assert question in page
    assert ready.post(NEW, sent(page) | settle).status_code == 302
    last = Container.objects.latest("id")
    assert (last.nominal, last.location.name) == (340_000, "Store") and last.tare_mg in {100_000, 80_000}
    assert Party.objects.count() == 1 and Location.objects.count() == 1 and verify().faults == []


def test_an_asked_about_value_is_posted_after_one_yes_and_the_yes_is_kept(ready):
    assert ready.post(NEW, delivery(CANS)).status_code == 302
    answer = ready.post(NEW, delivery(CANS | {"price": "950"}, document="INV-2", supplier="ACME"))
    assert answer.status_code == 422
    sure = ["line-0-price 950.00", "supplier ACME"]
    assert ready.post(NEW, sent(answer.content.decode()) | {"sure": sure}).status_code == 302
    voucher = Voucher.objects.latest("number")
    kept = json.loads(Voucher.objects.filter(kind="receipt").latest("number").detail)["sure"]
    assert kept == {"Supplier": "as it was typed", "Price each of line 1": "as it was typed"}
    page = ready.get(f"/ledger/{voucher.number}/").content.decode()
    assert "Asked about, and right" in page and "ACME" not in voucher.detail
    assert corrected(ready, voucher.number, {"note": "Seen.", "why": "A note."}) == 302, "what stood is not asked again"
    assert verify().faults == []


def test_a_number_that_is_here_already_is_asked_about(ready):
    assert ready.post(NEW, delivery(CYLINDERS | {"supplier_number": "X-1, X-2, X-3"})).status_code == 302
    again = CYLINDERS | {"supplier_number": "X-2", "count": "1", "code": ""}
    answer = ready.post(NEW, delivery(again, document="INV-2"))
    assert answer.status_code == 422 and "By the book X-2 is on F-002, which is here." in answer.content.decode()
    sure = sent(answer.content.decode()) | {"sure": "line-0-supplier_number X-2"}
    assert ready.post(NEW, sure).status_code == 302 and numbers().count("X-2") == 2


def test_a_price_with_a_comma_is_what_it_says(ready):
    """`9,80` is 9.80, never 980."""
    assert ready.post(NEW, delivery(CANS | {"price": "9,80"})).status_code == 302
    assert set(Container.objects.values_list("price_minor", flat=True)) == {980}
