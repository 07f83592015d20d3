"""What the stock is worth and what jobs cost, from a ledger: late prices, decants, recovered gas, corrections."""

import datetime as dt
import uuid

import pytest

from inventory.containers.actions import decant, regrade, take_back
from inventory.containers.models import Container, Scale
from inventory.counting.actions import type_in
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Voucher
from inventory.parties.actions import supplier_called
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.supply.costs import Stock, cost_of_jobs, costs_through, stock_value
from tests.kept import made, saved
from tests.stock import came, charge, delivery, recover, weigh

pytestmark = pytest.mark.django_db
G = 1000
VIRGIN = Stock("R-134a", False, "virgin")


def on(day):
    return dt.date(2026, 3, day)


@pytest.fixture
def stock(shop):
    """5,000 g at 4.00 a 100 g on the 2nd, 2,000 g at 6.00 a 100 g on the 5th, 1,000 g without a price on the 6th."""
    made(Scale, code="bench", readability_mg=G, usual=True)
    plain = {"grade": "virgin", "tare_mg": 5_000 * G}
    delivery(came("A", net=5_000 * G, price_minor=20_000, **plain), day=on(2))
    delivery(came("B", net=2_000 * G, price_minor=12_000, **plain), day=on(5))
    delivery(came("C", net=1_000 * G, **plain), day=on(6))
    delivery(came("R", "recovery", grade="recovered", tare_mg=6_000 * G), day=on(2))


def spent(through, first=1):
    return {
        number: {stock.grade: (one.minor, *one.rounded) for stock, one in its.items()}
        for number, its in cost_of_jobs(on(first), through)[1].items()
    }


def test_the_shop_chooses_and_the_report_says_which(stock, shop):
    charge("A", quantity=4_500 * G, day=on(3))
    job = charge("B", quantity=1_000 * G, day=on(7))
    # 500 g of the first at 4, then 500 g of the second at 6.
    assert spent(on(7), 4)[job] == {"virgin": (5_000, 1_000 * G, 0)}
    saved(shop, cost_formula="average")
    # Left of A 500 g for 2,000; with B 2,500 g for 14,000; of 3,500 g 2,500 have a price: of 1,000 g 714.286, at 5.60.
    assert spent(on(7), 4)[job] == {"virgin": (4_000, 714_286, 285_714)}
    assert "moving weighted average" in costs_through(on(7)).said


def test_the_value_on_any_day_is_as_of_its_end(stock):
    charge("A", quantity=4_500 * G, day=on(3))
    charge("B", quantity=1_000 * G, day=on(7))
    assert stock_value(on(1)) == []
    assert stock_value(on(2)) == [("R-134a", False, 5_000 * G, 20_000, 0)]
    assert stock_value(on(3)) == [("R-134a", False, 500 * G, 2_000, 0)]
    assert stock_value(on(6)) == [("R-134a", False, 2_500 * G, 14_000, 1_000 * G)]
    assert stock_value(on(7)) == [("R-134a", False, 1_500 * G, 9_000, 1_000 * G)]


def test_a_late_price_counts_from_the_delivery_on_and_changes_no_voucher(stock):
    job = charge("C", quantity=1_000 * G, day=on(8))
    before = list(Voucher.objects.filter(kind="receipt").values_list("number", "detail", "digest"))
    assert stock_value(on(8)) == [("R-134a", False, 6_000 * G, 28_000, 1_000 * G)]
    saved(Container.objects.get(code="C"), price_minor=7_000)
    assert stock_value(on(8)) == [("R-134a", False, 7_000 * G, 35_000, 0)]
    assert spent(on(8))[job] == {"virgin": (4_000, 1_000 * G, 0)}
    assert list(Voucher.objects.filter(kind="receipt").values_list("number", "detail", "digest")) == before


