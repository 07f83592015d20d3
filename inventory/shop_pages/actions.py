"""Changing what the shop says of itself."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.db.models import Max
from django.forms import ModelForm

from inventory.ledger.actions import writing
from inventory.ledger.clocks import tell_zone
from inventory.ledger.models import Seal
from inventory.measures.days import said_day
from inventory.shop.clock import now
from inventory.shop.models import Shop


def day_in(zone: str) -> dt.date:
    """What day it is in a time zone."""
    return now().astimezone(ZoneInfo(zone)).date()


def objection_to_zone(zone: str) -> str:
    """Why the shop's days cannot be cut in a time zone just now; blank where they can."""
    sealed, day = Seal.objects.aggregate(last=Max("through"))["last"], day_in(zone)
    if sealed is None or day > sealed:
        return ""
    return (
        f"In {zone} it is still {said_day(day)}, and all days up to {said_day(sealed)} are sealed: nothing could be "
        f"entered there. Change the time zone once it is {said_day(sealed + dt.timedelta(1))} there."
    )


def save_settings(form: ModelForm) -> str:
    """Keep the settings of a valid form; returns what follows from another time zone, blank where it is the same."""
    with writing() as ledger:
        before = Shop.objects.select_for_update().filter(id=1).values_list("timezone", flat=True).first()
        form.save()
        after = form.instance.timezone
        if before in {None, after}:
            return ""
        tell_zone(ledger.statements, before, after)
    return (
        f"Days are cut in {after} from now on, where it is {said_day(day_in(after))}; in {before} it is "
        f"{said_day(day_in(before))}. Entries and drafts keep the days that they were given, and sealed days stay "
        "sealed. Moments are shown in the new zone."
    )
