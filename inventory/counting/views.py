"""Counting the stock of a place: enter readings, look at what they say, post them as one voucher."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from inventory.containers.actions import count
from inventory.containers.forms import CountForm
from inventory.containers.models import Location
from inventory.containers.queries import in_stock
from inventory.ledger.models import Voucher
from inventory.ledger.refusal import Refused
from inventory.shop.access import office
from inventory.shop.forms import add_refused

MOST = 200  # containers on one page of a count; a larger place is counted by kind


@office
def counting(request: HttpRequest) -> HttpResponse:
    counts = Voucher.objects.filter(kind="count").order_by("-number").select_related("reversed_by")[:50]
    return render(
        request, "inventory/counting.html", {"places": Location.objects.filter(closed=False), "counts": counts}
    )


@office
def count_place(request: HttpRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Location, pk=pk)
    containers = list(in_stock().filter(location=place).order_by("code")[:MOST])
    form = CountForm(request.POST or None, containers=containers, person=request.user)
    said = []
    if form.is_valid():
        data = form.cleaned_data
        preview = "post" not in request.POST
        try:
            number, said = count(
                readings=form.readings(), day=data["day"], by=request.user.username, key=str(data["key"]),
                scale=data["scale"], note=data["note"], preview=preview,
            )  # fmt: skip
        except Refused as refused:
            add_refused(form, refused)
        else:
            if not preview:
                messages.success(request, f"The count is posted as voucher {number}.")
                return redirect("voucher", number)
    oils = {container.code for container in containers if container.is_oil}
    return render(
        request,
        "inventory/count.html",
        {
            "place": place, "form": form, "containers": containers, "said": [(r, r.code in oils) for r in said],
            "plain": [form[name] for name in ("scale", "day", "note")],
            "readings": [form[f"gross-{container.code}"] for container in containers],
        },
        status=422 if form.errors else 200,
    )  # fmt: skip