def test_recovered_gas_has_no_price_and_takes_along_what_is_decanted_into_it(stock):
    recover("R", 600 * G, day=on(3))
    said = {"scale": None, "before": None, "after": None, "quantity": 400 * G}
    decant(source="A", into="R", day=on(4), by="o", key=str(uuid.uuid4()), **said)
    regrade(code="R", grade="recycled", day=on(5), by="o", key=str(uuid.uuid4()), note="run")
    job = charge("R", quantity=1_000 * G, day=on(6))
    assert spent(on(6))[job] == {"recycled": (1_600, 400 * G, 600 * G)}
    assert stock_value(on(6)) == [("R-134a", False, 6_600 * G, 20_000 - 1_600 + 12_000, 1_000 * G)]


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_what_goes_back_to_its_supplier_takes_back_what_it_cost(stock, formula):
    ship(parcels={"B": None}, purpose="return", party=supplier_called("Acme"), **head(8))
    assert stock_value(on(8), formula) == [("R-134a", False, 5_000 * G, 20_000, 1_000 * G)]


def test_a_decant_within_a_grade_costs_nothing_and_changes_nothing(stock):
    before = stock_value(on(6))
    said = {"scale": None, "before": None, "after": None, "quantity": 700 * G}
    decant(source="A", into="B", day=on(6), by="o", key=str(uuid.uuid4()), **said)
    assert stock_value(on(6)) == before


def test_what_was_taken_back_is_as_if_it_had_not_been(stock):
    """From the day on which that was recorded; what was worth something on a day before is worth that still."""
    whole = stock_value(on(9))[0]
    number = ship(parcels={"A": 4_500 * G}, purpose="return", party=supplier_called("Acme"), **head(3))
    job = charge("B", quantity=1_000 * G, day=on(7))
    before = (spent(on(9)), stock_value(on(9)))
    assert before[0][job] == {"virgin": (5_000, 1_000 * G, 0)}
    take_back(number, by="o", note="not so", key=str(uuid.uuid4()))
    assert (spent(on(9)), stock_value(on(9))) == before
    assert spent(today()) == {job: {"virgin": (4_000, 1_000 * G, 0)}}
    assert stock_value(today()) == [("R-134a", False, whole[2] - 1_000 * G, whole[3] - 4_000, 1_000 * G)]


def test_a_delivery_corrected_beneath_a_job_costs_what_is_right(stock):
    job = charge("A", quantity=4_000 * G, day=on(8))
    more = came("A", net=6_000 * G, price_minor=30_000, grade="virgin", tare_mg=5_000 * G)
    delivery(more, day=on(2), corrects=Container.objects.get(code="A").arrival_id, why="it was more")
    assert spent(today()) == {job: {"virgin": (20_000, 4_000 * G, 0)}}
    assert stock_value(today()) == [("R-134a", False, 4_000 * G, 10_000 + 12_000, 1_000 * G)]


def test_what_a_count_misses_and_finds_again_comes_to_nothing(stock):
    before = stock_value(on(9))
    weigh("A", 9_000 * G, day=on(7))
    lost = costs_through(on(7)).spent
    assert {(one.cls, amount.minor) for one, amount in lost.items()} == {(int(AccountClass.UNEXPLAINED_LOSS), 4_000)}
    weigh("A", 10_000 * G, day=on(8))
    assert stock_value(on(9)) == before
    assert sum(amount.cost for amount in costs_through(on(9)).spent.values()) == 0


@pytest.mark.parametrize("formula", ["fifo", "average"])
def test_what_was_paid_is_what_went_and_what_is_left(stock, formula):
    charge("A", quantity=4_500 * G, day=on(3))
    recover("R", 600 * G, day=on(3))
    charge("B", quantity=333 * G, day=on(7))
    type_in(location=Container.objects.get(code="A").location, scale=None, readings={"A": 5_490 * G}, **head(8))
    charge("C", quantity=777 * G, day=on(9))
    costs = costs_through(on(9), formula=formula)
    sums = [*costs.spent.values(), *costs.stocks.values()]
    assert sum(one.cost for one in sums) == 20_000 + 12_000
    assert sum(one.quantity for one in sums) == 8_600 * G
    assert sum(one.bare for one in sums) == 1_600 * G


def head(day):
    return {"day": on(day), "by": "o", "key": str(uuid.uuid4())}
