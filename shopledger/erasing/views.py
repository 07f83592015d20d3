"""Erasing personal words: what would go, what stays and why, and what was erased."""

import json

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.ledger.erasing import WHYS, erase, find
from inventory.ledger.models import Voucher
from inventory.ledger.stated_rows import stated
from inventory.shop.access import owner
from inventory.shop.forms import OnceForm, add_refused, note
from inventory.text.refusal import Refused

SHOWN = 200


class EraseForm(OnceForm):
    why = forms.ChoiceField(label="Why", choices=[("", "choose"), *WHYS.items()])
    note = note("More of it, without the name")
    sure = forms.BooleanField(label="Erase it for good: nobody can bring it back")


@owner
def erase_page(request: HttpRequest, kind: str, key: str) -> HttpResponse:
    form = EraseForm(request.POST or None)
    try:
        found = find(kind, key)
    except Refused as refused:
        raise Http404(refused.message) from None
    if form.is_valid():
        data = form.cleaned_data
        try:
            number = erase(
                kind, key, why=data["why"], note=data["note"], by=request.user.username, form=str(data["key"])
            )
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"The words of {key} are erased, by entry {number}.")
            return redirect("erased")
    words = stated(kind, key)
    said = {
        "form": form,
        "kind": kind,
        "key": key,
        "title": found.title,
        "fields": sorted(name.replace("_", " ") for name in words.words) if words else ["note"],
        "versions": len(found.digests),
        "held": found.held_by(),
    }
    return render(request, "erasing/erase.html", said, status=422 if form.errors else 200)


@owner
def erased(request: HttpRequest) -> HttpResponse:
    """What was erased: who, when, why; never what it was."""
    entries = Voucher.objects.filter(kind="erasure").order_by("-number")[:SHOWN]
    rows = [(one, WHYS.get(said["why"], said["why"]), said.get("of", "")) for one in entries for said in [_detail(one)]]
    return render(request, "erasing/erased.html", {"rows": rows})


def _detail(voucher: Voucher) -> dict:
    return json.loads(voucher.detail)
