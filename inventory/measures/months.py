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
