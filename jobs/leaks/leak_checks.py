"""When equipment is checked for leaks: the interval by its charge, the check after a repair. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass

from inventory.measures.months import add_months
from inventory.reference.leak_rules import LeakCheck, LeakRate, LeakRepair
from inventory.reference.rule import Rule


@dataclass(frozen=True)
class Due:
    """due: the last day of the check; None where nothing is asked for. why: in words; cited: where it is written."""

    due: dt.date | None
    why: str
    cited: str = ""
    overdue: bool = False


def due(
    rule: LeakCheck | None,
    repair: LeakRepair | None,
    *,
    detection: bool,
    last_checked: dt.date | None,
    repaired_on: dt.date | None,
    today: dt.date,
) -> Due:
    """What is due next. last_checked: of the last check that found the unit tight or was repaired; None: never here.
    repaired_on: of a repair of a leak after which no check was recorded. The earlier of the two counts."""
    found: list[Due] = []
    if repair is not None and repair.recheck_within_months and repaired_on is not None and rule is not None:
        by = add_months(repaired_on, repair.recheck_within_months)
        hours = f", after {repair.recheck_after_hours} hours of running" if repair.recheck_after_hours else ""
        found.append(_due(by, f"the check after the repair of {repaired_on}{hours}", repair, today))
    if rule is not None:
        months = rule.months
        if detection and rule.months_with_detection is not None:
            months = rule.months_with_detection
        every = f"every {months} months"
        if last_checked is None:
            found.append(_due(today, f"{every}; no check is recorded here yet", rule, today))
        else:
            found.append(_due(add_months(last_checked, months), f"{every}, last on {last_checked}", rule, today))
    if not found:
        return Due(None, "no regular check is asked for")
    return min(found, key=lambda one: one.due)


def inspection(
    rule: LeakRate | None, *, full_charge_mg: int, over_on: dt.date | None, last_checked: dt.date | None, today: dt.date
) -> Due | None:
    """The next inspection of equipment whose leak rate was over its limit on a day (40 CFR 82.157(g)): every so many
    months, until it has not been for as long as the rule says. A year is read as twelve months, four quarters as well.
    None: none is asked for."""
    if rule is None or rule.inspect_months is None or over_on is None:
        return None
    if today > add_months(over_on, rule.inspect_until_months):
        return None
    months = rule.inspect_months
    if rule.inspect_large_from_mg is not None and full_charge_mg >= rule.inspect_large_from_mg:
        months = rule.inspect_large_months or months
    since = max(over_on, last_checked or over_on)
    why = f"every {months} months, since its leak rate was over {rule.over_percent} % on {over_on}"
    return _due(add_months(since, months), why, rule, today)


def _due(day: dt.date, why: str, rule: Rule, today: dt.date) -> Due:
    return Due(day, why, rule.cited(), day < today)
