"""What was ordered, what came of it, what is late, and what is given up."""

import datetime as dt
import uuid
from collections import Counter
from dataclasses import replace

import pytest

from inventory.containers.actions import take_back
from inventory.ledger.models import Record
from inventory.ledger.verify import verify
from inventory.orders.actions import OrderHead, Wanted, give_up_line, order_sent, place_order, was_for, was_not_for
from inventory.orders.matching import Ordered, Sort, matched
from inventory.orders.models import Order
from inventory.orders.queries import late_orders, lines_to_receive, order_of, progress_of, progresses
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from inventory.text.refusal import Refused

pytestmark = pytest.mark.django_db
G = 1000
CAN = Wanted("can", "R-134a", False, "virgin", 340 * G, 24, 980)
CYLINDER = Wanted("refillable", "R-134a", False, "virgin", 12_000 * G, 2, 21900)


def days_ago(number):
    return today() - dt.timedelta(number)


def ordered(*lines, supplier="Acme", ago=20, **more):
    head = OrderHead(days_ago(ago), **more)
    said = {"head": head, "by": "oscar", "key": uuid.uuid4()}
    return place_order(supplier=supplier_called(supplier), lines=lines or (CAN, CYLINDER), **said)


def came(order, *lines, ago=10, supplier="Acme"):
    arrivals = [
        Arrival(kind, "R-134a", False, "virgin", net, count, "Store", price_minor=900) for kind, net, count in lines
    ]
    head = {"day": days_ago(ago), "by": "oscar", "key": str(uuid.uuid4())}
    return receive(lines=arrivals, supplier=supplier_called(supplier), order=order, **head)


@pytest.mark.parametrize(
    ("lines", "came", "found", "besides"),
    [
        ([3, 2], 4, [3, 1], 0),
        ([3, 2], 6, [3, 2], 1),
        ([-3, 2], 4, [2, 2], 0),  # a line that was given up takes what the others leave
        ([3], 0, [0], 0),
    ],
)
def test_what_came_is_shared_among_the_lines(lines, came, found, besides):
    sort, other = Sort("can", "R-134a", "virgin", 340_000), Sort("can", "R-134a", "reclaimed", 340_000)
    ordered = [Ordered(sort, abs(count), count < 0) for count in lines]
    counts, rest = matched(ordered, Counter({sort: came, other: 2}))
    assert counts == found
    assert rest == Counter({sort: besides, other: 2}) - Counter({sort: 0} if not besides else {})


def test_an_order_that_comes_in_parts(shop):
    order = ordered(number="B-7")
    first = came(order, ("can", 340 * G, 10))
    came(order, ("can", 340 * G, 6), ("refillable", 12_000 * G, 1), ("can", 227 * G, 3), ago=5)
    found = progress_of(order)
    assert [(one.came, one.open) for one in found.lines] == [(16, 8), (1, 1)]
    assert found.besides == Counter({Sort("can", "R-134a", "virgin", 227 * G): 3})
    assert found.total_minor == 24 * 980 + 2 * 21900
    take_back(first, by="oscar", note="another shop's", key=str(uuid.uuid4()))
    assert [one.came for one in progress_of(order).lines] == [6, 1]
    assert [one.came for one in progresses([order], days_ago(7))[0].lines] == [10, 0], "as it stood then"
    assert order_of(first) == order


def test_what_is_late_is_said_in_days_until_it_comes_or_is_given_up(shop):
    order = ordered(
        Wanted("can", "R-134a", False, "virgin", 340 * G, 2, 980, days_ago(6)),
        Wanted("can", "R-134a", False, "virgin", 227 * G, 2, None, days_ago(3)),
    )
    assert [one.late(today()) for one in progress_of(order).lines] == [6, 3]
    assert progress_of(order).total_minor is None, "the price of a line is not known"
    came(order, ("can", 340 * G, 2), ago=1)
    give_up_line(pk=order.lines.last().pk, why="they have none", by="oscar")
    found = progress_of(order)
    assert (found.open, found.late(today())) == (0, 0)
    assert found.total_minor == 2 * 980
    with pytest.raises(Refused, match="All of this line came"):
        give_up_line(pk=order.lines.first().pk, why="none", by="oscar")


