"""Counting in months of the calendar. Pure: no Django here."""

import calendar
import datetime as dt


def add_months(day: dt.date, months: int) -> dt.date:
    """The same day that many months on; the last of the month where it has no such day."""
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
