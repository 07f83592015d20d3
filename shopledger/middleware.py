"""What each request carries: the shop, its calendar, and plain sentences where something fails."""

import logging
from collections.abc import Callable

from django.conf import settings
from django.contrib.sessions.exceptions import SessionInterrupted
from django.contrib.sessions.middleware import SessionMiddleware
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.http.response import HttpResponseRedirect, HttpResponseRedirectBase
from django.shortcuts import redirect, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django.utils.http import urlencode
from django_htmx.http import HttpResponseClientRedirect

from inventory.containers.write_off import NeedsYes
from inventory.ledger.begun import OtherLedger, begin
from inventory.shop.clock import answer_in
from inventory.shop.models import Shop
from inventory.shop.once import SentAgain
from inventory.shop.turns import TooBusy
from inventory.text.refusal import Refused
from inventory.write_offs.actions import ask
from inventory.write_offs.models import WriteOff
from shopledger.errors import views as faults

logger = logging.getLogger(__name__)


class PatientSessionMiddleware(SessionMiddleware):
    """A session that cannot be written back takes nothing from the answer. On a full disk, one that can only be read or
    a replica, what is there can still be read, and the notice that was to be shown once is shown again. Of a sign-in
    that was ended meanwhile, the entry was recorded before: its answer says so, and the next page asks who it is.

    A cookie is taken from a browser only by the request that ended its session. One that asked under a session that is
    over may be answered late, when another person signed in on this phone: the cookie would be theirs."""

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        try:
            answer = super().process_response(request, response)
            taken = answer.cookies.get(settings.SESSION_COOKIE_NAME)
            if taken is not None and not taken.value and not request.session.modified:
                del answer.cookies[settings.SESSION_COOKIE_NAME]
            return answer
        except SessionInterrupted as interrupted:
            error: BaseException | None = interrupted
            while error is not None and not faults.is_away(error):
                error = error.__context__
            if error is None:
                logger.warning("The sign-in of this request was ended before its answer.", extra={"request": request})
            else:
                logger.error("A session could not be written: %s", error)
            return response


METHODS = ("GET", "HEAD", "POST", "OPTIONS")
ANSWERED_WITH = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    # The camera reads labels, a serial port or Bluetooth a scale; nothing else of the device is asked for.
    "Permissions-Policy": (
        "camera=(self), serial=(self), bluetooth=(self), microphone=(), geolocation=(), payment=(), usb=()"
    ),
}


class EveryAnswerMiddleware:
    """The outermost one: what each answer tells the browser, files and a monitor's too, and which methods there are."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method in METHODS:
            response = self.get_response(request)
        else:
            response = HttpResponseNotAllowed(METHODS, "This site has no such method.\n", content_type="text/plain")
            logger.warning("No such method at %s", request.path, extra={"request": request})
        for name, value in ANSWERED_WITH.items():
            response.headers.setdefault(name, value)
        if request.is_secure() and settings.SECURE_HSTS_SECONDS:
            response.headers.setdefault("Strict-Transport-Security", HSTS.format(settings.SECURE_HSTS_SECONDS))
        return response


HSTS = "max-age={}; includeSubDomains; preload"


class ShopMiddleware:
    """The innermost one: signing in was settled before, and the view is next.

    `request.shop` is read on first use. Views run in the shop's time zone.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # Not put back afterwards: a streamed export is written after this returns, and still needs the
        # shop's calendar. The next request on this thread starts here.
        timezone.deactivate()
        answer_in(None)
        begin(known=False)
        request.shop = SimpleLazyObject(Shop.current)
        response = self.get_response(request)
        if response.status_code == 405 and not response.content:
            allowed = response.headers.get("Allow", "")
            response = faults.not_that_way(request)
            response.headers["Allow"] = allowed
        if request.htmx and _asks_to_sign_in(response):
            # htmx would put the sign-in page into the part of the page that asked.
            here = urlencode({"next": request.htmx.current_url_abs_path or resolve_url("home")})
            response = HttpResponseClientRedirect(f"{reverse('sign-in')}?{here}")
        return response

    def process_view(self, request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        """Reached only by those who may see the page, so a visitor who must sign in costs no query."""
        if _holds_nul(request):
            return faults.unreadable(request, None)
        timezone.activate(request.shop.zone)
        answer_in(request.shop.zone)
        begin(known=request.method == "POST")
        return None

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, TooBusy):
            return faults.too_busy(request, exception)
        if isinstance(exception, SentAgain):
            return redirect(exception.page or "home")
        if isinstance(exception, Refused):
            return faults.refused(request, exception)
        if isinstance(exception, NeedsYes):
            return _waits(request, ask(exception))
        if isinstance(exception, OtherLedger):
            logger.error("At %s: %s", request.path, exception)
            return faults.restored_meanwhile(request)
        if faults.is_away(exception):
            logger.error("The database failed at %s", request.path, exc_info=exception)
            return faults.database_away(request)
        if isinstance(exception, IntegrityError):
            logger.error("Recorded twice at once at %s", request.path, exc_info=exception)
            return faults.at_once(request)
        return None


def _waits(request: HttpRequest, kept: WriteOff) -> HttpResponse:
    """To the page of what was not posted: it says what is waited for."""
    address = reverse("write-off", args=[kept.pk])
    return HttpResponseClientRedirect(address) if request.htmx else HttpResponseRedirect(address)


def _holds_nul(request: HttpRequest) -> bool:
    """No text has a NUL character, and PostgreSQL takes none: whoever sends one did not mean it."""
    sent = [request.path_info, *(value for _, values in request.GET.lists() for value in values)]
    if request.method == "POST":
        sent += (value for _, values in request.POST.lists() for value in values)
    return any("\0" in value for value in sent)


def _asks_to_sign_in(response: HttpResponse) -> bool:
    return isinstance(response, HttpResponseRedirectBase) and response.url.split("?")[0] == reverse("sign-in")


def shop_context(request: HttpRequest) -> dict[str, object]:
    """`shop` in every template; read from the database only where it is shown."""
    return {"shop": getattr(request, "shop", None)}
