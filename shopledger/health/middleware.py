"""Keeps which pages were slow, so that the owner hears of it before the people in the bay complain."""

import logging
import time
from collections.abc import Callable

from django.db import DatabaseError, transaction
from django.http import HttpRequest, HttpResponse

SLOW_MS = 1500
KEPT = 200
logger = logging.getLogger("shopledger.slow")


class SlowPagesMiddleware:
    """The outermost one. A quick request costs two looks at the clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = self.get_response(request)
        took = round((time.perf_counter() - began) * 1000)
        if took >= SLOW_MS:
            match = request.resolver_match
            keep(match.url_name or match.route if match else "no page", request.method or "", took)
        return response


def keep(page: str, method: str, milliseconds: int) -> None:
    """Keep one slow request, and drop the oldest. A database that takes no writing keeps nothing."""
    from shopledger.health.models import SlowPage

    logger.warning("%s %s took %d ms", method, page, milliseconds)
    try:
        with transaction.atomic():
            made = SlowPage.objects.create(page=page[:60], method=method[:10], milliseconds=milliseconds)
            SlowPage.objects.filter(pk__lte=made.pk - KEPT).delete()
    except DatabaseError:
        return