def test_what_has_not_come_fills_in_the_delivery_form(shop, office):
    order = ordered()
    came(order, ("can", 340 * G, 20), ("refillable", 12_000 * G, 2))
    said = {"kind": "can", "substance": "R-134a", "grade": "virgin", "net": "340 g", "count": 4, "price": 980}
    assert lines_to_receive(order, office) == [said]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lines": ()}, "at least one line"),
        ({"day": dt.date(2999, 1, 1)}, "has not come yet"),
        ({"lines": (Wanted("can", "R-134a", False, "virgin", 340 * G, 0),)}, "1 to 5000"),
        ({"lines": (Wanted("bag", "R-134a", False, "virgin", 340 * G, 1),)}, "which kind"),
        ({"number": "B-7"}, "was written before"),
    ],
)
def test_an_order_that_is_refused_leaves_nothing(shop, change, words):
    ordered(number="B-7")
    records = Record.objects.count()
    lines, head = change.pop("lines", (CAN,)), OrderHead(**{"day": today(), **change})
    with pytest.raises(Refused, match=words):
        place_order(supplier=supplier_called("Acme"), lines=lines, head=head, by="oscar", key=uuid.uuid4())
    assert (Order.objects.count(), Record.objects.count()) == (1, records)


def test_it_is_sent_once_and_a_delivery_is_for_one_order(shop):
    order, other = ordered(), ordered()
    order_sent(code=order.code, on=days_ago(19))
    with pytest.raises(Refused, match="was sent on"):
        order_sent(code=order.code, on=today())
    with pytest.raises(Refused, match="between"):
        order_sent(code=other.code, on=days_ago(21))
    number = came(order, ("can", 340 * G, 1))
    was_for(order=order, number=number)
    with pytest.raises(Refused, match="already"):
        was_for(order=other, number=number)
    with pytest.raises(Refused, match="went to Acme"):
        came(order, ("can", 340 * G, 1), supplier="Bits")


def test_a_delivery_entered_without_its_order_is_linked_to_it_and_the_link_taken_back(shop):
    order, other = ordered(), ordered()
    number, foreign = came(None, ("can", 340 * G, 5)), came(None, ("can", 340 * G, 1), supplier="Bits")
    with pytest.raises(Refused, match="did not come from Acme"):
        was_for(order=order, number=foreign)
    was_for(order=order, number=number)
    assert progress_of(order).came == 5 and order_of(number) == order
    with pytest.raises(Refused, match="Say why"):
        was_not_for(order=order, number=number, why=" ", by="oscar")
    was_not_for(order=order, number=number, why="of the other one", by="oscar")
    assert progress_of(order).came == 0 and progress_of(order).deliveries == [] and order_of(number) is None
    with pytest.raises(Refused, match="does not count"):
        was_not_for(order=order, number=number, why="again", by="oscar")
    was_for(order=other, number=number)
    assert progress_of(other).came == 5 and verify().faults == []
    gone = came(None, ("can", 340 * G, 2))
    take_back(gone, by="o", note="not so", key=str(uuid.uuid4()))
    with pytest.raises(Refused, match="no delivery that stands"):
        was_for(order=order, number=gone)


def test_the_database_says_which_orders_are_late_as_their_lines_do(shop):
    soon, late = {"expected_on": days_ago(3)}, {"expected_on": days_ago(2)}
    two = (replace(CAN, count=3, **soon), replace(CAN, count=2), replace(CYLINDER, **late))
    orders = [ordered(*two) for _ in range(6)] + [ordered(CAN)]
    came(orders[1], ("can", 340 * G, 3), ("refillable", 12_000 * G, 2))
    came(orders[2], ("can", 340 * G, 2), ("refillable", 12_000 * G, 2))
    came(orders[3], ("can", 340 * G, 4), ("refillable", 12_000 * G, 1))
    undone = came(orders[4], ("can", 340 * G, 5), ("refillable", 12_000 * G, 2))
    was_not_for(order=orders[4], number=undone, why="another's", by="oscar")
    for line in orders[5].lines.all():
        give_up_line(pk=line.pk, why="none", by="oscar")
    said = {one.order for one in progresses(orders) if one.late(today())}
    assert said == {orders[n] for n in (0, 2, 3, 4)} and set(late_orders(today())) == said
    assert set(late_orders(days_ago(2))) == {orders[n] for n in (0, 2, 4)} and not late_orders(days_ago(3)).exists()
