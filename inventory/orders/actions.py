"""The verbs of ordering. An order moves nothing in the ledger."""

import datetime as dt
import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from inventory.ledger.actions import stated
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.orders.models import Order, OrderDelivery, OrderLine
from inventory.orders.queries import progress_of
from inventory.parties.models import Party
from inventory.reference.kinds import KINDS
from inventory.shop.clock import today
from inventory.shop.once import made_by
from inventory.text.clean import clean
from inventory.text.refusal import Refused

MOST = 5000  # containers of one line


@dataclass(frozen=True)
class Wanted:
    """A line to be ordered: `count` equal containers. net: mg or uL each; price_minor: of each, in minor units."""

    kind: str
    substance: str
    is_oil: bool
    grade: str
    net: int
    count: int
    price_minor: int | None = None
    expected_on: dt.date | None = None


@dataclass(frozen=True)
class OrderHead:
    """day: on which it is ordered. number: as its paper calls it; blank: it goes by its own code."""

    day: dt.date
    number: str = ""
    note: str = ""


@stated
def place_order(*, supplier: Party, head: OrderHead, lines: Sequence[Wanted], by: str, key: uuid.UUID) -> Order:
    """An order as it is written; that it was sent is said apart. The same key orders once. Raises Refused for one
    without lines, of a day to come, and under a number that the supplier's order has already."""
    if (known := made_by(Order, key)) is not None:
        return known
    if not lines:
        raise Refused("Fill in at least one line: an order of nothing cannot be sent.")
    if head.day > today():
        raise Refused(f"{said_day(head.day)} has not come yet; write the day on which it is ordered.", "day")
    number, note = clean(head.number, "number", 60), clean(head.note, "note", 2000)
    twin = Order.objects.filter(supplier=supplier, number=number).first() if number else None
    if twin is not None:
        raise Refused(
            f"Order {number} to {supplier.name} was written before, on {said_day(twin.day)}. Take another number, or "
            "leave it blank: it then goes by its own code.",
            "number",
        )
    said = {"day": head.day, "note": note, "by": by, "at": timezone.now(), "key": key}
    order = Order.objects.create(supplier=supplier, number=number, **said)
    for place, line in enumerate(lines, 1):
        _add(order, place, line)
    return order


def _add(order: Order, place: int, line: Wanted) -> None:
    try:
        _check(order, line)
    except Refused as refused:
        refused.line = place - 1
        raise
    OrderLine.objects.create(order=order, place=place, **vars(line))


def _check(order: Order, line: Wanted) -> None:
    if line.kind not in KINDS:
        raise Refused("Choose which kind of container is ordered.", "kind")
    if not 1 <= line.count <= MOST:
        raise Refused(f"A line is of 1 to {MOST} equal containers.", "count")
    if line.expected_on is not None and line.expected_on < order.day:
        raise Refused(
            f"It cannot be expected before {said_day(order.day)}, the day of the order; write a later day, or leave "
            "it blank.",
            "expected_on",
        )


@stated
def order_sent(*, code: str, on: dt.date) -> Order:
    """That an order went to its supplier, and when. Said once."""
    order = Order.objects.select_for_update().get(code=code)
    if order.sent_on is not None:
        raise Refused(f"Order {order.called} was sent on {said_day(order.sent_on)} already.", "on")
    if not order.day <= on <= today():
        raise Refused(f"It was sent between {said_day(order.day)}, when it was written, and today.", "on")
    order.sent_on = on
    order.save()
    return order


@stated
def give_up_line(*, pk: int, why: str, by: str) -> OrderLine:
    """What has not come of a line is not waited for any more; what came of it stays."""
    line = OrderLine.objects.select_for_update().select_related("order").get(pk=pk)
    why = clean(why, "why", 300)
    if not why:
        raise Refused("Say why it is not waited for any more, e.g. that the supplier has none.", "why")
    if line.cancelled_on is not None:
        raise Refused(f"This line was given up on {said_day(line.cancelled_on)} already.", "why")
    if not next(one for one in progress_of(line.order).lines if one.line.pk == pk).open:
        raise Refused("All of this line came; there is nothing to give up.", "why")
    line.cancelled_on, line.cancelled_by, line.cancelled_why = today(), by, why
    line.save()
    return line


@stated
def was_for(*, order: Order, number: int) -> None:
    """That a delivery was for an order: of the same supplier, and of one order at a time."""
    links = OrderDelivery.objects.filter(voucher_id=number, undone_on=None).select_related("order")
    taken = links.first()
    if taken is not None and taken.order_id == order.pk:
        return
    voucher = Voucher.objects.standing().filter(number=number, kind="receipt").first()
    if voucher is None:
        raise Refused(f"Voucher {number} is no delivery that stands.", "delivery")
    if json.loads(voucher.detail).get("supplier") != order.supplier.code:
        raise Refused(f"Voucher {number} did not come from {order.supplier.name}, to whom the order went.", "delivery")
    if taken is not None:
        raise Refused(f"Voucher {number} was for order {taken.order.called} already; take that back first.", "delivery")
    OrderDelivery.objects.create(order=order, voucher=voucher)


@stated
def was_not_for(*, order: Order, number: int, why: str, by: str) -> OrderDelivery:
    """That a delivery was not for an order after all: both stay, and what it brought counts for the order no more."""
    why = clean(why, "why", 300)
    if not why:
        raise Refused("Say why it is taken back, e.g. that it was for another order.", "why")
    link = OrderDelivery.objects.select_for_update().filter(order=order, voucher_id=number, undone_on=None).first()
    if link is None:
        raise Refused(f"Voucher {number} does not count for order {order.called}.", "why")
    link.undone_on, link.undone_by, link.undone_why = today(), by, why
    link.save()
    return link
