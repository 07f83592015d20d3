"""Guessing, and what stands against it.

Every secret of a person is asked through `guess` (the password at sign-in through Django's backends, which count the
same): the password wherever it is asked again, the code of a device, a code on paper, a passkey's signature.

1. Five wrong ones for a name from one address within 15 minutes: nothing is looked at for that name from there until
   15 minutes have passed since the last, the right answer included (AXES_FAILURE_LIMIT, AXES_COOLOFF_TIME). Counted for
   name and address together, so nobody outside can shut a person out of the shop.
2. MOST_OF_A_DAY wrong ones for a name within a day, from wherever: then only addresses are listened to from which that
   person signed in within KNOWN_FOR. The shop's own address goes on working, so this shuts nobody out of it either; and
   a passkey, which nobody guesses, is taken from anywhere. (NIST SP 800-63B, 5.2.2, allows at most 100.)

An owner lets in again (page of the person); a device that makes codes waits longer after each wrong one besides.

A PIN is asked only on a phone where its person signed in in full that day, and five wrong ones end that
(`standing.py`). They count here for nothing, so that nobody shuts a colleague's password out by a colleague's PIN; nor
does a right one take a wrong password back, or make an address known.
"""

import datetime as dt
from collections.abc import Callable

from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_client_username, get_failure_limit
from axes.models import AccessFailureLog, AccessLog
from django.conf import settings
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest
from django.utils import timezone

from shopledger.signin.models import WrongGuess

MOST_OF_A_DAY = 50
A_DAY = dt.timedelta(days=1)
KNOWN_FOR = dt.timedelta(days=30)


class Handler(AxesDatabaseHandler):
    """Counts as django-axes does, and over all addresses beside it."""

    def user_logged_in(self, sender: object, request: HttpRequest, user: object, **kwargs: object) -> None:
        if getattr(request, "stands_on", None) is None:
            super().user_logged_in(sender, request, user, **kwargs)

    def is_locked(self, request: HttpRequest, credentials: dict | None = None) -> bool:
        return super().is_locked(request, credentials) or spread(request, get_client_username(request, credentials))

    def user_login_failed(self, sender: object, credentials: dict, request: HttpRequest | None = None, **kwargs):
        looked_at = request is not None and not self.is_locked(request, credentials)
        super().user_login_failed(sender, credentials, request, **kwargs)
        username = get_client_username(request, credentials) if request is not None else None
        if username and looked_at:
            WrongGuess.objects.filter(at__lte=timezone.now() - A_DAY).delete()
            WrongGuess.objects.create(username=username[:150])
        if request is not None and spread(request, username):
            request.axes_locked_out = True
            request.axes_credentials = credentials

    def reset_attempts(
        self, *, ip_address: str | None = None, username: str | None = None, ip_or_username: bool = False
    ) -> int:
        if username and not ip_address:
            WrongGuess.objects.filter(username=username).delete()
        return super().reset_attempts(ip_address=ip_address, username=username, ip_or_username=ip_or_username)

    def remove_out_of_limit_failure_logs(self, *, username: str, limit: int | None = None) -> int:
        """The oldest go; the order in which django-axes takes them is the database's own."""
        most = settings.AXES_ACCESS_FAILURE_LOG_PER_USER_LIMIT if limit is None else limit
        rows = AccessFailureLog.objects.filter(username=username).order_by("-id")
        return AccessFailureLog.objects.filter(pk__in=list(rows.values_list("pk", flat=True)[most:])).delete()[0]


def spread(request: HttpRequest, username: str | None) -> bool:
    """Whether a name is being guessed from everywhere, and this address is none of its person's."""
    if not username:
        return False
    now = timezone.now()
    if WrongGuess.objects.filter(username=username[:150], at__gt=now - A_DAY).count() < MOST_OF_A_DAY:
        return False
    here = {"username": username, "ip_address": request.axes_ip_address}
    return not AccessLog.objects.filter(**here, attempt_time__gt=now - KNOWN_FOR).exists()


def guess(request: HttpRequest, username: str, right: Callable[[], bool], *, by_key: bool = False) -> bool:
    """Whether the answer is right; counted where it is not. While nothing is looked at for this name from here,
    `right` is not called, and the page that is answered says so (AxesMiddleware). by_key: a signature, which is only
    kept from an address that failed itself."""
    credentials = {"username": username}
    if settings.AXES_ENABLED and _shut(request, credentials, by_key):
        request.axes_locked_out = True
        request.axes_credentials = credentials
        user_login_failed.send(sender=__name__, credentials=credentials, request=request)
        return False
    if right():
        return True
    user_login_failed.send(sender=__name__, credentials=credentials, request=request)
    return False


def _shut(request: HttpRequest, credentials: dict, by_key: bool) -> bool:
    if by_key:
        return AxesProxyHandler.get_failures(request, credentials) >= get_failure_limit(request, credentials)
    return not AxesProxyHandler.is_allowed(request, credentials)
