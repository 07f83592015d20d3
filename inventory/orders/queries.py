"""What came of orders, what is late, and what a delivery form is filled in with."""

import datetime as dt
import json
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, F, IntegerField, OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from inventory.containers.arrivals import arrivals_of
from inventory.containers.models import Container
from inventory.ledger.models import Voucher, stands
from inventory.measures.quantity import exact
from inventory.orders.matching import Ordered, Sort, matched
from inventory.orders.models import Order, OrderDelivery, OrderLine

BACK = dt.timedelta(days=400)  # how far late orders are looked for


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
    links = OrderDelivery.objects.filter(stands("voucher__", through), order__in=orders, undone_on=None)
    links = links.filter(voucher__day__lte=through) if through else links
    for link in links.select_related("voucher").order_by("voucher_id"):
        vouchers[link.order_id].append(link.voucher)
    return [_progress(order, lines[order.pk], vouchers[order.pk]) for order in orders]


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
    return Order.objects.filter(deliveries__voucher_id=number, deliveries__undone_on=None).first()


def late_orders(day: dt.date) -> QuerySet[Order]:
    """Orders of some 13 months of which a line was expected before a day and has not all come. By the database alone:
    a line is open while of its sort fewer came than it and the lines before it ordered."""
    sort = {name: OuterRef(name) for name in ("kind", "substance", "grade", "net")}
    wanted = OrderLine.objects.filter(order=OuterRef("order"), place__lte=OuterRef("place"), cancelled_on=None, **sort)
    came = Container.objects.filter(
        stands("arrival__"),
        void=False,
        arrival__ordered__order=OuterRef("order"),
        arrival__ordered__undone_on=None,
        kind=OuterRef("kind"),
        grade=OuterRef("grade"),
        nominal=OuterRef("net"),
    )
    came = came.annotate(what=Coalesce("substance__code", Value(""))).filter(what=OuterRef("substance"))
    lines = OrderLine.objects.filter(expected_on__lt=day, cancelled_on=None, order__day__gte=day - BACK)
    open_ = lines.filter(count__gt=0).annotate(wanted=_sum(wanted, Sum("count")), came=_sum(came, Count("pk")))
    return Order.objects.filter(pk__in=open_.filter(wanted__gt=F("came")).values("order"))


def _sum(found: QuerySet, what: Sum | Count) -> Coalesce:
    whole = found.order_by().annotate(all_of_them=Value(1)).values("all_of_them").annotate(many=what).values("many")
    return Coalesce(Subquery(whole, output_field=IntegerField()), 0)


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
