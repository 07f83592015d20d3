"""What may be kept of an answer, where, and for whom: by caches nothing of what a person sees; by a phone what its
person wrote and could not send, sealed with that person's own key."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.crypto import salted_hmac
from django.utils.functional import LazyObject, empty

from shopledger.errors.views import fault

PERSON = "X-Person"


class CachingMiddleware:
    """The outermost one, so that it has the last word also about what the others answer by themselves.

    No cache keeps an answer: on a shared phone the next person would find it by Back, or in the browser's files. The
    exceptions are the same for everybody: static files, which WhiteNoise marks, and the worker's script. An answer
    to a person says whose it is, so that a phone gives what it keeps to nobody else.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not _is_the_same_for_everybody(request, response):
            response.headers["Cache-Control"] = "no-store"
        person = _known_person(request)
        if person is not None:
            response.headers[PERSON] = str(person)
        return response


def _is_the_same_for_everybody(request: HttpRequest, response: HttpResponse) -> bool:
    said = response.headers.get("Cache-Control", "")
    if request.path_info == reverse("worker"):
        return said == "no-cache"
    return request.path_info.startswith(settings.STATIC_URL) and "public" in said


def _known_person(request: HttpRequest) -> int | None:
    """Who is signed in, where that was asked already: this must not ask a database that may be what failed."""
    user = getattr(request, "user", None)
    if isinstance(user, LazyObject) and user._wrapped is empty:
        return None
    return getattr(user, "pk", None)


class OwnPersonMiddleware:
    """A page sends along whose it is. The cookie is the browser's and may be the next person's by now: what one
    wrote is never recorded as another's."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        whose = request.headers.get(PERSON)
        if whose is None or not request.user.is_authenticated or whose == str(request.user.pk):
            return self.get_response(request)
        return fault(
            request,
            409,
            "This page is another person's",
            "It was opened before somebody else signed in: somebody else is signed in on this device now.",
            "Nothing was recorded. Load the page anew.",
            with_navigation=False,
        )


def phone_key(person: object) -> str:
    """The key, 32 bytes in hexadecimal, that seals what a person's phone keeps until it is sent; then, with blanks
    between, those of before that still open it while the server's signing key is renewed. It is the same at each
    sign-in of that person to this ledger's server, stands in that person's pages alone, and is kept nowhere."""
    secrets = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    made = (salted_hmac("shopledger.home.phone_key", str(person.pk), one, algorithm="sha256") for one in secrets)
    return " ".join(one.hexdigest() for one in made)


def phone_context(request: HttpRequest) -> dict[str, object]:
    """`phone_key` in every template, for those who write on a phone."""
    user = getattr(request, "user", None)
    writes = user is not None and user.is_authenticated and not user.is_inspector
    return {"phone_key": phone_key(user) if writes else ""}
