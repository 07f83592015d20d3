"""The form of an invoice, as its page offers it."""

import pytest
from django.urls import reverse

from inventory.buying.models import Invoice
from inventory.parties.models import Party
from inventory.shop.clock import today
from tests.forms import sent
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
G = 1000


@pytest.fixture
def page(shop, office_client):
    """The address of the form: two cans at 9.80 and a cylinder at 200.00 with 50.00 deposit came."""
    cans = [came(f"CAN-{n}", "can", 340 * G, grade="virgin", tare_mg=100 * G, price_minor=980) for n in "12"]
    more = {"grade": "virgin", "tare_mg": 7_000 * G, "price_minor": 20_000, "deposit_minor": 5_000}
    delivery(*cans, came("CYL-1", net=12_000 * G, **more), day=today(), document="A-1")
    return f"{reverse('invoice-new')}?supplier={Party.objects.get(name='Acme').pk}"


def said(office_client, page, **more):
    return sent(office_client.get(page).content.decode()) | {"number": "I-1"} | more


def billed(invoice):
    return sorted((line.about, line.count, line.price_minor) for line in invoice.lines.all())


def test_what_came_is_billed_as_it_is_offered(office_client, page):
    """Nothing of the rows is touched: all of them are on the paper."""
    answer = office_client.post(page, said(office_client, page, total="269.60"))
    assert answer.status_code == 302
    assert billed(Invoice.objects.get()) == [("deposit", 1, 5_000), ("goods", 1, 20_000), ("goods", 2, 980)]


def test_a_price_that_differs_leaves_the_other_lines_on_it(office_client, page):
    data = said(office_client, page, total="271.60")
    (row,) = (name for name, value in data.items() if name.endswith("-price") and value == "9.80")
    assert office_client.post(page, data | {row: "10.80"}).status_code == 302
    assert billed(Invoice.objects.get()) == [("deposit", 1, 5_000), ("goods", 1, 20_000), ("goods", 2, 1_080)]


def test_what_the_paper_does_not_bill_is_left_out_by_clearing_its_price_or_its_count(office_client, page):
    data = said(office_client, page, total="19.60")
    cleared = {name: "" for name, value in data.items() if name.endswith("-price") and value == "200.00"}
    naught = {name.replace("price", "count"): "0" for name, value in data.items() if value == "50.00"}
    assert len(cleared) == len(naught) == 1
    assert office_client.post(page, data | cleared | naught).status_code == 302
    assert billed(Invoice.objects.get()) == [("goods", 2, 980)]


@pytest.mark.parametrize(
    ("typed", "at", "wanted"),
    [
        ({"called": "Pallet", "price": "52.00"}, "count", "Write how many, or 0 to leave the line out."),
        ({"called": "Pallet", "count": "1"}, "price", "Write its price."),
        ({"called": "Pallet"}, "count", "Write how many, or 0 to leave the line out."),
        ({"count": "1", "price": "52.00"}, "called", "Choose what came, or write what it is."),
    ],
)
def test_half_a_line_is_asked_about_and_not_dropped(office_client, page, typed, at, wanted):
    data = said(office_client, page, total="269.60") | {f"line-3-{name}": value for name, value in typed.items()}
    answer = office_client.post(page, data)
    assert answer.status_code == 422 and not Invoice.objects.exists()
    assert wanted in answer.context["lines"].forms[3].errors[at]


def test_more_lines_keep_what_was_typed(office_client, page):
    data = said(office_client, page, total="269.60") | {"line-0-count": "1", "more": "1"}
    shown = office_client.post(page, data)
    assert shown.status_code == 200
    again = sent(shown.content.decode())
    assert again["line-0-count"] == "1" and again["line-2-price"] == data["line-2-price"] and "line-8-price" in again


def test_the_invoice_of_a_delivery_starts_with_its_lines_alone(office_client, page):
    """What came by others can be chosen and is not filled in."""
    number = delivery(came("CAN-3", "can", 500 * G, grade="virgin", tare_mg=100 * G), day=today(), document="A-2")
    shown = office_client.get(reverse("invoice-new"), {"delivery": number})
    rows = [form.initial for form in shown.context["lines"].forms if form.initial]
    assert [(row["of"].split("|")[0], row["count"], row["price"]) for row in rows] == [(str(number), 1, None)]
    assert len(shown.context["lines"].forms[0].groups) == 3
    assert office_client.get(reverse("invoice-new"), {"delivery": number + 1}).status_code == 404


def test_a_credit_note_starts_with_the_lines_of_its_invoice(office_client, page):
    """More than the invoice is of is asked about, and kept with one yes."""
    office_client.post(page, said(office_client, page, total="269.60"))
    bill = Invoice.objects.get()
    address = f"{reverse('invoice-new')}?credits={bill.pk}"
    data = said(office_client, address, number="C-1")
    assert (data["kind"], data["credits"]) == ("credit", str(bill.pk))
    assert sorted(value for name, value in data.items() if name.endswith("-price") and value) == [
        "200.00",
        "50.00",
        "9.80",
    ]
    data |= {f"line-{row}-count": "0" for row in range(3) if data[f"line-{row}-price"] != "9.80"}
    (cans,) = (name.removesuffix("price") for name, value in data.items() if value == "9.80")
    answer = office_client.post(address, data | {f"{cans}price": "140.00", "total": "280.00"})
    assert answer.status_code == 422 and "280.00 USD is credited of invoice I-1, which is of 269.60" in str(
        answer.context["form"].errors["total"]
    )
    typed = sent(answer.content.decode())
    assert typed[f"{cans}price"] == "140.00"
    assert office_client.post(address, typed | {"sure": "on"}).status_code == 302
    kept = Invoice.objects.get(kind="credit")
    assert (kept.sure_of, kept.credits, kept.total_minor) == (["credit"], bill, 28_000)
    assert [line.codes for line in kept.lines.all()] == [["CAN-1", "CAN-2"]]
    shown = office_client.get(reverse("invoice", args=[bill.pk])).content.decode()
    assert f'<a href="{reverse("invoice", args=[kept.pk])}">credit note C-1</a>' in shown
    correcting = sent(office_client.get(reverse("invoice-correct", args=[kept.pk])).content.decode())
    assert correcting["credits"] == str(bill.pk)
    assert office_client.get(reverse("invoice-new"), {"credits": kept.pk}).status_code == 404
