"""Counting in months of the calendar. Pure: no Django here."""

import calendar
import datetime as dt


def add_months(day: dt.date, months: int) -> dt.date:
    """The same day that many months on; the last of the month where it has no such day."""
    years, month = divmod(day.month - 1 + months, 12)
    last = last_of_month(dt.date(day.year + years, month + 1, 1))
    return last.replace(day=min(day.day, last.day))


def last_of_month(day: dt.date) -> dt.date:
    return day.replace(day=calendar.monthrange(day.year, day.month)[1])


def calendar_period(day: dt.date, months: int) -> tuple[dt.date, dt.date]:
    """The first and the last day of the period of so many months in which a day lies, counted from 1 January; months
    must go into twelve."""
    if 12 % months:
        raise ValueError(f"{months} months do not go into a year: write 1, 2, 3, 4, 6 or 12.")
    first = day.replace(month=(day.month - 1) // months * months + 1, day=1)
    return first, last_of_month(add_months(first, months - 1))
