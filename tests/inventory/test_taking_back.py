"""Taking vouchers back: what is in a container stands where the container stands, whatever was recorded since."""

import datetime as dt
import random
import uuid

import pytest

from inventory.containers.actions import count, decant, move, regrade, retire
from inventory.containers.amending import Amendment, reverse_voucher
from inventory.containers.models import Container
from inventory.containers.recorder import recording
from inventory.counting import actions
from inventory.ledger.accounts import AccountClass, Spot
from inventory.ledger.models import Account, Voucher
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.inventory.test_counting import stock  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
G = 1000
UNIT = Spot("R-134a", AccountClass.UNIT, "U")


def once():
    return {"day": today(), "by": "o", "key": str(uuid.uuid4())}


def arrive(code, kind="recovery", net=0, substance="R-134a", grade="", **more):
    line = Arrival(kind, substance, False, grade, net, 1, "Store", code, **more)
    return receive(lines=[line], supplier="Acme", document="", **(once() | {"day": today() - dt.timedelta(9)}))


def stands(code):
    row = Container.objects.select_related("account", "location").get(code=code)
    assert verify().faults == []
    assert row.content == sum(Account.objects.filter(cls=1, name=code).values_list("balance", flat=True))
    return row.location.name, row.grade, row.content


def back(number):
    reverse_voucher(number, day=today(), by="o", note="not so")


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
    Party.objects.create(name="Renew", role="reclaimer")
    arrive("N", "refillable", 1_000 * G, tare_mg=8_000 * G, deposit_minor=5000)
    number = ship(
        parcels={"N": None}, purpose="reclaim", party="Renew", document="", containers_go=True, **once()
    )  # fmt: skip
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
    with recording() as recorder:
        recorder.load([code])
        recorder.holdings.mark()
        run(code, quantity)(recorder.holdings)
        return recorder.record(kind="job", day=today(), recorded_by="t", done_by="t")


def run(code, quantity, before=None, scale=None):
    """Taken out; below nothing: put in."""

    def act(book):
        if quantity < 0:
            book.put(code, UNIT, quantity=-quantity)
        elif before is not None:
            taken = book.take(code, before=before, after=before - quantity, scale=scale, substance="R-134a")
            book.give(code, UNIT, taken)
        else:
            book.give(code, UNIT, book.take(code, quantity=quantity, substance="R-134a"))

    return act


class Days:
    """Random days of a shop: what is done is drawn, refused or recorded; after each the ledger is to hold."""

    CODES = ("A", "B", "C", "R", "S")

    def __init__(self, seed):
        self.dice, self.jobs = random.Random(seed), {}

    def drawn(self):
        code = self.dice.choice(self.CODES)
        if code in "RS" and self.dice.random() < 0.6:
            return code, -self.dice.randrange(1, 900) * G, None
        before = (8_000 + self.dice.randrange(500, 7000)) * G if self.dice.random() < 0.5 else None
        return code, self.dice.randrange(1, 400) * G, before

    def move(self):
        move(codes=[self.dice.choice(self.CODES)], location=self.dice.choice(["Store", "Van"]), **once())

    def regrade(self):
        regrade(
            code=self.dice.choice(self.CODES), grade=self.dice.choice(["virgin", "recycled", "recovered"]), **once()
        )

    def weigh(self):
        count(readings={self.dice.choice(self.CODES): (8_000 + self.dice.randrange(0, 7000)) * G}, **once())

    def decant(self):
        source, into = self.dice.choice(self.CODES), self.dice.choice(self.CODES)
        decant(source=source, into=into, quantity=self.dice.randrange(1, 300) * G, **once())

    def retire(self):
        if self.dice.random() < 0.3:
            retire(codes=[self.dice.choice(self.CODES)], residue_into="", **once())

    def take_back(self):
        numbers = Voucher.objects.exclude(kind__in=["job", "reversal"]).values_list("number", flat=True)
        back(self.dice.choice(list(numbers)))

    def job(self):
        code, quantity, before = self.drawn()
        with recording() as recorder:
            recorder.load([code])
            recorder.holdings.mark()
            run(code, quantity, before, recorder.scale())(recorder.holdings)
            number = recorder.record(kind="job", day=today(), recorded_by="t", done_by="t")
        self.jobs[number] = number

    def correct(self):
        if not self.jobs:
            return
        place = self.dice.choice(list(self.jobs))
        code, quantity, before = self.drawn()
        with recording() as recorder:
            recorder.load([code])
            amendment = Amendment(recorder, self.jobs[place], place)
            amendment.take_back(day=today(), by="t", note="x", replaced=True)
            number = amendment.put_in_its_place(
                run(code, quantity, before, recorder.scale()), [code], kind="job", day=today(), by="t", done_by="t",
                document="", note="", detail={}, key=str(uuid.uuid4()),
            )  # fmt: skip
            amendment.finish(today())
        self.jobs[place] = number

    VERBS = ("move", "regrade", "weigh", "job", "job", "job", "correct", "correct", "take_back", "decant", "retire")


@pytest.mark.parametrize("seed", range(30))
def test_the_ledger_holds_after_whatever_was_corrected(stock, seed):  # noqa: F811
    arrive("R", substance="", tare_mg=8_000 * G)
    arrive("S", tare_mg=None)
    days = Days(seed)
    for _ in range(14):
        try:
            getattr(days, days.dice.choice(Days.VERBS))()
        except Refused:
            continue
        assert verify().faults == []
        for row in Container.objects.select_related("account"):
            held = Account.objects.filter(cls=1, name=row.code).values_list("balance", flat=True)
            assert row.content == sum(held), row.code
