"""The page of an accidental release."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from inventory.containers.models import Container
from inventory.releases.actions import release as post_release
from inventory.releases.asked import cautions_of
from inventory.releases.forms import ReleaseForm
from inventory.releases.queries import in_stock_codes
from inventory.shop.access import everybody
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused


@everybody
def release(request: HttpRequest) -> HttpResponse:
    """What got out of a container; `?container=CODE` names it."""
    code = request.GET.get("container", "")[:60]
    found = Container.objects.select_related("substance", "account").filter(code=code, void=False).first()
    form = ReleaseForm(request.POST or None, person=request.user, initial={"container": code})
    if form.is_valid():
        try:
            number = post_release(**form.said(), **form.head(request.user.username))
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"It is posted as voucher {number}. Below stands what is asked now.")
            return redirect("voucher", number)
    gas = found.substance.code if found and found.substance and not found.is_oil else None
    said = {
        "form": form,
        "container": found,
        "cautions": cautions_of(request.shop.rules, gas, today()),
        "back": reverse("container", args=[found.code]) if found else reverse("stock"),
        "lists": {"stock": in_stock_codes()},
    }
    return render(request, "inventory/release.html", said, status=422 if form.errors else 200)
