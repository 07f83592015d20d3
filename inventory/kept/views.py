"""Pages about gas that is kept apart: of customers, and what was found."""

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.attachments.actions import attach
from inventory.codes.queries import names_of
from inventory.codes.wording import with_code
from inventory.containers import queries
from inventory.containers.forms import locations, substances
from inventory.containers.keepers import PlaceWords
from inventory.containers.models import Container
from inventory.kept import actions
from inventory.kept.customers import customer_suggestions
from inventory.kept.forms import FoundForm, GiveBackForm, IdentifyForm, KeepForForm, TakeInForm
from inventory.measures.quantity import show
from inventory.shop.access import everybody, office
from inventory.shop.acting import act
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused

PER_PAGE = 50


@everybody
def kept(request: HttpRequest) -> HttpResponse:
    """By customer and gas what is kept for them; and what was found and waits to be identified, the longest first."""
    of_customers = Paginator(queries.kept_rows(), PER_PAGE).get_page(request.GET.get("page"))
    waiting = Paginator(queries.held_until_known(), PER_PAGE).get_page(request.GET.get("found"))
    words = PlaceWords()
    rows = [
        {"container": one, "place": words.of(one.location), "days": (today() - one.arrived_on).days} for one in waiting
    ]
    said = {"page": of_customers, "kept": queries.kept_named(of_customers), "rows": rows, "waiting": waiting}
    return render(request, "inventory/kept.html", said)


@everybody
def take_in(request: HttpRequest) -> HttpResponse:
    form = TakeInForm(request.POST or None, person=request.user)

    def post() -> int:
        head = form.head(request.user.username)
        return actions.take_in(owner=form.cleaned_data["customer"], brought=form.brought(), **head)

    return _then_its_voucher(
        request,
        form,
        post,
        heading="Take in a customer's cylinder",
        back=reverse("kept"),
        button="Take it in",
        intro="It stays theirs: it is bought from nobody, counts in no stock, and serves their own equipment alone.",
        lists={"substances": substances(), "locations": locations(), "customers": customer_suggestions()},
    )


@everybody
def found_new(request: HttpRequest) -> HttpResponse:
    form = FoundForm(request.POST or None, request.FILES or None, person=request.user)

    def post() -> int:
        data, username = form.cleaned_data, request.user.username
        said = {name: data[name] for name in ("kind", "location", "code", "scale", "found_where")}
        with transaction.atomic():  # a photo that cannot be kept leaves no cylinder behind
            number, _ = actions.find(gross_mg=data["gross"], **said, **form.head(username))
            if data["photo"]:
                more = {"title": "As it was found", "key": data["key"], "photo": False}
                attach(subject=f"voucher:{number}", upload=data["photo"], by=username, **more)
        return number

    return _then_its_voucher(
        request,
        form,
        post,
        heading="A cylinder was found",
        back=reverse("kept"),
        button="Hold it until it is known",
        intro="Also one without a label. It gets a code and a label, holds nothing in the book, and is taken for no "
        "work until it is identified.",
        lists={"locations": locations()},
    )


def _then_its_voucher(request: HttpRequest, form: forms.Form, post: Callable[[], int], **said: object) -> HttpResponse:
    """A page with one form; then on to the voucher, from which the label is printed."""
    if form.is_valid():
        try:
            number = post()
        except Refused as refused:
            refused.field = {"container": "code", "file": "photo", "location": "location"}.get(
                refused.field, refused.field
            )
            add_refused(form, refused)
        else:
            messages.success(request, f"It is posted as voucher {number}. Print its label now, and put it on.")
            return redirect("voucher", number)
    return render(request, "inventory/form.html", {"form": form, **said}, status=422 if form.errors else 200)


@everybody
def identify(request: HttpRequest, code: str) -> HttpResponse:
    shown = _here(code)
    form = IdentifyForm(request.POST or None, person=request.user)

    def do(_data: dict) -> None:
        actions.identify(code=code, said=form.said(), **form.head(request.user.username))

    weighed = show(shown.last_gross or 0, request.user.mass_unit)
    return act(
        request,
        form,
        do,
        heading=f"What is in {code}",
        back=reverse("container", args=[code]),
        button="It is known now",
        intro=f"It weighed {weighed} when it was found. What is in it enters the book as found, not as bought.",
        done=f"{code} is identified.",
        lists={"substances": substances()},
    )


@everybody
def keep_for(request: HttpRequest, code: str) -> HttpResponse:
    shown = _here(code)
    name = names_of([shown.kept_for]).get(shown.kept_for, "") if shown.kept_for else ""
    now = f"{name} ({shown.kept_for})" if shown.kept_for else ""
    form = KeepForForm(request.POST or None, initial={"customer": now})

    def do(data: dict) -> None:
        actions.keep_for(code=code, owner=data["customer"], **form.head(request.user.username))

    return act(
        request,
        form,
        do,
        heading=f"For whose gas {code} is",
        back=reverse("container", args=[code]),
        intro="Only an empty one. What is recovered into it from that customer's equipment stays theirs, and goes into "
        "no other's.",
        done=f"For whose gas {code} is, is kept.",
        lists={"customers": customer_suggestions()},
    )


@office
def give_back(request: HttpRequest, code: str) -> HttpResponse:
    shown = _here(code)
    form = GiveBackForm(request.POST or None)

    def do(data: dict) -> None:
        actions.give_back(code=code, stays=data["stays"], owner=shown.kept_for, **form.head(request.user.username))

    owner = with_code(shown.kept_for, names_of([shown.kept_for])) if shown.kept_for else "nobody"
    held = show(shown.content, request.user.mass_unit)
    return act(
        request,
        form,
        do,
        heading=f"Give {code} back",
        back=reverse("container", args=[code]),
        button="Give it back",
        intro=f"It is kept for {owner}, and holds {held} by the book. Weigh it first if it was used since.",
        done=f"What was in {code} went back.",
    )


def _here(code: str) -> Container:
    return get_object_or_404(queries.containers(), code=code, void=False)
