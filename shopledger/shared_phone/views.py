"""Changing the person of a phone that several people use, unlocking it, and one's own PIN."""

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody, owner
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.people.models import STAFF, Person
from shopledger.shared_phone import actions, queries
from shopledger.shared_phone.forms import NewPinForm, PinForm
from shopledger.signin import pins, standing
from shopledger.signin.models import Standing


def _fully() -> HttpResponse:
    return redirect(f"{reverse('sign-in')}?fully=yes")


# -- who is next -----------------------------------------------------------------------------------------------


@login_not_required
def people_here(request: HttpRequest) -> HttpResponse:
    """Everybody who may come back on this phone by PIN; for who is signed in, also what else concerns it."""
    others = queries.others_here(request)
    if not others and not request.user.is_authenticated:
        return _fully()
    phone = standing.phone_of(request)
    said = {
        "others": others,
        "was_here": queries.who_was_here(request),
        "is_shared": phone is not None and phone.shared,
        "comes_back": queries.held_by(request, request.user.pk) is not None,
    }
    return render(request, "shared_phone/people.html", said)


@login_not_required
def pin_sign_in(request: HttpRequest, pk: int) -> HttpResponse:
    """The PIN of one of them. Of anybody else it says nothing: they are not on the list."""
    held = queries.held_by(request, pk)
    if held is None:
        return _fully() if request.method == "POST" else redirect("people-here")
    if request.user.pk == pk:
        return redirect("home")
    was = queries.who_was_here(request)
    is_back = was is not None and was.pk == pk
    form = PinForm(request.POST or None)
    if form.is_valid():
        if actions.is_right(request, held, form.cleaned_data["pin"]):
            return _changed(request, held, queries.said_next(request) if is_back else "/")
        if queries.held_by(request, pk) is None:
            wrong = f"{standing.MOST_WRONG} PINs were wrong"
            messages.error(request, f"{wrong}: on this phone {held.person.name} signs in with their password now.")
            return _fully()
        form.add_error("pin", "This is not the PIN. Type its six digits again.")
    said = {
        "form": form,
        "person": held.person,
        "is_back": is_back,
        "is_locked": is_back and held.phone.shared,
        "next": queries.said_next(request),
    }
    return render(request, "shared_phone/pin.html", said, status=422 if form.errors else 200)


def _changed(request: HttpRequest, held: Standing, there: str) -> HttpResponse:
    """A page that unlocks itself stays where it is."""
    actions.change_to(request, held)
    return HttpResponse(status=204) if request.htmx else redirect(there)


@login_not_required
@require_POST
def somebody_else(request: HttpRequest) -> HttpResponse:
    """Who is here makes room for a full sign-in, and may come back by PIN."""
    if request.user.is_authenticated:
        logout(request)
    return _fully()


@login_not_required
@require_POST
def everybody_out(request: HttpRequest) -> HttpResponse:
    actions.everybody_out(request)
    answer = _fully()
    answer["Clear-Site-Data"] = '"cache"'
    return answer


@everybody
@require_POST
def share(request: HttpRequest) -> HttpResponse:
    shared = request.POST.get("shared") == "yes"
    actions.share(request, shared)
    minutes = request.shop.lock_minutes
    if not shared:
        messages.success(request, "This phone is one person's again: it does not lock.")
    elif minutes:
        messages.success(request, f"This phone is shared now: it locks after {minutes} minutes without a touch.")
    else:
        messages.success(request, "This phone is shared now. The shop has set that phones never lock.")
    return redirect("people-here")


@everybody
def touched(request: HttpRequest) -> HttpResponse:
    """Sent by a page that is touched without being sent, so that it does not lock; a page that only asks whether it is
    locked sends it as a part of a page does."""
    return HttpResponse(status=204)


# -- one's own PIN ---------------------------------------------------------------------------------------------


@everybody
def pin(request: HttpRequest) -> HttpResponse:
    form = NewPinForm(request.POST or None)
    if form.is_valid():
        try:
            pins.set_pin(request.user, form.cleaned_data["pin"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            actions.stand_here(request)
            messages.success(
                request, "Your PIN is set. On this phone you come back by it today; elsewhere, sign in there first."
            )
            return redirect("people-here")
    said = {"form": form, "on": pins.has_pin(request.user)}
    return render(request, "shared_phone/own_pin.html", said, status=422 if form.errors else 200)


@everybody
@require_POST
def pin_remove(request: HttpRequest) -> HttpResponse:
    if pins.remove_pin(request.user):
        messages.success(request, "Your PIN is removed: everywhere your password is asked.")
    else:
        messages.info(request, "There was no PIN to remove.")
    return redirect("pin")


@owner
@require_POST
def person_pin_remove(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk, role__in=STAFF)
    if pins.remove_pin(person):
        messages.success(request, f"The PIN of {person.name} is removed: everywhere their password is asked.")
    else:
        messages.info(request, f"{person.name} has no PIN.")
    return redirect("person", pk)
