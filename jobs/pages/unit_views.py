"""Pages about customers and units. Everybody who works here may enter and change both."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.http import urlencode

from inventory.reference.oils import common_oils
from inventory.shop.access import everybody
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.shop.lists import export, paged
from inventory.text.refusal import Refused
from jobs.drafts.queries import visits_of
from jobs.leaks.case_queries import open_cases
from jobs.leaks.case_told import Told
from jobs.leaks.notices import unit_notices
from jobs.leaks.queries import all_events_of, check_of, checks_due
from jobs.pages.leak_case_views import told_of
from jobs.units import actions, queries
from jobs.units import vin as vins
from jobs.units.forms import CHARGES, CustomerForm, SearchForm, UnitForm
from jobs.units.models import YEARS, Customer, Unit
from jobs.units.systems import system_of
from jobs.units.tables import CustomerTable, UnitTable, charge_text

CASES = 100  # of open ones, the most pressing
EVENTS = 10  # about leaks, on the unit's page; the rest has a page of its own
UNIT_FIELDS = tuple(name for name in actions.UnitFields.__annotations__ if name != "customer")


def _searched(request: HttpRequest, label: str) -> tuple[SearchForm, str]:
    form = SearchForm(request.GET, label=label)
    return form, form.cleaned_data["text"] if form.is_valid() else ""


@everybody
def units(request: HttpRequest) -> HttpResponse:
    form, text = _searched(request, "Plate, VIN, description or customer")
    table = UnitTable(queries.find_units(text), mass_unit=request.user.mass_unit)
    answer = export(request, table, "units")
    if answer is not None:
        return answer
    return render(
        request,
        "units/units.html",
        {
            "table": paged(request, table, name="units"),
            "form": form,
            "text": text,
            "new_address": new_unit_address(text),
        },
    )


@everybody
def unit(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(queries.unit_list(), pk=pk)
    events = list(all_events_of(shown)[: EVENTS + 1])
    mine = request.user.pk if request.user.is_technician else None  # others' jobs are not shown to a technician
    return render(
        request,
        "units/unit.html",
        {
            "unit": shown,
            "system": system_of(shown),
            "charge": charge_text(shown, request.user.mass_unit),
            "notices": unit_notices(shown),
            "history": [(visit, mine in {None, visit.technician_id}) for visit in visits_of(pk, 20)],
            "check": _check(shown, request),
            "full_charges": list(shown.full_charges.select_related("by"))[::-1],
            "events": events[:EVENTS],
            "more_events": len(events) > EVENTS,
            "leaks": _leaks(shown, request),
        },
    )


@everybody
def unit_new(request: HttpRequest) -> HttpResponse:
    about = {"person": request.user, "binds": request.shop.rules.binds}
    form = UnitForm(request.POST or None, initial=_from_address(request), **about)
    if form.is_valid():
        try:
            added = actions.add_unit(by=request.user, **form.cleaned_data)
        except Refused as refused:
            _add_refused(form, refused)
        else:
            messages.success(request, f"{added.title} is entered as {added.code}.")
            if request.GET.get("then") == "job":  # came from starting one
                return redirect(f"{reverse('job-new')}?{urlencode({'text': added.code})}")
            return redirect("unit", added.pk)
    return _unit_page(request, form, "New unit")


@everybody
def unit_edit(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(queries.unit_list(), pk=pk)
    kept = {name: getattr(shown, name) for name in UNIT_FIELDS}
    kept["exactly"] = shown.entered_as if shown.exactly else ""
    kept["premises"] = shown.premises.name if shown.premises else ""
    kept["customer"] = queries.customer_text(shown.customer)
    about = {"person": request.user, "binds": request.shop.rules.binds}
    form = UnitForm(request.POST or None, initial=kept, beside=pk, **about)
    if form.is_valid():
        given = {name: form.cleaned_data[name] for name in kept if name in form.cleaned_data}
        try:
            changed = actions.change_unit(shown, by=request.user, **given)
        except Refused as refused:
            _add_refused(form, refused)
        else:
            messages.success(request, f"{changed.title} is saved.")
            return redirect("unit", pk)
    return _unit_page(request, form, f"Change {shown.title}", shown)


def new_unit_address(text: str, *, then_job: bool = False) -> str:
    """Where a search leads that did not find the unit: to the form, with what was typed as plate or VIN.
    then_job: from there back to starting a job."""
    given = {}
    if text:
        given["vin" if len(vins.normalized(text)) == vins.LENGTH else "plate"] = text[:40]
    if then_job:
        given["then"] = "job"
    return f"{reverse('unit-new')}?{urlencode(given)}" if given else reverse("unit-new")


def _from_address(request: HttpRequest) -> dict[str, str]:
    """What a page that leads here knows already: a customer, or a plate or VIN that was searched for."""
    given = {name: request.GET[name][:40] for name in ("plate", "vin") if name in request.GET}
    number = request.GET.get("customer", "")
    if number.isascii() and number.isdigit() and len(number) < 19:
        given["customer"] = queries.customer_text(Customer.objects.filter(pk=int(number)).first())
    return given


def _add_refused(form: UnitForm, refused: Refused) -> None:
    if not isinstance(refused, actions.VinTaken):
        add_refused(form, refused)
        return
    link = format_html('<a href="{}">{}</a>', reverse("unit", args=[refused.unit.pk]), refused.unit)
    form.add_error(
        "vin",
        format_html(
            "The VIN {} belongs to {} ({}) already. Open that unit, or correct the VIN.",
            refused.unit.vin,
            refused.unit.code,
            link,
        ),
    )


def _unit_page(request: HttpRequest, form: UnitForm, heading: str, shown: Unit | None = None) -> HttpResponse:
    back = reverse("unit", args=[shown.pk]) if shown else reverse("units")
    premises = queries.premises_choices("", queries.customer_meant(str(form["customer"].value() or "")[:170]))
    said = {"form": form, "heading": heading, "back": back, "unit": shown, "oils": common_oils(), "premises": premises}
    return render(request, "units/unit_form.html", said, status=422 if form.errors else 200)


@everybody
def unit_vin_scanned(request: HttpRequest) -> JsonResponse:
    """The VIN of a bar code that a camera read, or the sentence why it is none."""
    try:
        return JsonResponse({"vin": vins.scanned(request.GET.get("text", "")[:60])})
    except Refused as refused:
        return JsonResponse({"why": refused.message})


@everybody
def unit_vin(request: HttpRequest) -> HttpResponse:
    """A part of the form: what is to be said about the VIN typed so far."""
    vin = vins.normalized(request.GET.get("vin", "")[:40])
    year = _year(request)
    other = Unit.objects.filter(vin=vin).first() if vin else None
    if other and str(other.pk) == request.GET.get("beside"):
        other = None
    doubts = vins.warnings(vin, year)
    named = vins.model_year(vin) if year is None and not doubts else None
    return render(request, "units/_vin.html", {"other": other, "doubts": doubts, "year": named})


@everybody
def unit_suggestion(request: HttpRequest) -> HttpResponse:
    """A part of the form: the label charges that like units here have; with `take`, the fields filled with one."""
    beside = request.GET.get("beside", "")
    known = beside.isascii() and beside.isdigit() and len(beside) < 19
    suggestions = queries.suggested_labels(
        request.GET.get("make", "")[:60],
        request.GET.get("model", "")[:60],
        _year(request),
        request.GET.get("refrigerant", "")[:40],
        beside=Unit.objects.filter(pk=int(beside)).first() if known else None,
    )
    take = request.GET.get("take", "")
    if take in {str(place) for place in range(len(suggestions))}:
        taken = suggestions[int(take)]
        form = UnitForm(person=request.user, initial={name: getattr(taken, name) for name in CHARGES})
        return render(request, "units/_charges.html", {"form": form, "taken": taken})
    unit_shown = request.user.mass_unit
    texts = [(charge_text(Unit(**_charges(one)), unit_shown), one) for one in suggestions]
    return render(request, "units/_suggestion.html", {"suggestions": texts, "query": request.GET.urlencode()})


def _charges(suggestion: queries.LabelSuggestion) -> dict[str, int | None]:
    return {name: getattr(suggestion, name) for name in CHARGES}


def _year(request: HttpRequest) -> int | None:
    text = request.GET.get("year", "").strip()
    if text.isascii() and text.isdigit() and len(text) == 4 and YEARS[0] <= int(text) <= YEARS[1]:
        return int(text)
    return None


@everybody
def customers(request: HttpRequest) -> HttpResponse:
    form, text = _searched(request, "Name, code, phone or address")
    table = CustomerTable(queries.find_customers(text))
    answer = export(request, table, "customers")
    if answer is not None:
        return answer
    said = {"table": paged(request, table, name="customers"), "form": form, "text": text}
    return render(request, "units/customers.html", said)


@everybody
def customer(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Customer, pk=pk)
    table = UnitTable(
        queries.unit_list().filter(customer=shown), mass_unit=request.user.mass_unit, exclude=("customer",)
    )
    said = {"customer": shown, "table": paged(request, table), "premises": list(queries.premises_of(shown))}
    return render(request, "units/customer.html", said)


@everybody
def customer_new(request: HttpRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None)
    if form.is_valid():
        try:
            added = actions.add_customer(by=request.user, **form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{added.name} is entered.")
            return redirect("customer", added.pk)
    return _customer_page(request, form, "New customer", reverse("customers"))


@everybody
def customer_edit(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Customer, pk=pk)
    fields = ("name", "phone", "address", "note")
    form = CustomerForm(request.POST or None, initial={name: getattr(shown, name) for name in fields})
    if form.is_valid():
        given = {name: form.cleaned_data[name] for name in fields}
        try:
            changed = actions.change_customer(shown, by=request.user, **given)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{changed.name} is saved.")
            return redirect("customer", pk)
    return _customer_page(request, form, f"Change {shown.name}", reverse("customer", args=[pk]))


def _customer_page(request: HttpRequest, form: CustomerForm, heading: str, back: str) -> HttpResponse:
    said = {"form": form, "heading": heading, "back": back}
    return render(request, "units/customer_form.html", said, status=422 if form.errors else 200)


@everybody
def customer_choices(request: HttpRequest) -> HttpResponse:
    """A part of the unit form: the <option>s for what has been typed of a customer's name."""
    text = request.GET.get("customer", "")[:100].strip()
    found = queries.customer_choices(text) if text else []
    return render(request, "units/_customer_choices.html", {"choices": found})


def _check(shown: Unit, request: HttpRequest):
    """The check for leaks that is due on a unit; None where its rulebook asks for none of its kind."""
    if shown.is_car:
        return None
    found = check_of(shown, request.shop.rules, today())
    return found if found.is_asked else None


def _leaks(shown: Unit, request: HttpRequest) -> Told | None:
    """Its leak rate and the cases of it; None where no rule limits it."""
    if shown.is_car:
        return None
    found = told_of(request, shown)
    return found if found.says_something else None


@everybody
def leak_checks(request: HttpRequest) -> HttpResponse:
    """Units that are checked for leaks regularly, the most pressing first; before the first page, leaks that are to be
    repaired."""
    page = Paginator(checks_due(request.shop.rules, today()), 50).get_page(request.GET.get("page"))
    cases = open_cases(request.shop.rules, today())[:CASES] if page.number == 1 else []
    return render(request, "units/leak_checks.html", {"page": page, "cases": cases, "book": request.shop.rules})
