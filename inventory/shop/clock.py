"""What day it is at the shop, and what moment it is."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from zoneinfo import ZoneInfo

from django.utils import timezone

from inventory.shop.models import Shop

# Of the request that is being answered: it asks for the shop once.
_zone: ContextVar[ZoneInfo | None] = ContextVar("zone", default=None)


def answer_in(zone: ZoneInfo | None) -> None:
    """While this request is answered, days are those of this zone; None: the shop is asked each time."""
    _zone.set(zone)


@contextmanager
def one_zone() -> Iterator[None]:
    """While an act is recorded, the shop is asked for its time zone once."""
    token = _zone.set(zone())
    try:
        yield
    finally:
        _zone.reset(token)


def zone() -> ZoneInfo:
    """The shop's time zone."""
    return _zone.get() or Shop.current().zone


def now() -> dt.datetime:
    """This moment, UTC."""
    return timezone.now()


def today() -> dt.date:
    """The shop's calendar day."""
    return now().astimezone(zone()).date()


def on_day(at: dt.datetime, day: dt.date) -> dt.datetime | None:
    """A moment, where it was on this day at the shop."""
    return at if at.astimezone(zone()).date() == day else None
