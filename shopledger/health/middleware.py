"""Answers a monitor before anything else is asked, and keeps which pages were slow, so that the owner hears of it
before the people in the bay complain."""

import logging
import time
from collections.abc import Callable

from django.db import DatabaseError, transaction
from django.http import HttpRequest, HttpResponse

from shopledger.database import in_no_queue
from shopledger.health.views import healthz

SLOW_MS = 1500
KEPT = 200
logger = logging.getLogger("shopledger.slow")


class HealthMiddleware:
    """The outermost one. /healthz needs no session, no shop, no TLS and no host name of ours: a monitor asks from this
    machine. Any other request that is quick costs two looks at the clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info == "/healthz":
            return healthz(request)
        began = time.perf_counter()
        response = self.get_response(request)
        took = round((time.perf_counter() - began) * 1000)
        if took >= SLOW_MS:
            match = request.resolver_match
            keep(match.url_name or match.route if match else "no page", request.method or "", took)
        return response


def keep(page: str, method: str, milliseconds: int) -> None:
    """Keep one slow request, and drop the oldest. A database that takes no writing, or that others write to just now,
    keeps nothing: the page was slow enough."""
    from shopledger.health.models import SlowPage

    logger.warning("%s %s took %d ms", method, page, milliseconds)
    try:
        with in_no_queue(), transaction.atomic():
            made = SlowPage.objects.create(page=page[:60], method=method[:10], milliseconds=milliseconds)
            SlowPage.objects.filter(pk__lte=made.pk - KEPT).delete()
    except DatabaseError:
        return
