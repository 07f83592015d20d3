"""When equipment is checked for leaks: the interval by its charge, the check after a repair. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass, replace

from inventory.reference.rule import Rule
from inventory.verdicts.leak_check import Interval
from inventory.verdicts.verdict import Figure, Verdict


@dataclass(frozen=True)
class Due:
    """due: the last day of the check; None where nothing is asked for, or that cannot be judged. why: in words; cited:
    where it is written; again: whether it is the check after a repair."""

    due: dt.date | None
    why: str
    cited: str = ""
    overdue: bool = False
    verdict: Verdict | None = None
    again: bool = False

    @property
    def is_open(self) -> bool:
        """Whether something must be said before it can be judged."""
        return self.verdict is not None and self.verdict.is_open

    @property
    def is_asked(self) -> bool:
        return self.due is not None or self.is_open

    @property
    def order(self) -> dt.date:
        """The most pressing first, what cannot be judged last."""
        return self.due or dt.date.max


def due(interval: Interval, again: Verdict | None, *, last_checked: dt.date | None, today: dt.date) -> Due:
    """What is due next: the regular check, or the one after a repair where that comes first. again: of the last repair,
    None where there was none. last_checked: of the last check that found it tight or was repaired; None: never
    here."""
    if interval.verdict.is_open:
        return Due(None, interval.verdict.said, interval.verdict.cited, verdict=interval.verdict)
    found = []
    if again is not None and again.by is not None and again.answer in {"due", "breach"}:
        why = again.said.removesuffix(".")
        found.append(Due(again.by, why[0].lower() + why[1:], again.cited, again.by < today, again, True))
    if interval.rule is not None:
        found.append(_regular(interval, last_checked, today))
    if not found:
        return Due(None, "no regular check is asked for", verdict=interval.verdict)
    return min(found, key=lambda one: one.order)


def _regular(interval: Interval, last_checked: dt.date | None, today: dt.date) -> Due:
    every = f"every {interval.months} months"
    if last_checked is None:
        by, why = today, f"{every}; no check is recorded here yet"
    else:
        by, why = interval.by(last_checked), f"{every}, last on {last_checked}"
    figures = (*interval.verdict.figures, Figure("last checked", str(last_checked or "not on record")))
    said = f"{interval.verdict.said} The next check is due by {by}."
    verdict = replace(interval.verdict, said=said, figures=figures, by=by)
    return Due(by, why, verdict.cited, by < today, verdict)


def _due(day: dt.date, why: str, rule: Rule, today: dt.date) -> Due:
    return Due(day, why, rule.cited(), day < today)
