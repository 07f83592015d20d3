"""Who signed in, out, or tried to, as lines of the log. The address stands on each line (`shopledger.health.logs`)."""

import logging

from axes.signals import user_locked_out
from django.contrib.auth import get_user_model, user_logged_in, user_logged_out, user_login_failed
from django.db import DatabaseError
from django.http import HttpRequest

logger = logging.getLogger(__name__)


def connect() -> None:
    for signal, tell in (
        (user_logged_in, signed_in),
        (user_logged_out, signed_out),
        (user_login_failed, failed),
        (user_locked_out, shut_out),
    ):
        signal.connect(tell, dispatch_uid=f"log {tell.__name__}")


def signed_in(sender: object, request: HttpRequest | None, user: object, **_more: object) -> None:
    device = getattr(user, "otp_device", None)
    by = getattr(request, "signed_in_by", "") or (f"password and {device.name}" if device else "password")
    logger.info("signed in: %s, by %s, from %s", user.username, by, _from(request))


def signed_out(sender: object, request: HttpRequest | None, user: object, **_more: object) -> None:
    if user is not None:
        logger.info("signed out: %s", user.username)


def failed(sender: object, credentials: dict, request: HttpRequest | None = None, **_more: object) -> None:
    name = _known(str(credentials.get("username", "")))
    logger.warning("sign-in refused: %s, from %s", name, _from(request))


def pin_refused(request: HttpRequest, username: str, ended: bool) -> None:
    after = "; it is asked for no more there" if ended else ""
    logger.warning("PIN refused: %s, from %s%s", username, _from(request), after)


def everybody_out(request: HttpRequest, phone: object, count: int) -> None:
    logger.info("everybody out of a phone (%s): %s sign-ins ended, from %s", phone, count, _from(request))


def shut_out(sender: object, username: str = "", ip_address: str = "", **_more: object) -> None:
    logger.warning("shut out after too many wrong passwords: %s, from %s", _known(username or ""), ip_address)


def _known(name: str) -> str:
    """A name that nobody has may be a password in the wrong field."""
    try:
        return name if get_user_model().objects.filter(username=name).exists() else "a name nobody here has"
    except (DatabaseError, ValueError):  # ValueError: PostgreSQL takes no NUL
        return "a name that could not be looked up"


def _from(request: HttpRequest | None) -> str:
    return request.META.get("REMOTE_ADDR", "-") if request is not None else "-"
