"""When a container is checked for leaks again. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import calendar_period
from inventory.reference.period_rules import PERIODS, ContainerCheck
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict

READING = "“Every {period}” is read as every {period} of the calendar; the text names no day."


def container_checked(rules: Rulebook, kind: str, since: dt.date, last: dt.date | None, day: dt.date) -> Verdict:
    """Whether a container is to be checked for leaks. since: the day it came; last: of its last check, None: never.

    Met: checked in this period. Due: not yet, by the period's last day. Breach: a whole period went by without.
    """
    asked: ContainerCheck | None = next(
        (one for one in rules.section("container_check", day) if kind in one.kinds), None
    )
    if asked is None:
        return Verdict(answer="free", said="No regular check of containers for leaks is asked for.")
    months = PERIODS[asked.period]
    first, end = calendar_period(day, months)
    said_last = f"{last}, {(day - last).days} days ago" if last else f"never; it came on {since}"
    figures = (Figure("last checked", said_last), Figure(f"this {asked.period}", f"{first} to {end}"))
    about = {"rules": (asked,), "figures": figures, "readings": (READING.format(period=asked.period),)}
    if last is not None and first <= last:
        return Verdict(answer="met", said=f"It was checked for leaks on {last}, in this {asked.period}.", **about)
    told = f"Last checked on {last}" if last else "Never checked for leaks here"
    eve = first - dt.timedelta(days=1)
    seen = last or since - dt.timedelta(days=1)
    if seen < calendar_period(eve, months)[0]:
        said = f"{told}: the {asked.period} to {eve} went by without a check; it is checked by {end}."
        return Verdict(answer="breach", said=said, by=eve, **about)
    said = f"{told}; it is checked for leaks in every {asked.period}: by {end}."
    return Verdict(answer="due", said=said, by=end, **about)
