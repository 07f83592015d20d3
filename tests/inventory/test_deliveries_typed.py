"""Deliveries as they are typed at a desk: their lines, and the numbers by which a supplier knows its cylinders."""

import pytest

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
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
