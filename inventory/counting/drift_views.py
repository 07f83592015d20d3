"""The pages of differences over time, of one scale or at one place."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.containers.models import Location, Scale
from inventory.counting.difference_table import CUSTOMERS
from inventory.counting.difference_views import period_of
from inventory.counting.drift import drift
from inventory.shop.access import office


def _asked(request: HttpRequest) -> Scale | Location:
    """The scale, by its code, or the place, by its name, that the address asks for."""
    scale, place = request.GET.get("scale", ""), request.GET.get("place", "")
    found = Scale.objects.filter(code=scale).first() if scale else Location.objects.filter(name=place).first()
    if found is None:
        raise Http404
    return found


@office
def over_time(request: HttpRequest) -> HttpResponse:
    """Each weighing of a scale, or of what stands at a place, with its difference and what weighing explains of it."""
    of = _asked(request)
    form, first, last = period_of(request)
    theirs = request.GET.get("whose") == CUSTOMERS
    said = {"form": form, "first": first, "last": last, "of": of, "theirs": theirs}
    said |= {"is_scale": isinstance(of, Scale), "picture": drift(of, first, last, theirs)}
    return render(request, "inventory/differences_over_time.html", said)


@office
def over_time_chart(request: HttpRequest) -> HttpResponse:
    _, first, last = period_of(request)
    drawn = drift(_asked(request), first, last, request.GET.get("whose") == CUSTOMERS)
    if drawn is None:
        raise Http404
    return HttpResponse(drawn.svg("narrow" in request.GET), content_type="image/svg+xml")
