"""Pages of write-offs that two people agree to."""

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.containers.preview import ChangedSince, mark
from inventory.shop.access import everybody, office
from inventory.shop.forms import text
from inventory.shop.lists import paged
from inventory.text.refusal import Refused
from inventory.write_offs import actions
from inventory.write_offs.models import WriteOff
from inventory.write_offs.queries import ACTS, MAY_AGREE, lost_of, seen_by
from inventory.write_offs.tables import WriteOffTable


class RefuseForm(forms.Form):
    answer = text("Why not", 300, required=True)


@office
def write_offs(request: HttpRequest) -> HttpResponse:
    table = WriteOffTable(seen_by(request.user))
    return render(request, "inventory/write_offs.html", {"table": paged(request, table, 50, "write-offs")})


@everybody
def write_off(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, get_object_or_404(seen_by(request.user), pk=pk))


@office
@require_POST
def write_off_agree(request: HttpRequest, pk: int) -> HttpResponse:
    def agree(found: WriteOff) -> None:
        number = actions.agree(pk=found.pk, by=request.user.username, shown=request.POST.get("shown", ""))
        messages.success(request, f"Posted as voucher {number}.")

    return _answer(request, pk, agree)


@office
@require_POST
def write_off_refuse(request: HttpRequest, pk: int) -> HttpResponse:
    form = RefuseForm(request.POST)
    if not form.is_valid():
        return _page(request, get_object_or_404(seen_by(request.user), pk=pk), 422, form=form)

    def refuse(found: WriteOff) -> None:
        actions.refuse(pk=found.pk, by=request.user.username, answer=form.cleaned_data["answer"])
        messages.success(request, f"It is refused; {found.asked_name} reads why. Nothing was posted.")

    return _answer(request, pk, refuse)


@everybody
@require_POST
def write_off_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    def withdraw(found: WriteOff) -> None:
        actions.withdraw(pk=found.pk, by=request.user.username)
        messages.success(request, "It is withdrawn. Nothing was posted.")

    return _answer(request, pk, withdraw)


def _answer(request: HttpRequest, pk: int, do: Callable[[WriteOff], None]) -> HttpResponse:
    found = get_object_or_404(seen_by(request.user), pk=pk)
    try:
        do(found)
    except ChangedSince:
        return _page(request, found, 409, error="Something was recorded meanwhile; look at it again.")
    except Refused as refused:
        found = get_object_or_404(seen_by(request.user), pk=pk)
        return _page(request, found, 409, error=refused.message)
    return redirect("write-off", pk)


def _page(
    request: HttpRequest, found: WriteOff, status: int = 200, error: str = "", form: RefuseForm | None = None
) -> HttpResponse:
    """What it would post now, where it waits, and who may answer."""
    person = request.user
    own = found.asked_by == person.username
    said = {"found": found, "lost": lost_of(found), "error": error, "form": form or RefuseForm(), "own": own}
    said["act"] = ACTS[found.act]
    said["may_list"] = person.role in MAY_AGREE
    if found.act == "post_count":
        said["of_count"] = reverse("count", args=[found.said["count_id"]])
    if found.is_waiting:
        said["may"] = not own and person.role in MAY_AGREE
        try:
            posts = actions.what_it_posts(found)
        except Refused as refused:
            said["stands_in_the_way"] = refused.message
        else:
            said |= {"would_post": posts, "shown": mark(posts)}
    return render(request, "inventory/write_off.html", said, status=status)
