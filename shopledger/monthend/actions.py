"""Leaving something open at a month's end, with the reason."""

import datetime as dt
from collections.abc import Sequence

from django.utils import timezone

from inventory.ledger.actions import stated
from inventory.shop.once import recorded
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from shopledger.monthend.models import LeftOpen


@stated
def leave_open(*, month: dt.date, step: str, things: Sequence[str], why: str, by: str) -> int:
    """Say why these stay open in a month; returns how many were not left before. month: any day of it. The same form
    says it once. Raises Refused where nothing is named, no reason given, or all of it was said before."""
    if recorded() is not None:
        return 0
    why = clean(why, "why", 300)
    if not things:
        raise Refused("Tick at least one of them.", "things")
    if not why:
        raise Refused("Say why they stay open, e.g. not used since it was weighed last.", "why")
    first = month.replace(day=1)
    known = {one.thing: one.called for one in LeftOpen.objects.filter(month=first, step=step, thing__in=things)}
    left = [one for one in dict.fromkeys(things) if one not in known]
    if not left:
        which = ", ".join(sorted(known.values())[:5])
        raise Refused(f"{which}: why it stays open this month is said already; see the month's page.")
    for thing in left:
        LeftOpen.objects.create(month=first, step=step, thing=thing, why=why, by=by, at=timezone.now())
    return len(left)
