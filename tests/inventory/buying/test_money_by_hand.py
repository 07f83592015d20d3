"""Papers in every order, entered, revised and declared void, against a small calculation of its own."""

import random

import pytest

from inventory.buying.actions import Billed, declare_void
from inventory.buying.deposits import account
from inventory.buying.models import Invoice
from inventory.buying.statement import statement
from inventory.containers.models import Container
from inventory.ledger.verify import verify
from inventory.orders.matching import Sort
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.inventory.buying.test_invoices import acme, ago, enter, paper  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
CODES = ["CAN-1", "CAN-2", "CYL-1", "CYL-2"]
DELIVERED = {"CAN-1": None, "CAN-2": None, "CYL-1": 20_000, "CYL-2": 20_000}
G = 1000


def goods(code, price, about="goods"):
    kind, net = ("can", 340 * G) if code.startswith("CAN") else ("refillable", 12_000 * G)
    return Billed(about, 1, price, Sort(kind, "R-134a", "virgin", net), False, (code,))


@pytest.mark.parametrize("seed", range(4))
def test_prices_and_sums_are_those_of_the_papers_that_count(acme, seed):  # noqa: F811
    rng, counting, number = random.Random(seed), {}, 0
    for _ in range(30):
        act = rng.choice(["enter", "enter", "revise", "void"])
        if act == "void" and counting:
            pk = rng.choice(list(counting))
            declare_void(pk=pk, why="another shop's", by="oscar")
            del counting[pk]
            continue
        old = rng.choice(list(counting)) if act == "revise" and counting else None
        taken = {code for pk, (prices, _, _) in counting.items() if pk != old for code in prices}
        free = [code for code in CODES if code not in taken]
        codes = rng.sample(free, rng.randint(0, len(free)))
        prices = {code: rng.choice([0, 1, 999, 20_000, 10**9]) for code in codes}
        tax, shipping = rng.choice([0, 1, 333]), rng.choice([0, 500])
        lines = [goods(code, price) for code, price in prices.items()]
        number += 1
        said = paper(
            acme,
            *lines,
            number=f"I-{number}",
            total=sum(prices.values()) + tax + shipping,
            day=ago(rng.randint(1, 15)),
            tax_minor=tax,
            shipping_minor=shipping,
        )
        if not lines and not tax and not shipping:
            with pytest.raises(Refused):
                enter(said)
            continue
        made = enter(said, revises=Invoice.objects.get(pk=old), why="misread") if old else enter(said)
        if old:
            del counting[old]
        counting[made.pk] = prices, said.total_minor, made
    billed = {code: price for prices, _, _ in counting.values() for code, price in prices.items()}
    assert dict(Container.objects.values_list("code", "price_minor")) == {**DELIVERED, **billed}
    found = statement(acme, ago(30), today())
    assert found.billed == sum(total for _, total, _ in counting.values())
    assert {code for group in found.unbilled for code in group.codes} == set(CODES) - set(billed)
    assert verify().faults == []


def test_a_deposit_that_is_credited_a_second_time_is_asked_about(acme):  # noqa: F811
    """As a difference of the total is: once, and not refused; a credit note that was void does not count."""
    head = {"day": ago(5), "by": "oscar", "key": "11111111-1111-1111-1111-111111111111"}
    sent = ship(parcels={"CYL-1": None}, purpose="return", party=acme, containers_go=True, **head)
    back = goods("CYL-1", 5_000, "deposit")
    first = enter(paper(acme, back, number="C-1", kind="credit", shipment=sent, day=ago(4)))
    twice = {"number": "C-2", "kind": "credit", "shipment": sent, "day": ago(3)}
    with pytest.raises(Refused) as asked:
        enter(paper(acme, back, **twice))
    assert asked.value.asks and "had 50.00" in str(asked.value) and Invoice.objects.count() == 1
    enter(paper(acme, back, number="C-1", kind="credit", shipment=sent, day=ago(4)), revises=first, why="misread")
    declare_void(pk=Invoice.objects.get(revises=first).pk, why="not ours", by="oscar")
    enter(paper(acme, back, **twice))
    with pytest.raises(Refused):
        enter(paper(acme, back, number="C-3", kind="credit", day=ago(2)))
    enter(paper(acme, back, number="C-3", kind="credit", day=ago(2), sure=True))
    assert account(acme, ago(30), today()).credited == 10_000
