"""The page on which an entry is corrected: its form again, then what that would post, and only then the posting."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.containers.preview import ChangedSince, WouldPost, mark, post_as_shown, would_post
from inventory.correcting.again import Again, Said, elsewhere, way_of
from inventory.correcting.links import links_of, why_not
from inventory.correcting.recorded import standing_of
from inventory.ledger.models import Voucher
from inventory.ledger.queries import last_seal
from inventory.shop.access import everybody
from inventory.shop.once import BESIDE, AlreadyRecorded, recorded
from inventory.text.refusal import Refused


@everybody
def correct(request: HttpRequest, number: int) -> HttpResponse:
    """First the form, then what it would post; nothing is posted before that was seen."""
    voucher = get_object_or_404(Voucher.objects.select_related("reversed_by", "reverses"), number=number)
    try:
        sent = recorded()
    except AlreadyRecorded as refused:
        return _anew(request, refused)
    if sent is not None:  # the same form, sent twice
        return redirect("voucher", sent.voucher)
    said = Said(voucher)
    way = way_of(said)
    if way is None and elsewhere.get(voucher.kind, lambda *_: "")(voucher, request.user):
        return redirect(elsewhere[voucher.kind](voucher, request.user))
    if not (way or Again).may(said, request.user):
        raise PermissionDenied
    problem = why_not(said, links_of(voucher))
    if problem or way is None:
        problem = problem or f"A {voucher.kind} is corrected on a page of its own."
        return render(request, "inventory/not_corrected.html", {"voucher": voucher, "problem": problem}, status=409)
    if request.method != "POST":
        return _form(request, way(said, request.user))
    longer = "more" in request.POST and way.rows_class is not None
    again = way(said, request.user, _longer(request, way.rows_class.max_num) if longer else request.POST)
    if "more" in request.POST or "change" in request.POST:
        return _form(request, again)
    return _answer(request, again) if again.is_valid() else _form(request, again, 422)


def _anew(request: HttpRequest, refused: AlreadyRecorded) -> HttpResponse:
    """What was typed under an id that was used: as a correction of what stands now, in the place of the other one."""
    standing = standing_of(Voucher.objects.select_related("reversed_by", "reverses").get(number=refused.voucher))
    said = Said(standing)
    way = way_of(said)
    if way is None or not way.may(said, request.user):
        raise PermissionDenied
    again = way(said, request.user, request.POST)
    again.form.post_anew(refused)
    if problem := why_not(said, links_of(standing)):
        again.form.add_error(None, problem)
    return _form(request, again, 422)


def _longer(request: HttpRequest, most: int):
    """What was typed, with three more lines. most: how many there may be."""
    data = request.POST.copy()
    total = data.get("line-TOTAL_FORMS", "")
    total = int(total) if total.isascii() and total.isdigit() and len(total) < 5 else 1
    data["line-TOTAL_FORMS"] = str(min(total + 3, most))
    return data


def _form(request: HttpRequest, again: Again, status: int = 200) -> HttpResponse:
    voucher = again.said.voucher
    said = {"again": again, "voucher": voucher, "lists": again.lists()}
    said["there"] = reverse("voucher-correct", args=[voucher.number])
    return render(request, "inventory/correct.html", said, status=status)


def _answer(request: HttpRequest, again: Again) -> HttpResponse:
    """What a valid form would post; or it is posted, where that was seen."""
    try:
        if "post" not in request.POST:
            return _preview(request, again, would_post(again.post))
        number = post_as_shown(again.post, request.POST.get("shown", ""))
    except ChangedSince as changed:
        if (sent := recorded()) is not None:  # by a second tap, meanwhile
            return redirect("voucher", sent.voucher)
        return _preview(request, again, changed.found, changed=True)
    except Refused as refused:
        again.refuse(refused)
        return _form(request, again, 422)
    messages.success(request, f"Voucher {again.said.voucher.number} is corrected by voucher {number}.")
    return redirect("voucher", number)


def _preview(request: HttpRequest, again: Again, found: list[WouldPost], changed: bool = False) -> HttpResponse:
    typed = [
        (name, value)
        for name, values in request.POST.lists()
        if name == "key" or name not in BESIDE
        for value in values
    ]
    seal, on = last_seal(), again.said.event.on
    said = {
        "voucher": again.said.voucher,
        "why": again.form.cleaned_data["why"],
        "on": again.form.cleaned_data["day"],
        "sealed_through": seal.through if seal and on <= seal.through else None,
        "would_post": found,
        "shown": mark(found),
        "typed": typed,
        "changed": changed and "shown" in request.POST,
    }
    return render(request, "inventory/correct_seen.html", said, status=409 if said["changed"] else 200)
