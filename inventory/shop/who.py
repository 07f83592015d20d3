"""Who acts: known from the page's request. A command, and the site's own background work, act as the command line."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.http import HttpRequest, HttpResponse

COMMANDS = "command line"
_request: ContextVar[HttpRequest | None] = ContextVar("who_request", default=None)


class WhoMiddleware:
    """Remembers whose request this is, until it is answered."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with answering(request):
            return self.get_response(request)


@contextmanager
def answering(request: HttpRequest | None) -> Iterator[None]:
    """Inside this it is that request which is answered; None: what is done belongs to no page's form."""
    token = _request.set(request)
    try:
        yield
    finally:
        _request.reset(token)


def request_at_hand() -> HttpRequest | None:
    """The request that is answered now; None of a command and of background work."""
    return _request.get()


def who() -> str:
    """The username that acts now."""
    request = _request.get()
    user = getattr(request, "user", None)
    return user.username if user is not None and user.is_authenticated else COMMANDS


def known_user(request: HttpRequest | None = None) -> str:
    """The username of the request at hand where it was read already, else nothing: for the log, which must not ask
    a database that may be what failed."""
    user = getattr(request or _request.get(), "_cached_user", None)
    return getattr(user, "username", "")


def whence(request: HttpRequest | None = None) -> str:
    """The address that the request at hand came from, else nothing."""
    request = request or _request.get()
    return request.META.get("REMOTE_ADDR", "") if request is not None else ""
