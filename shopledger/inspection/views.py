"""Pages for whoever answers an inspector: bundles, and whether the ledger still holds a digest."""

import re

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from inventory.ledger.models import Voucher
from inventory.ledger.queries import head, voucher_containing
from inventory.ledger.snapshot import one_moment
from inventory.shop.access import everybody, office
from inventory.shop.clock import today
from inventory.shop.forms import DayField, OnceForm, add_refused
from inventory.text.refusal import Refused
from jobs.people.queries import names_of_people
from shopledger.inspection.models import BundleOrder
from shopledger.inspection.work import file_of, order_bundle, progress_of
from shopledger.reporting.periods import quarter

DIGEST = re.compile(r"[0-9a-f]{64}")


class BundleForm(OnceForm):
    first = DayField(label="From", initial=lambda: quarter(today()).first)
    last = DayField(label="To")


@office
def bundles(request: HttpRequest) -> HttpResponse:
    form = BundleForm(request.POST or None)
    if form.is_valid():
        data = form.cleaned_data
        try:
            made = order_bundle(first=data["first"], last=data["last"], by=request.user.username, key=data["key"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            return redirect("bundle", made.pk)
    found = list(BundleOrder.objects.all()[:50])
    names = names_of_people({one.by for one in found})
    said = {"form": form, "bundles": [(one, names.get(one.by, one.by)) for one in found]}
    return render(request, "inspection/bundles.html", said, status=422 if form.errors else 200)


@office
def bundle(request: HttpRequest, pk: int) -> HttpResponse:
    order = get_object_or_404(BundleOrder, pk=pk)
    progress = progress_of(order)
    working = order.state == "making"
    said = {
        "order": order,
        "by": names_of_people([order.by]).get(order.by, order.by),
        "working": working,
        "progress": progress.read() if working else None,
        "silent": working and progress.silent(order.at.timestamp()),
        "there": order.state == "made" and file_of(order).exists(),
    }
    return render(request, "inspection/_bundle.html" if request.htmx else "inspection/bundle.html", said)


@office
def bundle_file(request: HttpRequest, pk: int) -> FileResponse:
    order = get_object_or_404(BundleOrder, pk=pk, state="made")
    path = file_of(order)
    if not path.exists():
        raise Http404
    return FileResponse(path.open("rb"), as_attachment=True, filename=order.filename, content_type="application/zip")


@everybody
@one_moment()
def proof(request: HttpRequest) -> HttpResponse:
    """Whether the ledger still holds a digest that was printed, and what was recorded since."""
    asked = request.GET.get("digest", "").strip().lower()
    found = voucher_containing(asked) if DIGEST.fullmatch(asked) else None
    number, digest = head()
    said = {
        "asked": asked,
        "found": found,
        "odd": bool(asked) and not DIGEST.fullmatch(asked),
        "number": number,
        "digest": digest,
        "since": Voucher.objects.filter(number__gt=found.number).count() if found else None,
    }
    return render(request, "inspection/proof.html", said, status=422 if said["odd"] else 200)
