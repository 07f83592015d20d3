"""Which days can be entered: one rule for every form, file and action. Pure: no Django here.

A year that slipped (1926 for 2026, 2206 for 2026) is refused with the day that was meant, where it can be told. The
bounds are common practice, no source:

- FIRST_ENTRY: what a shop did with refrigerant. The first duties to record it, and the gases that it is recorded of
  since, came about 1990; no log is older.
- FIRST_MADE: what stands, is stamped or was issued long ago: a unit, a cylinder, a certificate. Vapour compression in
  shops, and papers about it, are not older than the century.
- YEARS_AHEAD: what falls due. No certificate, retest or check is given for longer; what does not end is left blank.
"""

import datetime as dt
import re

ISO = re.compile(r"(?<![\w-])(\d{4})-(\d\d)-(\d\d)(?![\w-])")
FIRST_ENTRY = dt.date(1990, 1, 1)
FIRST_MADE = dt.date(1900, 1, 1)
YEARS_AHEAD = 50


def said_day(day: dt.date) -> str:
    """A day as pages and sentences have it, e.g. `2 Mar 2026`."""
    # Not strftime("%-d"): Windows has no such code, and %Y drops the zeros of a year that was mistyped, on some.
    return f"{day.day} {day.strftime('%b')} {day.year:04}"


def said_days(words: str) -> str:
    """A text that is kept, or compared, with its days as 2026-03-02, as a page says it: `by 2 Mar 2026`. What only
    looks like a day stays."""
    return ISO.sub(_said, words)


def _said(found: re.Match) -> str:
    try:
        return said_day(dt.date(*map(int, found.groups())))
    except ValueError:
        return found[0]


def last_day(from_day: dt.date) -> dt.date:
    """The last day that anything falls due on."""
    return from_day.replace(year=from_day.year + YEARS_AHEAD, day=min(from_day.day, 28))


def objection(day: dt.date, first: dt.date, now: dt.date, *, due: bool = False) -> str:
    """Why no such day can be entered, with the one that was meant where it can be told; blank where it can be.
    now: the shop's day. due: it may be still to come."""
    if day < first:
        said = f"{said_day(day)} is before {first.year}; check the year."
    elif day > last_day(now):
        said = f"{said_day(day)} is more than {YEARS_AHEAD} years from now; check the year."
    else:
        return ""
    meant = _meant(day)
    likely = meant is not None and first <= meant <= (last_day(now) if due else now)
    return f"{said} Did you mean {said_day(meant)}?" if likely else said


def _meant(day: dt.date) -> dt.date | None:
    """The same day of this century."""
    try:
        return day.replace(year=2000 + day.year % 100)
    except ValueError:  # 29 February
        return None
