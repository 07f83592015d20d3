"""What day it is at the shop, and what moment it is."""

import datetime as dt

from django.utils import timezone

from inventory.shop.models import Shop


def now() -> dt.datetime:
    """This moment, UTC."""
    return timezone.now()


def today() -> dt.date:
    """The shop's calendar day."""
    return now().astimezone(Shop.current().zone).date()
