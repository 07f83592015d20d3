"""What leaves the shop: shipments to suppliers, reclaimers and destroyers, and sales."""

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.db.models import Case, Q, When
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.codes.queries import names_of
from inventory.codes.wording import with_code
from inventory.containers.models import Container
from inventory.containers.queries import OURS
from inventory.containers.queries import containers as known_containers
from inventory.containers.views import chosen_codes
from inventory.containers.voucher_table import listed_vouchers
from inventory.ledger.actions import rehearsing
from inventory.ledger.models import Voucher
from inventory.ledger.snapshot import one_moment
from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.measures.quantity import show
from inventory.paper.foot import Origin
from inventory.parties.models import Party
from inventory.reference.kinds import with_trait
from inventory.reference.transport import entry_of
from inventory.shipping.actions import enter_their_weights, sent_of, ship
from inventory.shipping.forms import NOTHING, SALE, ConsigneeForm, ShipmentForm, TheirWeightsForm
from inventory.shipping.going import Going, mark_of, totals_going
from inventory.shipping.paper import Consignment, shipping_paper
from inventory.shipping.parcels import Parcel, parcels_of, parcels_standing
from inventory.shipping.sales import SELL
from inventory.shop.access import office
from inventory.shop.back import back_of
from inventory.shop.clock import now, today
from inventory.shop.forms import add_refused
from inventory.shop.once import recorded
from inventory.text.refusal import Refused

MOST = 100


@office
def leaving(request: HttpRequest) -> HttpResponse:
    """Shipments: the latest first, filtered, summed, or as a file."""
    said = listed_vouchers(request, ("shipment",), "leaving")
    return render(request, "inventory/leaving.html", said) if isinstance(said, dict) else said


@office
def shipment_receipt(request: HttpRequest, number: int) -> HttpResponse:
    """What those who took it found, from their receipt."""
    voucher = get_object_or_404(Voucher, number=number, kind="shipment")
    sent = sent_of(voucher)
    oils = set(
        Container.objects.filter(code__in=[code for code, _ in sent], kind__in=with_trait("is_oil")).values_list(
            "code", flat=True
        )
    )
    form = TheirWeightsForm(request.POST if request.method == "POST" else None)
    for code, quantity in sent:
        oil = code in oils
        unit = request.user.volume_unit if oil else request.user.mass_unit
        form.fields[f"net-{code}"] = (VolumeFormField if oil else MassFormField)(
            label=f"{code}: sent {show(quantity, unit)}; they found, {unit}",
            unit=unit,
            assume_unit=True,
            required=False,
        )
    if form.is_valid():
        weights = {
            name.removeprefix("net-"): value
            for name, value in form.cleaned_data.items()
            if name.startswith("net-") and value is not None
        }
        try:
            enter_their_weights(
                number=number, weights=weights, document=form.cleaned_data["document"], by=request.user.username
            )
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, "Their receipt is kept.")
            return redirect("voucher", number)
    code = json.loads(voucher.detail)["party"]
    said = {"voucher": voucher, "form": form, "party": with_code(code, names_of([code]))}
    return render(request, "inventory/shipment_receipt.html", said, status=422 if form.errors else 200)


@office
@one_moment()
def shipment_paper(request: HttpRequest, number: int) -> HttpResponse:
    """The shipping paper of a shipment, as a PDF."""
    voucher = get_object_or_404(Voucher.objects.select_related("reversed_by"), number=number, kind="shipment")
    if hasattr(voucher, "reversed_by"):
        raise Refused(f"Voucher {number} was taken back: nothing travels by it. Open the one that stands.")
    party = Party.objects.filter(code=json.loads(voucher.detail)["party"]).first()
    document = " / ".join(filter(None, [voucher.document, f"voucher {number}"]))
    return _paper(request, parcels_of(voucher), party, voucher.day, document)


@office
@one_moment()
def chosen_paper(request: HttpRequest) -> HttpResponse:
    """A shipping paper of the chosen containers as they stand, such as empty ones that go back; it posts nothing."""
    parcels = parcels_standing(chosen_codes(request))
    if not parcels:
        raise Refused("No container is chosen; tick some in the list of stock first.")
    form = ConsigneeForm(request.GET if "party" in request.GET else None)
    if form.is_valid():
        return _paper(request, parcels, form.cleaned_data["party"], today(), "")
    said = {"parcels": parcels, "form": form}
    return render(request, "inventory/chosen_paper.html", said, status=422 if form.errors else 200)


