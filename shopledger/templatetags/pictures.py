"""Pictures on a page, each with its figures beside it. Every template has these tags without loading them."""

import datetime as dt
from typing import Protocol

from django import template
from django.template.context import Context
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.http import urlencode
from django.utils.safestring import SafeString

from inventory.containers.models import Scale
from inventory.counting.drift import drift
from inventory.paper.chart import HIGH, NARROW, WIDE
from inventory.shop.clock import today
from jobs.drafts.year import year_of_person, year_of_unit
from jobs.people.models import Person
from jobs.units.models import Unit
from shopledger.templatetags.shop import quantity

register = template.Library()


class Drawn(Protocol):
    """What `inventory.paper.chart.Picture` says of a picture."""

    title: str
    heads: tuple
    rows: list
    is_oil: bool
    alt: str
    height: float
    wide: float


@register.inclusion_tag("_picture.html", takes_context=True)
def picture(context: Context, shown: Drawn, src: str) -> dict[str, object]:
    """A picture and its figures, which open: `{% picture flow address %}`. src: where it is drawn."""
    return {
        "picture": shown,
        "src": src,
        "rows": format_html_join("", "<tr>{}</tr>", ((_cells(context, shown, row),) for row in shown.rows)),
    }


@register.inclusion_tag("_chart.html")
def chart(src: str, alt: str, height: float = HIGH, wide: float = WIDE) -> dict[str, object]:
    """A drawing, in the room that it will take: `{% chart address "What is seen." %}`. Units as in a `Picture`."""
    return {
        "src": src,
        "alt": alt,
        "narrow": f"{src}{'&' if '?' in src else '?'}narrow=1",
        "height": round(height),
        "wide": round(wide),
        "thin": round(NARROW),
    }


@register.inclusion_tag("_drift.html", takes_context=True)
def scale_over_time(context: Context, scale: Scale) -> dict[str, object]:
    """The differences of a scale over the last quarter, as a picture: `{% scale_over_time scale %}`."""
    last = today()
    first = last - dt.timedelta(days=92)
    asked = urlencode({"scale": scale.code, "first": first, "last": last})
    return {
        "shown": drift(scale, first, last),
        "address": f"{reverse('differences-over-time-chart')}?{asked}",
        "page": f"{reverse('differences-over-time')}?{asked}",
        "request": context["request"],
    }


@register.inclusion_tag("_year.html", takes_context=True)
def unit_year(context: Context, unit: Unit) -> dict[str, object]:
    """What was charged and recovered in a year: `{% unit_year unit %}`; nothing where nothing was."""
    address = reverse("unit-year", args=[unit.pk])
    return {"shown": year_of_unit(unit.pk, today()), "address": address, "request": context["request"]}


@register.inclusion_tag("_year.html", takes_context=True)
def person_year(context: Context, person: Person) -> dict[str, object]:
    """The same of the jobs that a person signed: `{% person_year person %}`."""
    address = reverse("person-year", args=[person.pk])
    return {"shown": year_of_person(person.pk, today()), "address": address, "request": context["request"]}


def _cells(context: Context, shown: Drawn, row: tuple) -> SafeString:
    cells = []
    for head, cell in zip(shown.heads, row, strict=True):
        said = "" if cell is None else quantity(context, cell, shown.is_oil) if isinstance(cell, int) else cell
        cells.append(("number" if isinstance(cell, int) else "", head, said))
    return format_html_join("", '<td class="{}" data-label="{}">{}</td>', cells)
