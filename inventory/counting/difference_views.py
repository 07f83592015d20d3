"""Finding where the grams went: differences, what they look like, and why they were."""

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from inventory.containers.models import Container
from inventory.counting import actions, causes, queries
from inventory.counting.difference_table import CUSTOMERS, DifferenceFilter, DifferenceTable, totals
from inventory.counting.forms import PeriodForm, ReasonForm, TareForm
from inventory.counting.whose import is_theirs
from inventory.ledger.models import stands
from inventory.measures.quantity import show
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.back import back_of
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.shop.lists import export, paged
from inventory.text.refusal import Refused

PER_PAGE = 50
MOST_WITHIN = 10  # groups: where there are more, those with nothing outside are folded


def period_of(request: HttpRequest) -> tuple[PeriodForm, dt.date, dt.date]:
    """The period that an address asks for; the last 92 days where it asks for none."""
    last = today()
    first = last - dt.timedelta(days=92)
    asked = request.GET if request.GET.keys() & {"first", "last"} else None
    form = PeriodForm(asked, initial={"first": first, "last": last})
    if form.is_valid():
        first, last = form.cleaned_data["first"] or first, form.cleaned_data["last"] or last
    return form, first, max(first, last)


def _grouped(key: str, first: dt.date, last: dt.date, theirs: bool) -> list[dict]:
    """The groups; a scale's and a place's each with its way to its differences over time."""
    found = queries.grouped(key, first, last, theirs)
    name = {"scale": "scale", "location": "place"}.get(key)
    for row in found if name else ():
        asked = {name: row["name"], "first": first, "last": last} | ({"whose": CUSTOMERS} if theirs else {})
        row["over_time"] = f"{reverse('differences-over-time')}?{urlencode(asked)}" if row["name"] else ""
    return found


@office
def differences(request: HttpRequest) -> HttpResponse:
    """What weighing could not explain, each with its reason; grouped, and what the groups look like. Of the shop's own,
    or, asked for, of customers' gas."""
    theirs = request.GET.get("whose") == CUSTOMERS
    last = today()
    first = last - dt.timedelta(days=92)
    if request.GET.get("open"):  # whatever their age: the notice that leads here counts them all
        oldest = queries.without_reason(theirs=theirs).order_by("day").first()
        first = min(first, oldest.day) if oldest else first
    listed = DifferenceFilter(request.GET, queries.differences(theirs=theirs), first, last)
    first, last = listed.days
    found = listed.qs if listed.is_valid() else queries.differences(first, last, theirs)
    answer = export(request, DifferenceTable(found, person=request.user), "differences")
    if answer is not None:
        return answer
    key = request.GET.get("by") if request.GET.get("by") in queries.KEYS else "container"
    groups = _grouped(key, first, last, theirs)
    shown = [row for row in groups if row["outside"] or len(groups) <= MOST_WITHIN]
    said = {
        "filter": listed,
        "first": first,
        "last": last,
        "table": paged(request, DifferenceTable(found, person=request.user), PER_PAGE, "differences"),
        "totals": totals(found) if listed.narrowed else [],
        "by": key,
        "groups": shown,
        "within": [row for row in groups if row not in shown],
        "patterns": causes.patterns(list(queries.seen(first, last, theirs).values())),
        "unexplained": [] if theirs else queries.unexplained(first, last),
        "theirs": theirs,
    }
    return render(request, "inventory/differences.html", said)


@office
def difference(request: HttpRequest, pk: int) -> HttpResponse:
    """One difference: what lies between the two weighings that bound it, what it looks like, and why it was."""
    shown = get_object_or_404(
        queries.explained().select_related("container__substance", "container__location", "scale", "voucher"), pk=pk
    )
    form = ReasonForm(request.POST or None, initial={"reason": shown.reason, "note": shown.reason_note})
    if form.is_valid():
        try:
            actions.explain(weighing_id=shown.pk, by=request.user.username, **form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, "The reason is kept.")
            return redirect(back_of(request) or reverse("difference", args=[shown.pk]))
    earlier = queries.weighing_before(shown)
    theirs = is_theirs(shown)
    seen = queries.seen(shown.day - dt.timedelta(days=92), max(shown.day, today()), theirs)
    known = causes.patterns(list(seen.values()))
    said = {
        "weighing": shown,
        "theirs": theirs,
        "earlier": earlier,
        "between": queries.between(shown, earlier),
        "form": form,
        "nearby": queries.at_that_time(shown, earlier)[:20],
        "likely": causes.of_one(seen[shown.pk], known) if shown.pk in seen else [],
        "explanations": shown.explanations.all(),
        "changes": shown.container.tare_changes.filter(stands("voucher__"))[:5],
    }
    return render(request, "inventory/difference.html", said, status=422 if form.errors else 200)


@office
def tare(request: HttpRequest, code: str) -> HttpResponse:
    shown = get_object_or_404(Container, code=code, void=False)
    form = TareForm(request.POST or None)
    now = show(shown.tare_mg, request.user.mass_unit) if shown.tare_mg else "not known"
    return act(
        request,
        form,
        lambda data: actions.correct_tare(code=code, tare_mg=data["tare_mg"], **form.head(request.user.username)),
        heading=f"Tare of {code}",
        back=reverse("container", args=[code]),
        done="The tare is changed.",
        intro=f"It is {now} by the book. The new one holds from the next weighing on.",
    )
