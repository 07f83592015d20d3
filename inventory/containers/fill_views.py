"""The picture of how full a container is."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from inventory.containers import queries
from inventory.containers.fullness import Fullness
from inventory.shop.access import everybody
from inventory.shop.clock import today


@everybody
def container_fill(request: HttpRequest, code: str) -> HttpResponse:
    drawn = Fullness(request.shop.rules, today()).picture(get_object_or_404(queries.containers(), code=code))
    if drawn is None:
        raise Http404
    return HttpResponse(drawn.svg("narrow" in request.GET), content_type="image/svg+xml")
