"""Days that are refused, by the rule of `measures/days.py` and the shop's calendar."""

import datetime as dt

from inventory.measures.days import FIRST_ENTRY, objection, said_day
from inventory.shop.clock import today
from inventory.text.refusal import Refused


def happened(day: dt.date, field: str = "day", *, first: dt.date = FIRST_ENTRY, still_to_come: str = "") -> None:
    """Refuse the day of something that cannot have been done on it. still_to_come: what is said of a later one."""
    now = today()
    said = objection(day, first, now)
    if day > now:
        said = still_to_come or said or f"{said_day(day)} has not come yet; date it today or earlier."
    if said:
        raise Refused(said, field)


def may_be_due(day: dt.date | None, field: str, *, first: dt.date = FIRST_ENTRY) -> None:
    """Refuse the day on which something cannot end or fall due. None: it does not."""
    said = objection(day, first, today(), due=True) if day is not None else ""
    if said:
        raise Refused(said, field)
