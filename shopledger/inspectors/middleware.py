"""What an inspector's sign-in reaches: the pages made for it, and nothing else, whatever is added to the site."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth import logout
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from inventory.ledger.actions import writing
from inventory.shop.clock import today
from shopledger.inspectors.models import InspectorAccess, Look

ALWAYS = {"sign-out", "sign-in", "worker"}


class InspectorMiddleware:
    """After signing in is settled. For everybody else it does nothing."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        user = request.user
        if not user.is_authenticated or user.role != "inspector":
            return None
        name = request.resolver_match.url_name or ""
        if name in ALWAYS:
            return None
        access = InspectorAccess.objects.filter(person=user).first()
        if access is None or not access.open_on(today()):
            logout(request)
            messages.info(request, "This access has ended. The shop's owner can issue another.")
            return redirect("sign-in")
        if getattr(request, "setting_up", False):
            return None  # only what sets up a second factor is let this far
        may = name == "inspect" or name.startswith("inspect-")
        path = request.get_full_path()[:500]
        with writing():
            Look.objects.create(access=access, method=request.method[:10], path=path, allowed=may or name == "home")
        if name == "home":
            return redirect("inspect")
        if not may or request.method not in {"GET", "HEAD"}:
            raise PermissionDenied
        request.inspection = access
        return None
