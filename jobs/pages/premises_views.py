"""Pages about premises, the method of their leak rates, and the full charge of a unit. Everybody who works here may
enter these."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.measures.days import said_day
from inventory.shop.access import everybody
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.shop.lists import paged
from inventory.text.refusal import Refused
from jobs.units import premises as actions
from jobs.units import queries
from jobs.units.forms import FullChargeForm, MethodForm, PremisesForm
from jobs.units.models import Customer, Premises
from jobs.units.tables import UnitTable

FOUND = ("how", "mg", "range_least_mg", "range_most_mg")
PARTICULARS = ("name", "address", "note")


@everybody
def premises(request: HttpRequest, pk: int) -> HttpResponse:
    shown = _premises(pk)
    units = queries.unit_list().filter(premises=shown)
    table = UnitTable(units, mass_unit=request.user.mass_unit, exclude=("customer",))
    methods = list(shown.methods.select_related("by"))
    said = {
        "premises": shown,
        "table": paged(request, table),
        "methods": methods[::-1],
        "method": queries.standing(methods, today()),
    }
    return render(request, "units/premises.html", said)


def _premises(pk: int) -> Premises:
    return get_object_or_404(Premises.objects.select_related("customer"), pk=pk)


@everybody
def premises_new(request: HttpRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=pk)
    form = PremisesForm(request.POST or None)

    def act(said: dict) -> str:
        added = actions.add_premises(customer, by=request.user, **said)
        messages.success(request, f"{added.name} are entered as {added.code}.")
        return reverse("premises", args=[added.pk])

    return _answer(request, form, act, f"New premises of {customer.name}", reverse("customer", args=[pk]))


@everybody
def premises_edit(request: HttpRequest, pk: int) -> HttpResponse:
    shown = _premises(pk)
    form = PremisesForm(request.POST or None, initial={name: getattr(shown, name) for name in PARTICULARS})

    def act(said: dict) -> str:
        changed = actions.change_premises(shown, by=request.user, **{name: said[name] for name in PARTICULARS})
        messages.success(request, f"{changed.name} are saved.")
        return back

    back = reverse("premises", args=[pk])
    return _answer(request, form, act, f"Change {shown.name}", back)


@everybody
def premises_method(request: HttpRequest, pk: int) -> HttpResponse:
    """How the leak rates of all units of the premises are worked out, from a day on."""
    shown = _premises(pk)
    methods = list(shown.methods.all())
    form = MethodForm(request.POST or None, first=not methods)

    def act(said: dict) -> str:
        kept = actions.set_method(shown, by=request.user, **said)
        messages.success(request, f"The method is {kept.get_method_display()} from {said_day(kept.from_day)} on.")
        return back

    back = reverse("premises", args=[pk])
    more = {"premises": shown, "method": queries.standing(methods, today()), "changes": bool(methods)}
    return _answer(request, form, act, f"Leak rates at {shown.name}", back, "units/method_form.html", **more)


@everybody
def unit_full_charge(request: HttpRequest, pk: int) -> HttpResponse:
    """What a unit holds when it is full, from a day on; what was said before stays."""
    shown = get_object_or_404(queries.unit_list(), pk=pk)
    charges = list(shown.full_charges.select_related("by"))
    form = FullChargeForm(request.POST or None, person=request.user, first=not charges)

    def act(said: dict) -> str:
        found = actions.ChargeFound(**{name: said.pop(name) for name in FOUND})
        kept = actions.set_full_charge(shown, by=request.user, found=found, **said)
        messages.success(request, f"The full charge is kept from {said_day(kept.from_day)} on.")
        return back

    back = reverse("unit", args=[pk])
    more = {"unit": shown, "charges": charges[::-1]}
    return _answer(request, form, act, f"Full charge of {shown.title}", back, "units/full_charge_form.html", **more)


def _answer(
    request: HttpRequest,
    form: PremisesForm | MethodForm | FullChargeForm,
    act: Callable[[dict], str],
    heading: str,
    back: str,
    page: str = "units/customer_form.html",
    **more: object,
) -> HttpResponse:
    """The form, or where `act` leads once it took what was typed."""
    if form.is_valid():
        try:
            return redirect(act(form.cleaned_data))
        except Refused as refused:
            add_refused(form, refused)
    said = {"form": form, "heading": heading, "back": back, **more}
    return render(request, page, said, status=422 if form.errors else 200)


@everybody
def premises_choices(request: HttpRequest) -> HttpResponse:
    """A part of the unit form: the <option>s for the premises of the customer that is typed there."""
    customer = queries.customer_meant(" ".join(request.GET.get("customer", "")[:170].split()))
    found = queries.premises_choices(request.GET.get("premises", "")[:150], customer)
    return render(request, "units/_premises_choices.html", {"choices": found})
