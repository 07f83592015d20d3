"""Invoices and credit notes: late and corrected prices, tax, deposits, what is not billed and what did not come."""

import datetime as dt
import uuid
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.buying.actions import Billed, InvoiceSaid, declare_void, enter_invoice
from inventory.buying.amounts import difference, tax_of
from inventory.buying.billing import unbilled
from inventory.buying.deposits import account
from inventory.buying.models import Invoice
from inventory.buying.statement import statement, statements
from inventory.containers.actions import take_back
from inventory.containers.models import Container
from inventory.ledger.models import Record, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
G = 1000


def ago(days):
    return today() - dt.timedelta(days)


@pytest.fixture
def acme(shop):
    """Two cans without a price and two cylinders with a deposit came 20 days ago, under A-1."""
    cans = [came(f"CAN-{n}", "can", 340 * G, grade="virgin", tare_mg=100 * G) for n in "12"]
    cylinders = [
        came(f"CYL-{n}", net=12_000 * G, grade="virgin", tare_mg=7_000 * G, price_minor=20_000, deposit_minor=5_000)
        for n in "12"
    ]
    delivery(*cans, *cylinders, day=ago(20), document="A-1")
    return supplier_called("Acme")


def group(acme, kind="can", about="goods"):
    return next(one for one in unbilled(acme, today(), about=about) if one.sort.kind == kind)


def line(of, price, count=None, about="goods"):
    return Billed(about, count or len(of.codes), price, of.sort, of.is_oil, tuple(of.codes))


def paper(acme, *lines, number="I-1", total=None, kind="invoice", **more):
    total = sum(one.count * one.price_minor for one in lines) if total is None else total
    return InvoiceSaid(acme, kind, number, more.pop("day", ago(10)), lines, total, **more)


def enter(said, **more):
    return enter_invoice(said=said, by="oscar", key=uuid.uuid4(), **more)


def prices():
    return dict(Container.objects.order_by("code").values_list("code", "price_minor"))


def test_tax_and_difference_by_hand():
    assert tax_of(1_999, Decimal("19")) == 380, "379.81"
    assert [tax_of(minor, Decimal("50")) for minor in (1, 3, 5)] == [0, 2, 2], "half to even"
    assert tax_of(100_000, Decimal("8.875")) == Fraction(8875)
    assert difference([(2, 980), (1, 500)], (700, 300), 3_460) == 0
    assert difference([(2, 980)], (0, 0), 1_950) == -10


def test_a_price_that_comes_late_stands_beside_the_delivery(acme):
    before = list(Voucher.objects.filter(kind="receipt").values_list("number", "detail", "digest"))
    assert prices()["CAN-1"] is None
    enter(paper(acme, line(group(acme), 980)))
    assert (prices()["CAN-1"], prices()["CAN-2"]) == (980, 980)
    assert list(Voucher.objects.filter(kind="receipt").values_list("number", "detail", "digest")) == before
    assert [one.sort.kind for one in unbilled(acme, today())] == ["refillable"]
    assert verify().faults == []


def test_a_wrong_price_gets_a_revision_with_a_reason_and_both_stay(acme):
    cans, cylinders = group(acme), group(acme, "refillable")
    first = enter(paper(acme, line(cans, 980), line(cylinders, 19_000)))
    assert prices() == {"CAN-1": 980, "CAN-2": 980, "CYL-1": 19_000, "CYL-2": 19_000}
    with pytest.raises(Refused, match="why it is corrected"):
        enter(paper(acme, line(cans, 890)), revises=first)
    second = enter(paper(acme, line(cans, 890)), revises=first, why="misread")
    assert prices() == {"CAN-1": 890, "CAN-2": 890, "CYL-1": 20_000, "CYL-2": 20_000}
    with pytest.raises(Refused, match="counts no more"):
        enter(paper(acme, line(cans, 900)), revises=first, why="again")
    declare_void(pk=second.pk, why="another shop's", by="oscar")
    assert prices() == {"CAN-1": None, "CAN-2": None, "CYL-1": 20_000, "CYL-2": 20_000}
    said = [record.body for record in Record.objects.filter(kind="invoice").order_by("id")]
    assert Invoice.objects.count() == 2 and len(said) == 3, "each revision and the voiding are in the record"
    assert verify().faults == []


