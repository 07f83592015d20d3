"""Before each page: whether this sign-in still stands, whether its person must set up a second factor first, and
whether the page asks to prove again who it is."""

from collections.abc import Callable
from urllib.parse import urlsplit

from django.contrib import messages
from django.contrib.auth import logout
from django.db import DatabaseError, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django_htmx.http import HttpResponseClientRedirect

from shopledger.database import in_no_queue
from shopledger.errors.views import came_from
from shopledger.signin import notices, opened, standing
from shopledger.signin.models import SignIn

# What a person reaches who must set up a second factor before anything else.
SETTING_UP = {
    "second-factor",
    "passkey-new-asked",
    "passkey-new",
    "paper-codes",
    "prove-again",
    "sign-out",
    "sign-in",
    "people-here",
    "pin-sign-in",
    "somebody-else",
    "everybody-out",
    "touched",
    "worker",
}
# What changes a way of signing in, or ends sign-ins; lets somebody in, or to more than before; says of whom a second
# factor is demanded and what one person may write off; cannot be undone. Whoever finds a phone that lies open cannot do
# it.
ASKS_AGAIN = {
    "second-factor",
    "passkey-new-asked",
    "passkey-new",
    "passkey-remove",
    "paper-codes",
    "pin",
    "pin-remove",
    "person-pin-remove",
    "sign-in-end",
    "person-sign-in-end",
    "person-let-in",
    "person-password",
    "person-new",
    "person-edit",
    "inspectors",
    "settings",
    "seal",
    "erase",
}
BY_ITSELF = {"job-version", "log", "bundle", "touched"}  # a page that looks by itself whether there is something new
# Open to who is not signed in, and yet the page of a person where there is one: whether their sign-in stands is asked.
OF_BOTH = {"sign-in", "people-here", "pin-sign-in", "somebody-else", "everybody-out"}
NOTED = 60  # seconds: a use is noted once in so many
NOTED_WHERE_IT_LOCKS = 15


class SignInMiddleware:
    """Right before LoginRequiredMiddleware: a sign-in that was ended is sent to the sign-in page by that."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.sign_in_stands = lambda: _stands(request)
        response = self.get_response(request)
        standing.tell_browser(request, response)
        return response

    def process_view(self, request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        name = request.resolver_match.url_name or ""
        if not getattr(view, "login_required", True) and name not in OF_BOTH:
            return None
        if not request.user.is_authenticated:
            return None
        here = opened.find(request)
        if here is None:
            logout(request)
            return None
        request.sign_in = here
        _note_use(request, here, name)
        if (here.newest or 0) > here.told and request.method == "GET" and not request.htmx:
            notices.tell(request, here)
        request.setting_up = not here.has_factor and request.user.role in request.shop.second_factor_roles
        if request.setting_up and name not in SETTING_UP:
            return _sent_to(request, reverse("second-factor"))
        within = opened.FRESH if request.method in {"GET", "HEAD"} else opened.TO_SEND
        if name in ASKS_AGAIN and not opened.is_fresh(here, within):
            return _asked_again(request)
        return None


def _stands(request: HttpRequest) -> bool:
    """Asked by a page of a fault, which may be made before `process_view`."""
    return not request.user.is_authenticated or hasattr(request, "sign_in") or opened.find(request) is not None


def _note_use(request: HttpRequest, here: SignIn, name: str) -> None:
    """A database that takes no writing, or that others write to just now, notes the next."""
    now, noted = timezone.now(), NOTED_WHERE_IT_LOCKS if here.locks_after else NOTED
    if (now - here.last_used).total_seconds() < noted or (name in BY_ITSELF and request.headers.get("HX-Request")):
        return
    address = opened.get_client_ip_address(request) or None
    try:
        with in_no_queue(), transaction.atomic():
            SignIn.objects.filter(pk=here.pk).update(
                last_used=now, address=address, session=opened.digest(request.session.session_key)
            )
    except DatabaseError:
        return


def _asked_again(request: HttpRequest) -> HttpResponse:
    if request.method == "GET":
        back = request.get_full_path()
    else:
        messages.info(request, "Nothing was changed yet: prove who you are, then press it again.")
        back = _page_of_the_form(request)
    return _sent_to(request, f"{reverse('prove-again')}?{urlencode({'next': back})}")


def _page_of_the_form(request: HttpRequest) -> str:
    """Its address on this site, without the site; of a form that is sent to its own page, that."""
    if request.headers.get("Referer") == request.build_absolute_uri():
        return request.get_full_path()
    page = urlsplit(came_from(request) or reverse("home"))
    return f"{page.path}?{page.query}" if page.query else page.path


def _sent_to(request: HttpRequest, address: str) -> HttpResponse:
    return HttpResponseClientRedirect(address) if request.htmx else redirect(address)
