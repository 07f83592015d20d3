"""Pages about what comes in, and from whom."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.containers.forms import locations, substances
from inventory.ledger.actions import stated
from inventory.ledger.models import Voucher
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock, receive, refuse_twin
from inventory.receiving.forms import DeliveryForm, LineFormSet, OpeningForm, arrival_of, refuse_line
from inventory.shop.access import office
from inventory.shop.forms import tell_if_recorded
from inventory.text.refusal import Refused


@office
def receiving(request: HttpRequest) -> HttpResponse:
    found = Voucher.objects.filter(kind__in=["receipt", "opening"]).order_by("-number")
    before = request.GET.get("before", "")
    if before.isascii() and before.isdigit() and len(before) < 18:
        found = found.filter(number__lt=int(before))
    page = list(found.select_related("reversed_by")[:51])
    return render(
        request,
        "inventory/receiving.html",
        {"vouchers": page[:50], "more": page[49].number if len(page) > 50 else None},
    )


@office
def receipt_new(request: HttpRequest) -> HttpResponse:
    form = DeliveryForm(request.POST or None)
    lines = LineFormSet(request.POST or None, prefix="line")
    if "more" in request.POST:
        return _delivery(request, form, _longer(request), "Receive a delivery", 200)
    if request.method == "POST" and form.is_valid() and lines.is_valid():
        data = form.cleaned_data

        @stated  # a delivery that is refused leaves no supplier behind
        def post(arrivals: list[Arrival]) -> int:
            supplier = supplier_called(data["supplier"], data["supplier_address"])
            head = form.head(request.user.username)
            return receive(lines=arrivals, supplier=supplier, again=data["again"], **head)

        number = _posted(form, lines, post)
        if number:
            messages.success(request, f"The delivery is posted as voucher {number}.")
            return redirect("voucher", number)
    return _delivery(request, form, lines, "Receive a delivery", 422 if request.method == "POST" else 200)


@office
def opening_new(request: HttpRequest) -> HttpResponse:
    form = OpeningForm(request.POST or None)
    lines = LineFormSet(request.POST or None, prefix="line")
    if "more" in request.POST:
        return _delivery(request, form, _longer(request), "Enter opening stock", 200)
    if request.method == "POST" and form.is_valid() and lines.is_valid():
        head = form.head(request.user.username)
        number = _posted(form, lines, lambda arrivals: open_stock(lines=arrivals, **head))
        if number:
            messages.success(request, f"The opening stock is posted as voucher {number}.")
            return redirect("voucher", number)
    return _delivery(request, form, lines, "Enter opening stock", 422 if request.method == "POST" else 200)


def _posted(form, lines, post) -> int | None:
    filled = [line for line in lines if line.has_changed()]
    try:
        return post([arrival_of(line.cleaned_data) for line in filled])
    except Refused as refused:
        refuse_line(form, lines, filled, refused)
        return None


def _longer(request: HttpRequest):
    """The same form with three more lines; nothing typed is lost."""
    data = request.POST.copy()
    total = data.get("line-TOTAL_FORMS", "3")
    data["line-TOTAL_FORMS"] = str(min(int(total) + 3 if total.isascii() and total.isdigit() else 6, 40))
    return LineFormSet(data, prefix="line")


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


def _delivery(request: HttpRequest, form, lines, heading: str, status: int) -> HttpResponse:
    if status != 200 and not lines.is_valid():
        tell_if_recorded(form)
    if form.posts_anew:
        _ask_of_twin(form)
    lists = {
        "substances": substances(),
        "locations": locations(),
        "suppliers": list(Party.objects.filter(role="supplier").values_list("name", flat=True)),
    }
    said = {"form": form, "lines": lines, "heading": heading, "lists": lists}
    return render(request, "inventory/delivery.html", said, status=status)
