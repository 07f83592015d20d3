"""Months, quarters and the periods before them. Pure: no Django here."""

import datetime as dt

from shopledger.reporting.report import Period


def month(day: dt.date) -> Period:
    first = day.replace(day=1)
    following = (first + dt.timedelta(days=32)).replace(day=1)
    return Period(first, following - dt.timedelta(days=1))


def quarter(day: dt.date) -> Period:
    first = day.replace(month=(day.month - 1) // 3 * 3 + 1, day=1)
    return Period(first, month(first + dt.timedelta(days=70)).last)


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
        first = period.first
        for _ in range(months):
            first = month(first - dt.timedelta(days=1)).first
        return Period(first, period.eve)
    return Period(period.first - (period.last - period.eve), period.eve)


def year_before(period: Period) -> Period:
    """The same days a year earlier; 29 February is then 28."""

    def back(day: dt.date) -> dt.date:
        try:
            return day.replace(year=day.year - 1)
        except ValueError:
            return day.replace(year=day.year - 1, day=28)

    first, last = back(period.first), back(period.last)
    whole = period.last == month(period.last).last
    return Period(first, month(last).last if whole else last)
