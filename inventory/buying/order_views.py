"""Pages of orders."""

from collections.abc import Callable
from functools import partial

import django_filters as filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import Q, QuerySet
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.buying.billing import BACK, Group, by_delivery, deliveries_of, groups_of
from inventory.buying.forms import CameForm, OrderForm, OrderLines, SentForm, WhyForm
from inventory.buying.papers import order_paper, order_rows
from inventory.containers.forms import substances
from inventory.ledger.actions import stated
from inventory.ledger.models import Voucher
from inventory.ledger.snapshot import one_moment
from inventory.measures.days import said_day
from inventory.orders import actions
from inventory.orders.models import Order, OrderDelivery, OrderLine
from inventory.orders.queries import Progress, late_orders, progress_of, progresses
from inventory.paper.foot import Origin, foot
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.filling import FILLS, filled_in
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.clock import today
from inventory.shop.forms import add_refused, tell_if_recorded
from inventory.shop.lists import export_rows, paged
from inventory.text.refusal import Refused

OFFERED = 40  # deliveries of which one is chosen
NUMBER = {"th": {"class": "number"}, "td": {"class": "number"}}


class OrderTable(tables.Table):
    order = tables.Column(accessor="called", order_by="id", linkify=("order", [tables.A("pk")]))
    supplier = tables.Column(verbose_name="Supplier", accessor="supplier__name", order_by=("supplier__name", "id"))
    day = tables.DateColumn(format="j M Y", order_by=("day", "id"))
    sent_on = tables.DateColumn(verbose_name="Sent", format="j M Y", order_by=("sent_on", "id"))
    came = tables.Column(empty_values=(), orderable=False, attrs=NUMBER)
    open = tables.Column(verbose_name="Still to come", empty_values=(), orderable=False, attrs=NUMBER)
    late = tables.Column(empty_values=(), orderable=False)

    class Meta:
        model = Order
        fields = ("order", "supplier", "day", "sent_on")
        sequence = ("order", "supplier", "day", "sent_on", "came", "open", "late")
        empty_text = "Nothing was ordered yet."
        order_by = "-order"

    def _of(self, record: Order) -> Progress:
        """What came of it; asked for once for all orders of the page."""
        if not hasattr(self, "_found"):
            shown = [row.record for row in self.page.object_list] if hasattr(self, "page") else [record]
            self._found = {one.order.pk: one for one in progresses(shown)}
        return self._found[record.pk]

    def render_came(self, record: Order) -> int:
        return self._of(record).came

    def render_open(self, record: Order) -> int:
        return self._of(record).open

    def render_late(self, record: Order) -> str:
        days = self._of(record).late(today())
        return f"{days} days" if days else ""


SENT = [("yes", "sent"), ("no", "not sent yet")]


class OrderFilter(filters.FilterSet):
    text = filters.CharFilter(method="find", label="Number, code or supplier")
    sent = filters.ChoiceFilter(method="by_sent", label="Sent", choices=SENT, empty_label="all")
    late = filters.ChoiceFilter(method="by_late", label="Late", choices=[("yes", "late")], empty_label="all")

    class Meta:
        model = Order
        fields: list[str] = []

    def find(self, orders: QuerySet[Order], _name: str, value: str) -> QuerySet[Order]:
        asked = Q(number__icontains=value) | Q(code__icontains=value) | Q(supplier__name__icontains=value)
        return orders.filter(asked)

    def by_sent(self, orders: QuerySet[Order], _name: str, value: str) -> QuerySet[Order]:
        return orders.filter(sent_on__isnull=value == "no")

    def by_late(self, orders: QuerySet[Order], _name: str, _value: str) -> QuerySet[Order]:
        return orders.filter(pk__in=late_orders(today()).values("pk"))


@office
def orders(request: HttpRequest) -> HttpResponse:
    listed = OrderFilter(request.GET, queryset=Order.objects.select_related("supplier"))
    rows = listed.qs if listed.is_valid() else Order.objects.select_related("supplier")
    table = paged(request, OrderTable(rows), name="orders")
    return render(request, "buying/orders.html", {"table": table, "filter": listed})


@office
def order_new(request: HttpRequest) -> HttpResponse:
    form, lines = OrderForm(request.POST or None), OrderLines(request.POST or None, prefix="line")
    if any(name in request.POST for name in FILLS):
        data, problem = filled_in(request.POST, request.user, deposits=False)
        return _form(request, OrderForm(data), OrderLines(data, prefix="line"), 200, problem)
    if request.method == "POST" and form.is_valid() and lines.is_valid():
        data = form.cleaned_data

        @stated  # an order that is refused leaves no supplier behind
        def place() -> Order:
            supplier = supplier_called(data["supplier"])
            head = actions.OrderHead(data["day"], data["number"], data["note"])
            wanted = [line.wanted for line in lines.filled]
            said = {"by": request.user.username, "key": data["key"]}
            return actions.place_order(supplier=supplier, head=head, lines=wanted, **said)

        try:
            order = place()
        except Refused as refused:
            refuse_line(form, lines, refused)
        else:
            messages.success(request, f"Order {order.called} is written. Send it as PDF or CSV, then say so below.")
            return redirect("order", order.pk)
    elif request.method == "POST":
        tell_if_recorded(form)
    return _form(request, form, lines, 422 if request.method == "POST" else 200)


def longer(data):
    """The same form with three more lines; nothing typed is lost."""
    data = data.copy()
    total = data.get("line-TOTAL_FORMS", "3")
    data["line-TOTAL_FORMS"] = str(min(int(total) + 3 if total.isascii() and total.isdigit() else 6, 40))
    return data


