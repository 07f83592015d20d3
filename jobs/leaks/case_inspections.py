"""Leak inspections after a rate was over its limit, and the presumption that ends a case. Pure: no Django here.

Sources: 40 CFR 82.157(g)(1) and 84.106(g)(1); what they are counted from differs and is read from the rulebook's step.
"""

import datetime as dt
from dataclasses import replace

from inventory.measures.months import add_months
from inventory.reference.leak_rate_rules import LeakStep
from jobs.leaks.case_steps import Begun, Step
from jobs.leaks.leak_rate import Event


def inspections(begun: Begun, test: Event | None, next_case: dt.date | None, again: bool) -> list[Step]:
    """The inspections that are asked for. test: the good follow-up test; without it, those that are counted from one
    are not due yet. next_case: the day from which another case asks for them. again: the rate was over before in the
    same calendar year and repaired."""
    rule = begun.rules.get("inspections")
    if rule is None or not rule.months:
        return []
    if rule.counted_from == "calendar-year":
        periods = _years(begun, again)
    elif rule.counted_from == "follow-up-test":
        periods = _periods(rule, test.day, test.day) if test else []
    else:
        periods = _periods(rule, begun.opened.day, begun.last_over or begun.opened.day)
    ends = [day for day in (next_case, begun.retired_on) if day is not None]
    looked_for = begun.of("inspection")[:1]  # the one that looked for the leak is a step of its own
    found = [one for one in begun.of("inspection") if one not in looked_for]
    steps = []
    for after, due in periods:
        if ends and due > min(ends):
            continue
        done = next((one for one in found if after < one.day <= due), None)
        late = next((one for one in found if one.day > due), None) if done is None else None
        by = done or late
        steps.append(Step("inspections", rule, due, by.day if by else None, by, (by,) if by else ()))
        found = [one for one in found if one is not late]
    return steps


def _periods(rule: LeakStep, start: dt.date, last_over: dt.date) -> list[tuple[dt.date, dt.date]]:
    """Each period as the day before it and its last day, until no rate was over for so long as the rule says."""
    months = rule.months or 0
    until = add_months(last_over, rule.until_months or months)
    found, count = [], 0
    while not found or found[-1][1] < until:
        found.append((add_months(start, count * months), add_months(start, (count + 1) * months)))
        count += 1
    return found


def _years(begun: Begun, again: bool) -> list[tuple[dt.date, dt.date]]:
    """Calendar years in which the rate was over, and the next where it was over again after a repair: a year without
    one ends them."""
    last = (begun.last_over or begun.opened.day).year + again
    return [
        (max(dt.date(year - 1, 12, 31), begun.opened.day - dt.timedelta(days=1)), dt.date(year, 12, 31))
        for year in range(begun.opened.day.year, last + 1)
    ]


def presumed(begun: Begun, test: Event) -> Step | None:
    """Whether the repair is presumed to have been successful: nothing was added for so long after the follow-up
    test."""
    rule = begun.rules.get("presumed")
    if rule is None or not rule.months:
        return None
    until = add_months(test.day, rule.months)
    added = next((one.day for one in begun.visits if one.charged and test.day < one.day <= until), None)
    step = Step("presumed", rule, until, None, None, (), asked=False)
    if added is not None:
        return replace(step, note=f"Refrigerant was added on {added}, so it is not presumed to have been successful.")
    if until > begun.today:
        return replace(step, note=f"It is presumed to have been successful where nothing is added until {until}.")
    return replace(step, done=until, note=f"Nothing was added until {until}: it is presumed to have been successful.")