def test_a_total_that_differs_is_asked_about_once_and_not_refused(acme):
    cans = group(acme)
    with pytest.raises(Refused, match="a difference of -0.60") as refused:
        enter(paper(acme, line(cans, 980), total=1_900))
    assert refused.value.asks and not Invoice.objects.exists()
    kept = enter(paper(acme, line(cans, 980), total=1_900, sure=True))
    assert kept.sure_of == ["total"] and kept.total_minor == 1_900
    assert not enter(paper(acme, line(group(acme, "refillable"), 20_000), number="I-2", sure=True)).sure_of


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"number": "I-0"}, "was entered before"),
        ({"number": " "}, "Write the number"),
        ({"day": dt.date(2999, 1, 1)}, "has not come yet"),
        ({"shipment": 1}, "credited by a credit note"),
        ({"shipment": 1, "kind": "credit"}, "no shipment to Acme"),
        ({"credits": "I-0"}, "choose that kind"),
        ({"credits": "another's", "kind": "credit"}, "no invoice of Acme"),
    ],
)
def test_what_is_refused_leaves_nothing(acme, change, words):
    own, others = (
        enter(paper(of, Billed("other", 1, 100, called="pallet"), number="I-0"))
        for of in (acme, supplier_called("Boreal"))
    )
    if "credits" in change:
        change = change | {"credits": own if change["credits"] == "I-0" else others}
    before, records = prices(), Record.objects.count()
    with pytest.raises(Refused, match=words):
        enter(paper(acme, line(group(acme), 980), **change))
    assert (prices(), Record.objects.count(), Invoice.objects.count()) == (before, records, 2)


def test_a_number_is_given_once_a_year_and_asked_about_in_another(acme):
    """By the days on the papers, however near each other they are."""
    pallet = Billed("other", 1, 100, called="pallet")
    first = enter(paper(acme, pallet, day=dt.date(2025, 12, 31)))
    with pytest.raises(Refused, match="Within a year, that of the day on the paper") as refused:
        enter(paper(acme, pallet, day=dt.date(2025, 1, 1), sure=True))
    assert refused.value.field == "number" and not getattr(refused.value, "asks", False)
    with pytest.raises(Refused, match=r"was entered before, of 31 Dec 2025, in another year\. Did the") as refused:
        enter(paper(acme, pallet, day=dt.date(2026, 1, 1)))
    assert refused.value.field == "number" and refused.value.asks
    second = enter(paper(acme, pallet, day=dt.date(2026, 1, 1), sure=True))
    assert (first.sure_of, second.sure_of) == ([], ["number"])
    again = enter(paper(acme, pallet, day=dt.date(2026, 1, 2)), revises=second, why="the day was misread")
    assert again.sure_of == ["number"], "what was answered is not asked about again"
    with pytest.raises(Refused, match="Within a year"):
        enter(paper(acme, pallet, day=dt.date(2025, 6, 1), sure=True), revises=again, why="the day was misread")


def test_a_credit_note_larger_than_its_invoice_is_asked_about_once(acme):
    cans = group(acme)
    bill = enter(paper(acme, line(cans, 1_000)))
    credit = lambda amount, **more: paper(  # noqa: E731
        acme, Billed("other", 1, amount, called="rebate"), kind="credit", credits=bill, **more
    )
    with pytest.raises(Refused, match=r"20\.01 USD is credited of invoice I-1, which is of 20\.00") as refused:
        enter(credit(2_001, number="C-1"))
    assert refused.value.asks and Invoice.objects.count() == 1
    assert enter(credit(1_500, number="C-1")).sure_of == []
    later = enter(paper(acme, line(cans, 900)), revises=bill, why="misread")
    with pytest.raises(Refused, match=r"18\.01 USD is credited of invoice I-1, which is of 18\.00"):
        enter(credit(301, number="C-2"))
    last = enter(credit(300, number="C-2"))
    assert enter(credit(301, number="C-2", sure=True), revises=last, why="misread").sure_of == ["credit"]
    assert later.credit_notes.count() == 0 and bill.credit_notes.count() == 3
    assert verify().faults == []


def test_all_that_is_asked_about_is_asked_at_once(acme):
    """One yes answers what was read, and nothing that was not."""
    bill = enter(paper(acme, line(group(acme), 1_000)))
    rebate = Billed("other", 1, 2_500, called="rebate")
    with pytest.raises(Refused, match=r"a difference of 1\.00 USD\..*which is of 20\.00 USD\..*tick the box\.$"):
        enter(paper(acme, rebate, kind="credit", credits=bill, total=2_600))
    assert enter(paper(acme, rebate, kind="credit", credits=bill, total=2_600, sure=True)).sure_of == [
        "total",
        "credit",
    ]