def refuse_line(form, lines, refused: Refused) -> None:
    """Show a refusal at its line, where it names one, else at the head."""
    number = getattr(refused, "line", None)
    if number is None:
        add_refused(form, refused)
        return
    line = lines.filled[number]
    line.add_error(refused.field if refused.field in line.fields else None, refused.message)
    form.add_error(None, f"Line {lines.forms.index(line) + 1}: {refused.message}")


def _form(request: HttpRequest, form, lines, status: int, problem: dict[str, str] | None = None) -> HttpResponse:
    suppliers = list(Party.objects.filter(role="supplier").values_list("name", flat=True))
    lists = {"substances": substances(), "suppliers": suppliers}
    said = {"form": form, "lines": lines, "lists": lists, **(problem or {})}
    return render(request, "buying/order_new.html", said, status=status)


@office
def order(request: HttpRequest, pk: int) -> HttpResponse:
    return _order(request, get_object_or_404(Order.objects.select_related("supplier"), pk=pk))


def _order(request: HttpRequest, shown: Order, form: SentForm | None = None) -> HttpResponse:
    found = progress_of(shown)
    said = {
        "order": shown,
        "found": found,
        "lines": [(one, one.late(today())) for one in found.lines],
        "besides": list(found.besides.items()),
        "late": found.late(today()),
        "sent": form or SentForm(),
    }
    return render(request, "buying/order.html", said, status=422 if form is not None else 200)


@office
@require_POST
def order_sent(request: HttpRequest, pk: int) -> HttpResponse:
    shown, form = get_object_or_404(Order.objects.select_related("supplier"), pk=pk), SentForm(request.POST)
    if form.is_valid():
        try:
            actions.order_sent(code=shown.code, on=form.cleaned_data["on"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"Order {shown.called} was sent.")
            return redirect("order", pk)
    return _order(request, shown, form)


def because(request: HttpRequest, form: WhyForm, do: Callable[..., object], **said: str) -> HttpResponse:
    """The page of an action that wants a reason. form: named by each view, whose labels are looked up where it stands;
    do: takes `why` and `by`; said: as `act` has it."""
    by = request.user.username
    return act(request, form, lambda data: do(by=by, **data), **said)


@office
def order_give_up(request: HttpRequest, pk: int, line: int) -> HttpResponse:
    shown = get_object_or_404(OrderLine.objects.select_related("order"), pk=line, order_id=pk)
    return because(
        request,
        WhyForm(request.POST or None),
        partial(actions.give_up_line, pk=line),
        heading=f"Wait no more for line {shown.place} of order {shown.order.called}",
        intro="What came of it stays. What has not come is not waited for any more, and is not late.",
        back=reverse("order", args=[pk]),
        button="Give it up",
        done="It is not waited for any more.",
    )


@office
def order_came(request: HttpRequest, pk: int) -> HttpResponse:
    """A delivery that was entered without its order."""
    shown = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    deliveries = _of_no_order(shown.supplier)
    intro = "What it brought then counts for the order. The delivery stays as it was posted."
    if not deliveries:
        intro = f"Every delivery of {shown.supplier.name} of the last 13 months is for an order already."
    return act(
        request,
        CameForm(request.POST or None, deliveries=deliveries),
        lambda data: actions.was_for(order=shown, number=data["delivery"]),
        heading=f"A delivery was for order {shown.called}",
        intro=intro,
        back=reverse("order", args=[pk]),
        button="It was for this order",
        done="The delivery counts for the order.",
    )


def _of_no_order(supplier: Party) -> list[tuple[int, str]]:
    """A supplier's latest deliveries that are for no order, with what came, as choices."""
    found = deliveries_of(supplier, today() - BACK, today()).exclude(
        ordered__in=OrderDelivery.objects.filter(undone_on=None)
    )
    latest = list(found.order_by("-day", "-number")[:OFFERED])
    came = by_delivery(groups_of(latest))
    return [(one.number, _delivery_said(one, came.get(one, []))) for one in latest]


def _delivery_said(one: Voucher, groups: list[Group]) -> str:
    what = ", ".join(f"{len(group.codes)} × {group.words}" for group in groups[:2]) + (" …" if len(groups) > 2 else "")
    return ", ".join(part for part in (said_day(one.day), one.document, f"voucher {one.number}: {what}") if part)


@office
def order_not_came(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    shown = get_object_or_404(Order, pk=pk)
    get_object_or_404(OrderDelivery, order=shown, voucher_id=number)
    return because(
        request,
        WhyForm(request.POST or None),
        partial(actions.was_not_for, order=shown, number=number),
        heading=f"Voucher {number} was not for order {shown.called}",
        intro="The delivery stays as it was posted; what it brought counts for this order no more.",
        back=reverse("order", args=[pk]),
        button="It was not",
        done="The delivery counts for this order no more.",
    )


@office
def order_file(request: HttpRequest, pk: int, kind: str) -> HttpResponse | FileResponse:
    """The order as it is sent: pdf, csv or xlsx."""
    shown = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    with one_moment():
        found = progress_of(shown)
        paper = foot(f"Order {shown.called}", Origin(request.user.name, timezone.now()), place="container")
    currency, name = request.shop.currency, f"order-{shown.code}"
    if kind == "pdf":
        answer = HttpResponse(order_paper(found, currency, paper), content_type="application/pdf")
        answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
        return answer
    return export_rows(request, order_rows(found, currency), name, kind)
