"""What came of orders, what is late, and what a delivery form is filled in with."""

import datetime as dt
import json
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.containers.arrivals import arrivals_of
from inventory.ledger.models import Voucher, stands
from inventory.measures.quantity import exact
from inventory.orders.matching import Ordered, Sort, matched
from inventory.orders.models import Order, OrderDelivery, OrderLine

YEAR = dt.timedelta(days=365)  # what was expected longer ago nobody waits for: common practice, no source


@dataclass(frozen=True)
class LineProgress:
    """A line, and how many of it came."""

    line: OrderLine
    came: int

    @property
    def open(self) -> int:
        """How many are still waited for."""
        return 0 if self.line.cancelled_on else self.line.count - self.came

    def late(self, today: dt.date) -> int:
        """Days since what is open was expected; 0 where nothing is late."""
        expected = self.line.expected_on
        return max((today - expected).days, 0) if self.open and expected else 0


@dataclass(frozen=True)
class Progress:
    """An order, its lines, the deliveries for it that stand, and what came that it did not order."""

    order: Order
    lines: list[LineProgress]
    deliveries: list[Voucher]
    besides: Counter[Sort]

    @property
    def open(self) -> int:
        return sum(one.open for one in self.lines)

    @property
    def came(self) -> int:
        return sum(one.came for one in self.lines)

    def late(self, today: dt.date) -> int:
        """Days of the line that is late longest; 0 where none is."""
        return max((one.late(today) for one in self.lines), default=0)

    @property
    def total_minor(self) -> int | None:
        """What it comes to, without what was given up and did not come; None where a price is not known."""
        wanted = [(one.came + one.open, one.line.price_minor) for one in self.lines]
        if any(price is None for count, price in wanted if count):
            return None
        return sum(count * price for count, price in wanted if count)


def sort_of(line: OrderLine) -> Sort:
    return Sort(line.kind, line.substance, line.grade, line.net)


def progresses(orders: Iterable[Order], through: dt.date | None = None) -> list[Progress]:
    """What came of orders, those of their deliveries that stood at the end of a day (None: that stand now). Two
    questions, however many orders."""
    orders = list(orders)
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    for line in OrderLine.objects.filter(order__in=orders).order_by("order_id", "place"):
        lines[line.order_id].append(line)
    vouchers: dict[int, list[Voucher]] = defaultdict(list)
    links = OrderDelivery.objects.filter(stands("voucher__", through), order__in=orders)
    links = links.filter(voucher__day__lte=through) if through else links
    for link in links.select_related("voucher").order_by("voucher_id"):
        vouchers[link.order_id].append(link.voucher)
    return [_progress(order, lines[order.pk], vouchers[order.pk]) for order in orders]


def expected(day: dt.date) -> QuerySet[OrderLine]:
    """Lines that were expected before a day, within a year of it, and were not given up; most of them came."""
    return OrderLine.objects.filter(cancelled_on=None, expected_on__lt=day, expected_on__gte=day - YEAR)


def late_on(day: dt.date) -> list[Progress]:
    """The orders of which something is late, within a year. Three questions, however many there are."""
    asked = Order.objects.filter(pk__in=expected(day).values("order_id")).order_by("id")
    return [one for one in progresses(asked) if one.late(day)]


def _progress(order: Order, lines: list[OrderLine], deliveries: list[Voucher]) -> Progress:
    came: Counter[Sort] = Counter()
    for voucher in deliveries:
        for one in arrivals_of(json.loads(voucher.detail)):
            came[Sort(one["kind"], one["substance"], one["grade"], one["quantity"])] += 1
    ordered = [Ordered(sort_of(line), line.count, line.cancelled_on is not None) for line in lines]
    counts, besides = matched(ordered, came)
    return Progress(order, [LineProgress(*pair) for pair in zip(lines, counts, strict=True)], deliveries, besides)


def progress_of(order: Order) -> Progress:
    return progresses([order])[0]


def order_of(number: int) -> Order | None:
    """The order that a delivery was for."""
    return Order.objects.filter(deliveries__voucher_id=number).first()


def lines_to_receive(order: Order, person: object) -> list[dict[str, object]]:
    """What a delivery form's lines are filled in with: what of the order has not come yet, in its order, in the
    person's units. Names are those of `receiving.forms.LineForm`; the price is in minor units, as its field takes an
    initial value."""
    return [
        {
            "kind": one.line.kind,
            "substance": one.line.substance,
            "grade": one.line.grade,
            "net": exact(one.line.net, person.volume_unit if one.line.is_oil else person.mass_unit)
            if one.line.net
            else "",
            "count": min(one.open, 500),
            "price": one.line.price_minor,
        }
        for one in progress_of(order).lines
        if one.open
    ]