def test_what_is_credited_of_containers_says_which(acme):
    cans = group(acme)
    bill = enter(paper(acme, line(cans, 1_000)))
    kept = enter(paper(acme, line(cans, 1_000, 1), kind="credit", credits=bill))
    assert [one.codes for one in kept.lines.all()] == [["CAN-1"]]
    assert prices()["CAN-1"] == 1_000, "a credit note is no price"


def test_what_is_not_billed_and_what_did_not_come(acme):
    cans = group(acme)
    enter(paper(acme, line(cans, 980, count=1), Billed("goods", 3, 500, called="hoses"), number="I-1"))
    assert [(one.sort.kind, len(one.codes)) for one in unbilled(acme, today())] == [("can", 1), ("refillable", 2)]
    enter(paper(acme, line(group(acme), 980, count=4), number="I-2"))
    found = statement(acme, ago(30), today())
    assert [(one.line.called, one.count, one.amount_minor) for one in found.missing] == [
        ("hoses", 3, 1_500),
        ("", 3, 2_940),
    ]
    assert [(one.words, one.value_minor) for one in found.unbilled] == [
        ("refillable cylinder R-134a virgin 12 kg", 40_000)
    ]


def test_what_was_taken_back_after_it_was_billed_did_not_come(acme):
    enter(paper(acme, line(group(acme), 980)))
    take_back(Voucher.objects.get(kind="receipt").number, by="oscar", note="another's", key=str(uuid.uuid4()))
    found = statement(acme, ago(30), today())
    assert [(one.count, one.amount_minor) for one in found.missing] == [(2, 1_960)] and not found.unbilled


def test_deposits_are_charged_as_cylinders_come_and_given_back_as_they_go(acme):
    out = account(acme, ago(30), today())
    assert (out.opening, out.charged, out.back, out.closing, out.cylinders) == (0, 10_000, 0, 10_000, 2)
    head = {"day": ago(5), "by": "oscar", "key": str(uuid.uuid4())}
    sent = ship(parcels={"CYL-1": None}, purpose="return", party=acme, containers_go=True, **head)
    cylinders = group(acme, "refillable", "deposit")
    enter(paper(acme, line(cylinders, 5_000, about="deposit"), number="I-1"))
    back = Billed("deposit", 1, 5_000, cylinders.sort, codes=("CYL-1",))
    credit = enter(paper(acme, back, number="C-1", kind="credit", shipment=sent, day=ago(4)))
    its = account(acme, ago(10), today())
    assert (its.opening, its.charged, its.back, its.closing, its.cylinders) == (10_000, 0, 5_000, 5_000, 1)
    assert (its.billed, its.credited) == (10_000, 5_000)
    found = statement(acme, ago(30), today())
    assert [(one.what, one.amount) for one in found.entries] == [
        ("delivery", None),
        ("invoice", 10_000),
        ("sent back", None),
        ("credit note", -5_000),
    ]
    assert found.billed == 5_000 and credit.shipment_id == sent


def test_the_same_form_is_kept_once(acme):
    said, key = paper(acme, line(group(acme), 980)), uuid.uuid4()
    first = enter_invoice(said=said, by="oscar", key=key)
    assert enter_invoice(said=said, by="oscar", key=key) == first and Invoice.objects.count() == 1


def test_statements_of_all_suppliers_are_as_many_questions_as_of_one(acme, django_assert_num_queries):
    """What each says is what it says alone."""
    enter(paper(acme, line(group(acme), 980, 24)))
    bought = came("CYL-9", net=12_000 * G, grade="virgin", tare_mg=7_000 * G, price_minor=9_000, deposit_minor=4_000)
    delivery(bought, supplier="Boreal", document="B-1", day=ago(5))
    delivery(came("CYL-8", net=500 * G, tare_mg=7_000 * G), supplier="Austral", document="C-1", day=ago(4))
    suppliers = list(Party.objects.filter(role="supplier").order_by("id"))
    days = ago(30), today()
    with django_assert_num_queries(6):
        found = statements(suppliers, *days)
    assert len(found) == 3 and found == [statement(one, *days) for one in suppliers]
    assert [one.deposits.charged for one in found][1:] == [4_000, 0]
    assert [one.unbilled_minor for one in found][1:] == [9_000, 0]
