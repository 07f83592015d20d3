"""The pictures of a unit's and of a technician's year."""

from django.http import Http404, HttpRequest, HttpResponse

from inventory.shop.access import everybody, role_required
from inventory.shop.clock import today
from jobs.drafts.year import Picture, year_of_person, year_of_unit


def _drawn(request: HttpRequest, picture: Picture | None) -> HttpResponse:
    if picture is None:
        raise Http404
    return HttpResponse(picture.svg("narrow" in request.GET), content_type="image/svg+xml")


@everybody
def unit_year(request: HttpRequest, pk: int) -> HttpResponse:
    return _drawn(request, year_of_unit(pk, today()))


@role_required("owner")
def person_year(request: HttpRequest, pk: int) -> HttpResponse:
    return _drawn(request, year_of_person(pk, today()))
