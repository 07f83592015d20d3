"""What cannot have come out of a container: more than 5/4 of the most it was ever recorded to hold, worked out here in
plain whole numbers. Boundaries, and in whatever order mistakes are put right."""

import datetime as dt
import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.containers.actions import count, decant, retire
from inventory.containers.holdings import Holdings, Weighed
from inventory.containers.models import Container
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import recording
from inventory.containers.states import NO_SCALE, ContainerState, ScaleSeen
from inventory.ledger.accounts import AccountClass
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.stock import came, delivery

SCALE = ScaleSeen("Bench", 1_000)
G = 1_000


def book(kind, net, substance="R-134a", oil=False):
    held = Holdings({})
    held.begin(dt.date(2026, 3, 2))
    held.arrive(ContainerState("X", kind, substance, oil, tare=None if oil else 100 * G), net, AccountClass.OPENING)
    return held


def takes(held, quantity):
    """Whether so much may be said to have come out of X."""
    try:
        held.draw("X", Weighed(quantity=quantity), [("unit", "U", quantity)])
    except Refused as refused:
        assert refused.field == "quantity" and "X was never recorded to hold" in refused.message
        return False
    return True


@given(st.sampled_from(["can", "disposable", "oil"]), st.integers(1, 10**9), st.integers(-3, 3))
def test_at_the_boundary_to_the_last_milligram(kind, net, off):
    """5/4 of the net, and a few mg or uL on either side."""
    oil = kind == "oil"
    quantity = max(0, net * 5 // 4 + off)
    assert takes(book(kind, net, "PAG 46" if oil else "R-134a", oil), quantity) is (4 * quantity <= 5 * net)


@given(st.integers(1, 10**6), st.lists(st.integers(0, 10**6), max_size=4), st.integers(0, 2 * 10**6))
def test_the_most_is_that_of_its_arrival_or_of_any_weighing_whatever_left_since(net, counts, quantity):
    held = book("oil", net, "PAG 46", True)
    for left in counts:
        held.count("X", left, NO_SCALE)
    assert takes(held, quantity) is (4 * quantity <= 5 * max([net, *counts]))


def test_what_a_like_one_left_counts_to_it():
    held = book("oil", 200_000, "PAG 46", True)
    held.arrive(ContainerState("Y", "oil", "PAG 46", True), 100_000, AccountClass.OPENING)
    held.retire("Y", "X")
    assert not takes(held, 375_001)
    assert takes(held, 375_000)


def test_what_was_found_in_it_by_emptying_it_is_no_record_of_what_it_held():
    """340 g by the book; 420 g came out, which 1.25 times allows: after that it never held more than 340 g still."""
    held = book("can", 340 * G)
    assert takes(held, 420 * G) and not takes(held, 426 * G)


@pytest.mark.parametrize("kind", ["refillable", "recovery", "machine"])
def test_what_is_filled_again_and_again_is_not_asked(kind):
    assert takes(book(kind, 1_000), 10**9)


def test_weights_are_a_record_themselves():
    """A weighing that says 700 g are in a can of 340 g is one, whose difference is posted; then 700 may leave."""
    held = book("can", 340 * G)
    held.draw("X", Weighed(800 * G, 100 * G, None, SCALE), [("unit", "U", 700 * G)])
    assert held.containers["X"].most == 700 * G


def test_out_of_one_that_came_empty_comes_nothing():
    held = book("can", 0)
    assert takes(held, 0) and not takes(held, 1)


# -- in the ledger ---------------------------------------------------------------------------------------


def once(ago=0):
    return {"day": today() - dt.timedelta(ago), "by": "o", "key": str(uuid.uuid4())}


def oil_out(code, quantity, ago):
    head = EntryHead("job", today() - dt.timedelta(ago), "tech")
    with recording() as recorder:
        recorder.open(head, [code])
        recorder.holdings.draw(code, Weighed(quantity=quantity), [("unit", "U", quantity)])
        return recorder.post(head)


@pytest.fixture
def stock(db):
    cans = [came(code, "can", 340 * G, tare_mg=100 * G) for code in ("K1", "K2")]
    oils = [came(code, "oil", 250_000, "PAG 46") for code in ("O1", "O2")]
    return delivery(*cans, *oils, came("C", "refillable", 5_000 * G), day=today() - dt.timedelta(20))


def test_a_decant_says_it_and_posts_nothing(stock):
    with pytest.raises(
        Refused, match="K1 was never recorded to hold more than 340 g, so 9\u202f000 g cannot have come out"
    ):
        decant(source="K1", into="C", quantity=9_000 * G, **once())
    decant(source="K1", into="C", quantity=425 * G, **once())
    assert verify().faults == []


def test_an_earlier_entry_that_would_make_a_later_one_impossible_is_refused_by_name(stock):
    """Oil poured over from another bottle made room for 350 mL; without that, they cannot have come out."""
    poured = retire(codes=["O1"], residue_into="O2", **once(5))
    taken = oil_out("O2", 350_000, 3)
    with pytest.raises(Refused, match=f"O2 would never have held more than 250 mL on .* Correct voucher {taken} first"):
        retire(codes=["O1"], residue_into="", corrects=poured, why="it went away", **once(5))
    assert Container.objects.get(code="O2").most == 500_000
    assert verify().faults == []


def test_a_weighing_entered_late_counts_from_its_own_day_on(stock):
    """A reading of 450 mL of ten days ago, entered today: what follows it may be more."""
    count(readings={"O1": 450_000}, **once(10))
    oil_out("O1", 500_000, 3)
    with pytest.raises(Refused, match="never recorded to hold more than 250 mL"):
        oil_out("O1", 500_000, 15)
    assert Container.objects.get(code="O1").most == 450_000
    assert verify().faults == []
