"""How long a bottle of oil has been open. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import add_months


def usable_until(opened_on: dt.date, months: int) -> dt.date:
    """The last day on which oil of a bottle opened that day is used: so many months later, the month's last day
    where that month is shorter."""
    return add_months(opened_on, months)


def is_too_old(opened_on: dt.date | None, months: int, day: dt.date) -> bool:
    """Whether it has been open longer; an unopened bottle never is."""
    return opened_on is not None and day > usable_until(opened_on, months)
