"""Pages about what comes in, and from whom."""

import json
from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render

from inventory.asking.asked import confirmed
from inventory.containers.forms import locations, substances
from inventory.containers.voucher_table import listed_vouchers
from inventory.ledger.actions import stated
from inventory.measures.days import said_day
from inventory.orders.models import Order
from inventory.orders.queries import lines_to_receive
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock, receive, refuse_twin
from inventory.receiving.came import Book, last_delivery, lines_of_last, next_codes
from inventory.receiving.filling import FILLS, filled_in, ordered_lines, texts_of, typed_line, with_lines
from inventory.receiving.forms import MOST_LINES, DeliveryForm, LineFormSet, OpeningForm, arrival_of, refuse_line
from inventory.receiving.origins import not_told
from inventory.shop.access import office
from inventory.shop.forms import ActForm, tell_if_recorded
from inventory.text.refusal import Refused


@office
def receiving(request: HttpRequest) -> HttpResponse:
    """Deliveries and opening stock: the latest first, filtered, summed, or as a file."""
    said = listed_vouchers(request, ("receipt", "opening"), "receiving")
    return render(request, "inventory/receiving.html", said) if isinstance(said, dict) else said


@office
def receipt_new(request: HttpRequest) -> HttpResponse:
    order = _order(request)

    def post(form: ActForm, arrivals: list[Arrival], head: dict) -> int:
        data = form.cleaned_data
        supplier = supplier_called(data["supplier"], data["supplier_address"])
        number = receive(lines=arrivals, supplier=supplier, again=data["again"], order=order, **head)
        for one in not_told(request.shop.rules, supplier, arrivals, head["day"]):
            messages.warning(request, f"{one.said} {one.cited}. Keep the supplier's declaration with the supplier.")
        return number

    said = {"heading": "Receive a delivery", "done": "The delivery is posted as voucher {}.", "order": order}
    return _entered(request, DeliveryForm, post, said)


@office
def opening_new(request: HttpRequest) -> HttpResponse:
    def post(form: ActForm, arrivals: list[Arrival], head: dict) -> int:
        return open_stock(lines=arrivals, **head)

    said = {"heading": "Enter opening stock", "done": "The opening stock is posted as voucher {}."}
    return _entered(request, OpeningForm, post, said)


def _order(request: HttpRequest) -> Order | None:
    """The order that a delivery is for: as the page was asked for, then as its form has it."""
    code = request.POST.get("order", "") if request.method == "POST" else request.GET.get("order", "")
    if not code:
        return None
    found = Order.objects.select_related("supplier").filter(code=code[:40]).first()
    if found is None:
        raise Http404
    return found


def _entered(request: HttpRequest, form_class: type[ActForm], post: Callable, said: dict) -> HttpResponse:
    """The page of a form with lines: as it is asked for, filled in further, refused, or posted."""
    if request.method != "POST":
        return _page(request, *_fresh(request, form_class, said.get("order")), said)
    if any(name in request.POST for name in FILLS):
        data, problem = filled_in(request.POST, request.user)
        return _page(request, form_class(data), LineFormSet(data, prefix="line"), said | problem)
    form, lines = form_class(request.POST), LineFormSet(request.POST, prefix="line")
    if form.is_valid() & lines.is_valid():
        filled = [line for line in lines if line.has_changed()]
        head = form.head(request.user.username) | {"sure": confirmed(form, *filled)}
        try:  # a delivery that is refused leaves no supplier behind
            number = stated(post)(form, [arrival_of(line.cleaned_data) for line in filled], head)
        except Refused as refused:
            refuse_line(form, lines, filled, refused)
        else:
            messages.success(request, said["done"].format(number))
            return redirect("voucher", number)
    return _page(request, form, lines, said, 422)


def _fresh(request: HttpRequest, form_class: type[ActForm], order: Order | None) -> tuple:
    if order is None:
        return form_class(), LineFormSet(prefix="line")
    form = form_class(initial={"supplier": order.supplier.name, "order": order.code})
    lines = LineFormSet(prefix="line")
    data = QueryDict(mutable=True)
    data.update({"line-TOTAL_FORMS": "1", "line-INITIAL_FORMS": "0"})
    wanted = ordered_lines(lines_to_receive(order, request.user), order.supplier.name, request.user, lines.book)
    return form, LineFormSet(with_lines(data, wanted), prefix="line")


@office
def receipt_line(request: HttpRequest) -> HttpResponse:
    """What a line that was typed in one go says, for the page that shows it at once."""
    asked = request.GET
    text, supplier, deposits = asked.get("text", ""), asked.get("supplier", "")[:200], asked.get("without") != "deposit"
    try:
        fields, said = typed_line(text, supplier, request.user, Book(), deposits=deposits)
    except Refused as refused:
        return JsonResponse({"problem": refused.message})
    return JsonResponse({"fields": fields, "said": said})


@office
def receipt_last(request: HttpRequest) -> HttpResponse:
    """The lines of a supplier's last delivery, for the page that offers them."""
    supplier = request.GET.get("supplier", "")[:200]
    found = last_delivery(supplier)
    if found is None:
        return JsonResponse({"lines": [], "said": ""})
    book = Book()
    lines = [texts_of(line, book) for line in lines_of_last(supplier, request.user)]
    many = f"{len(lines)} line{'s' * (len(lines) != 1)}"
    return JsonResponse({"lines": lines[:MOST_LINES], "said": f"{many}, {said_day(found.day)}"})


def _ask_of_twin(form) -> None:
    """Of a delivery that its button posts anew: ask about its document now, and not on the page after it."""
    said = form.cleaned_data
    supplier = Party.objects.filter(role="supplier", name=said.get("supplier", "")).first()
    if supplier is None or said.get("again"):
        return
    try:
        refuse_twin(said.get("document", ""), supplier)
    except Refused as refused:
        form.add_error("document", refused.message)


def _page(request: HttpRequest, form, lines, said: dict, status: int = 200) -> HttpResponse:
    if status != 200 and not lines.is_valid():
        tell_if_recorded(form)
    if form.posts_anew:
        _ask_of_twin(form)
    lists = {
        "substances": substances(),
        "locations": locations(),
        "suppliers": list(Party.objects.filter(role="supplier").values_list("name", flat=True)),
    }
    more = {"form": form, "lines": lines, "lists": lists, "next_codes": json.dumps(next_codes())}
    return render(request, "inventory/delivery.html", said | more, status=status)