def _paper(
    request: HttpRequest, parcels: list[Parcel], party: Party | None, day: dt.date, document: str
) -> HttpResponse:
    named = (party.name, party.address) if party else ("", "")
    content = shipping_paper(Consignment(parcels, *named, day, document), Origin(request.user.name, now()))
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="shipping-paper.pdf"'
    return answer


def _on_offer(chosen: list[str], typed: bool) -> list[Container]:
    """What could be sent. typed: a form was sent, so one that is gone meanwhile stays with what was typed of it."""
    here, ticked = Q(OURS, account__balance__gt=0, retired_on=None), Q(code__in=chosen[:MOST])
    offered = here & (Q(kind__in=with_trait("goes_away")) | ticked)
    found = known_containers().filter(offered | ticked if typed else offered, void=False)
    picked = Case(When(code__in=chosen[:MOST], then=0), default=1)  # those that were ticked are never cut off
    return list(found.order_by(picked, "-grade", "code")[:MOST])


@dataclass
class Sending:
    """What became of a form: number: of the voucher, None where nothing is posted; going: what is asked about."""

    number: int | None = None
    going: Sequence[Going] = ()
    mark: str = ""


def _send(request: HttpRequest, form: ShipmentForm, chosen: Sequence[str], containers: Sequence[Container]) -> Sending:
    """Post what a valid form says, or, where the page wants to be asked first, what it comes to. Raises Refused."""
    data = form.cleaned_data
    posted = recorded()  # the same form, sent twice
    if posted is not None:
        return Sending(posted.voucher)
    known = {container.code for container in containers if container.content and not container.retired_on}
    if gone := [code for code in chosen if code not in known]:
        raise Refused(
            f"{', '.join(gone[:10])}: nothing is in it any more, or it is not in stock. Take it off the list, and send "
            "the others.",
            "containers",
        )
    for code in (one.code for one in containers if one.code not in chosen):
        if data[f"quantity-{code}"] is not None:
            raise Refused(f"{code} is not ticked: tick it, or take its quantity out.", f"quantity-{code}")
    parcels = {code: data[f"quantity-{code}"] for code in chosen}
    for code in (code for code, quantity in parcels.items() if quantity == 0):
        raise Refused(NOTHING, f"quantity-{code}")
    said = {"parcels": parcels, "sale": data.get("sale"), **form.head(request.user.username)}
    said |= {name: data[name] for name in ("containers_go", "purpose", "party")}
    mark = mark_of(data, parcels)
    if "ask" not in request.POST and request.POST.get("shown", mark) == mark:
        return Sending(ship(**said))
    with rehearsing():  # what would be refused is refused before anything is asked
        ship(**said)
    return Sending(None, [Going(one, parcels[one.code]) for one in containers if one.code in parcels], mark)


@office
def shipment_new(request: HttpRequest) -> HttpResponse:
    chosen, sending = chosen_codes(request), Sending()
    containers = _on_offer(chosen, request.method == "POST")
    form = ShipmentForm(request.POST if request.method == "POST" else None)
    for container in containers:
        made = VolumeFormField if container.is_oil else MassFormField
        unit = request.user.volume_unit if container.is_oil else request.user.mass_unit
        field = made(label=f"Of {container.code}, {unit}", unit=unit, assume_unit=True, required=False)
        form.fields[f"quantity-{container.code}"] = field
    if form.is_bound and form.is_valid():
        try:
            sending = _send(request, form, chosen, containers)
        except Refused as refused:
            add_refused(form, refused)
        else:
            if sending.number is not None:
                messages.success(request, f"The shipment is posted as voucher {sending.number}.")
                return redirect(back_of(request) or reverse("voucher", args=[sending.number]))
    rows = [
        {
            "container": container,
            "field": form[f"quantity-{container.code}"],
            "chosen": container.code in chosen,
            "entry": entry_of(container.substance.code, container.grade, container.kind),
        }
        for container in containers
    ]
    sale = [form[name] for name in form.fields if name.startswith(SALE)]
    names = ("purpose", "party", "document", "containers_go", "day", "follows", "note")
    plain = [form[name] for name in names if not form[name].is_hidden]
    return render(
        request,
        "inventory/shipment.html",
        {
            "form": form,
            "plain": plain,
            "sale": sale,
            "sells": form["purpose"].value() == SELL,
            "rows": rows,
            "sending": sending,
            "all_going": totals_going(sending.going),
        },
        status=422 if form.errors else 200,
    )
