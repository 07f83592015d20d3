"""Taking vouchers back: what is in a container stands where the container stands, whatever was recorded since."""

import datetime as dt
import uuid

import pytest

from inventory.containers.actions import decant, move, regrade, take_back
from inventory.containers.models import Container
from inventory.counting import actions
from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import Account, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from tests.inventory.test_counting import stock  # noqa: F401 (a fixture)
from tests.kept import made
from tests.stock import charge

pytestmark = pytest.mark.django_db
G = 1000
UNIT = Spot("R-134a", AccountClass.UNIT, "U")


def once():
    return {"day": today(), "by": "o", "key": str(uuid.uuid4())}


def arrive(code, kind="recovery", net=0, substance="R-134a", grade="", **more):
    line = Arrival(kind, substance, False, grade, net, 1, "Store", code, **more)
    return receive(
        lines=[line], supplier=supplier_called("Acme"), document="", **(once() | {"day": today() - dt.timedelta(9)})
    )


def stands(code):
    row = Container.objects.select_related("account", "location").get(code=code)
    assert verify().faults == []
    assert row.content == sum(Account.objects.filter(cls=1, name=code).values_list("balance", flat=True))
    return row.location.name, row.grade, row.content


def back(number):
    take_back(number, by="o", note="not so")


def found_elsewhere(place):
    session = actions.start_count(location=place, day=today(), scale=None, by="ann", key=uuid.uuid4())
    actions.enter(count_id=session.pk, code="V", gross=11_999 * G, by="ann")
    return actions.post_count(count_id=session.pk, by="ann")


def test_a_move(stock):  # noqa: F811
    back(move(codes=["A"], location="Van", **once()))
    assert stands("A") == ("Store", "virgin", 5_000 * G)


def test_a_grade(stock):  # noqa: F811
    back(regrade(code="A", grade="recycled", **once()))
    assert stands("A") == ("Store", "virgin", 5_000 * G)


def test_a_count_that_found_a_container_elsewhere(stock):  # noqa: F811
    number = found_elsewhere(stock)
    assert stands("V") == ("Store", "virgin", 3_999 * G)
    back(number)
    assert stands("V") == ("Van", "virgin", 4_000 * G)


def test_the_same_after_it_was_used(stock):  # noqa: F811
    number = found_elsewhere(stock)
    use("V", 500 * G)
    back(number)
    assert stands("V") == ("Van", "virgin", 3_500 * G)


def test_a_decant_by_which_an_empty_cylinder_became_one_for_mixed_refrigerant(stock):  # noqa: F811
    arrive("MIX", net=500 * G, grade="mixed", tare_mg=8_000 * G)
    arrive("R", tare_mg=8_000 * G)
    number = decant(source="MIX", into="R", quantity=300 * G, **once())
    assert stands("R") == ("Store", "mixed", 300 * G)
    back(number)
    assert stands("R") == ("Store", "recovered", 0) and stands("MIX")[2] == 500 * G


def test_a_shipment_of_whole_containers_with_their_deposits(stock):  # noqa: F811
    made(Party, name="Renew", role="reclaimer")
    arrive("N", "refillable", 1_000 * G, tare_mg=8_000 * G, deposit_minor=5000)
    number = ship(
        parcels={"N": None},
        purpose="reclaim",
        party=Party.objects.get(name="Renew"),
        document="",
        containers_go=True,
        **once(),
    )
    assert Container.objects.get(code="N").deposit_back_on == today()
    back(number)
    assert stands("N") == ("Store", "virgin", 1_000 * G)
    row = Container.objects.get(code="N")
    assert (row.retired_on, row.deposit_back_on, row.deposit_minor) == (None, None, 5000)


def test_a_delivery_whose_code_comes_again_with_another_deposit(stock):  # noqa: F811
    back(arrive("N", "refillable", 1_000 * G, tare_mg=8_000 * G, deposit_minor=5000))
    arrive("N", "refillable", 1_000 * G, tare_mg=8_000 * G, deposit_minor=6000)
    assert Container.objects.get(code="N").deposit_minor == 6000
    back(Voucher.objects.order_by("-number").first().number)
    arrive("N", "refillable", 1_000 * G, tare_mg=8_000 * G)
    assert Container.objects.get(code="N").deposit_minor is None


def use(code, quantity):
    return charge(code, quantity=quantity, day=today())
