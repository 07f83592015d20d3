"""The pages of stock over time."""

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.ledger.models import Substance
from inventory.measures.months import add_months
from inventory.shop.access import everybody
from inventory.shop.clock import today
from inventory.supply.levels import picture

MONTHS = 12


def _span() -> tuple[dt.date, dt.date]:
    last = today()
    return add_months(last, -MONTHS), last


@everybody
def over_time(request: HttpRequest, pk: int) -> HttpResponse:
    """What there was of a substance day by day over the last year, beside what is enough."""
    shown = get_object_or_404(Substance, pk=pk)
    first, last = _span()
    said = {"substance": shown, "picture": picture(shown, first, last), "first": first, "last": last}
    return render(request, "inventory/over_time.html", said)


@everybody
def over_time_chart(request: HttpRequest, pk: int) -> HttpResponse:
    drawn = picture(get_object_or_404(Substance, pk=pk), *_span())
    return HttpResponse(drawn.svg("narrow" in request.GET), content_type="image/svg+xml")
