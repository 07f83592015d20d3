"""Months, quarters and the periods before them. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import add_months, last_of_month
from shopledger.reporting.report import Period


def month(day: dt.date) -> Period:
    return Period(day.replace(day=1), last_of_month(day))


def quarter(day: dt.date) -> Period:
    first = day.replace(month=(day.month - 1) // 3 * 3 + 1, day=1)
    return Period(first, last_of_month(add_months(first, 2)))


def presets(day: dt.date) -> list[tuple[str, Period]]:
    """Periods that are asked for often, by name."""
    this_month, this_quarter = month(day), quarter(day)
    return [
        ("This month", this_month),
        ("Last month", month(this_month.eve)),
        ("This quarter", this_quarter),
        ("Last quarter", quarter(this_quarter.eve)),
        ("This year", Period(day.replace(month=1, day=1), day.replace(month=12, day=31))),
    ]


def before(period: Period) -> Period:
    """As many days right before; whole months before whole months."""
    if period == Period(month(period.first).first, month(period.last).last):
        months = (period.last.year - period.first.year) * 12 + period.last.month - period.first.month + 1
        return Period(add_months(period.first, -months), period.eve)
    return Period(period.first - (period.last - period.eve), period.eve)


def year_before(period: Period) -> Period:
    """The same days a year earlier; 29 February is then 28."""
    first, last = add_months(period.first, -12), add_months(period.last, -12)
    return Period(first, last_of_month(last) if period.last == last_of_month(period.last) else last)
