"""How the records are kept, for the owner; and one word for a monitor."""

from django.contrib.auth.decorators import login_not_required
from django.db import Error
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.ledger.queries import head
from inventory.shop.access import owner
from shopledger.health.models import SlowPage
from shopledger.health.queries import failures, lines


@owner
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    said = {"lines": lines(), "failures": failures(), "slow": SlowPage.objects.all()[:30]}
    return render(request, "health/health.html", said)


@login_not_required
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """`ok` where the ledger can be read, 503 where it cannot. Says nothing else to nobody."""
    try:
        head()
    except (Error, TypeError):
        return HttpResponse("the ledger cannot be read\n", status=503, content_type="text/plain")
    return HttpResponse("ok\n", content_type="text/plain", headers={"Cache-Control": "no-store"})
