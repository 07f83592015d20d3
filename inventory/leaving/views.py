"""What leaves the shop: shipments to suppliers, reclaimers and destroyers."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.containers.actions import ship
from inventory.containers.forms import ShipmentForm
from inventory.containers.queries import in_stock
from inventory.ledger.models import Voucher
from inventory.ledger.refusal import Refused
from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.shop.access import office
from inventory.shop.forms import add_refused

MOST = 100


@office
def leaving(request: HttpRequest) -> HttpResponse:
    sent = Voucher.objects.filter(kind="shipment").order_by("-number").select_related("reversed_by")[:50]
    return render(request, "inventory/leaving.html", {"shipments": sent})


@office
def shipment_new(request: HttpRequest) -> HttpResponse:
    containers = list(in_stock().filter(account__balance__gt=0).exclude(kind="can").order_by("-grade", "code")[:MOST])
    chosen = request.POST.getlist("codes") if request.method == "POST" else request.GET.getlist("codes")
    form = ShipmentForm(request.POST if request.method == "POST" else None)
    for container in containers:
        made = VolumeFormField if container.is_oil else MassFormField
        unit = request.user.volume_unit if container.is_oil else request.user.mass_unit
        field = made(label=f"Of {container.code}, {unit}", unit=unit, assume_unit=True, required=False)
        form.fields[f"quantity-{container.code}"] = field
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        known = {container.code for container in containers}
        parcels = {code: data[f"quantity-{code}"] for code in chosen if code in known}
        try:
            number = ship(
                parcels=parcels, purpose=data["purpose"], party=data["party"].name, document=data["document"],
                day=data["day"], by=request.user.username, key=str(data["key"]), note=data["note"],
            )  # fmt: skip
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"The shipment is posted as voucher {number}.")
            return redirect("voucher", number)
    rows = [
        {"container": container, "field": form[f"quantity-{container.code}"], "chosen": container.code in chosen}
        for container in containers
    ]
    plain = [form[name] for name in ("purpose", "party", "document", "day", "note")]
    return render(
        request,
        "inventory/shipment.html",
        {"form": form, "plain": plain, "rows": rows},
        status=422 if form.errors else 200,
    )
