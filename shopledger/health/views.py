"""The owner's page on how the records are kept, and the word for a monitor."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from inventory.shop.access import owner
from shopledger import background
from shopledger.health import actions, queries


@login_not_required
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """ok with 200, or not ok with 503: nothing else is told to whoever asks."""
    alive = queries.alive()
    return HttpResponse("ok\n" if alive else "not ok\n", "text/plain; charset=utf-8", 200 if alive else 503)


@owner
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    return render(request, "health/health.html", {"health": queries.health()})


@owner
@require_POST
def clocks_seen(request: HttpRequest) -> HttpResponse:
    actions.clocks_seen(request.user.username)
    messages.success(request, "Noted as seen. The trail tells of it from now on.")
    return redirect("health")


@owner
def health_verify(request: HttpRequest) -> HttpResponse:
    """Prove the ledger beside the pages; its outcome then stands on the page."""
    if request.method == "POST":
        background.start("verify")
        messages.success(request, "The ledger is being proved. Reload this page in a moment for what was found.")
    return redirect("health")
