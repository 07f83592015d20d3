"""Whether a container may still be filled by the day of its retest. Pure: no Django here."""

import datetime as dt
from decimal import Decimal

from inventory.measures.months import last_of_month


def worn(first_tare_mg: int, tare_mg: int, percent: Decimal) -> bool:
    """Whether a container has lost so much of its tare, in percent, that it is tested before its day: rust or a part
    that is missing (49 CFR 180.209(c): 5 % or more). Equal counts."""
    return (first_tare_mg - tare_mg) * 100 >= first_tare_mg * percent


def may_fill(retest_due: dt.date | None, day: dt.date, through_month_end: bool = True) -> bool:
    """A container is filled up to and including its due day, or to the end of that month: a stamp often names only
    month and year (49 CFR 180.205(c) for such cylinders). Without a due day nothing is known, and it may."""
    if retest_due is None:
        return True
    if through_month_end:
        retest_due = last_of_month(retest_due)
    return day <= retest_due
