"""The page about the leak rate of a unit and what followed an excess, and the paper of it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.text import get_valid_filename

from inventory.measures.quantity import show
from inventory.shop.access import everybody
from inventory.shop.clock import now, today
from jobs.leaks.case_queries import leaks_of
from jobs.leaks.case_told import Told, told
from jobs.leaks.queries import all_events_of
from jobs.people.models import Person
from jobs.sheet.leak_sheet import leak_sheet
from jobs.units.models import Unit
from jobs.units.queries import unit_list


def told_of(request: HttpRequest, unit: Unit) -> Told:
    """The leak rates and cases of a unit today, in the units of who asks."""
    person: Person = request.user
    (leaks,) = leaks_of([unit], request.shop.rules, today())
    return told(leaks, request.shop.rules, today(), lambda mg: show(mg, person.mass_unit), all_events_of(unit))


@everybody
def unit_leaks(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(unit_list(), pk=pk)
    return render(request, "units/leaks.html", {"unit": shown, "told": told_of(request, shown)})


@everybody
def unit_leaks_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(unit_list(), pk=pk)
    made = leak_sheet(shown, told_of(request, shown), by=request.user, at=now())
    answer = HttpResponse(made, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="leaks-{get_valid_filename(shown.code)}.pdf"'
    return answer
