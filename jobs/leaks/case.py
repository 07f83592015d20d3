"""What follows a leak rate over its limit: a case, worked out from the history of a unit each time it is asked for.
Nothing is written when a rate is over. Pure: no Django here.

Sources: 40 CFR 82.157(c) to (j) and 84.106(c) to (j); every period and percent is read from the rulebook's `leak_step`.
A case opens with the first addition whose rate is over while none is open. It is repaired by a good follow-up test that
shows all identified leaks repaired, or ends with a retrofit or the unit's retirement; a later rate over the limit opens
another."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from inventory.measures.months import add_months
from inventory.reference.leak_rate_rules import METHODS, LeakRate, LeakStep, Limit
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from jobs.leaks.case_clock import stops_of
from jobs.leaks.case_inspections import inspections, presumed
from jobs.leaks.case_steps import Begun, Objection, Step, repair_steps
from jobs.leaks.leak_rate import (
    ROLLING,
    Addition,
    ByDay,
    Event,
    History,
    Rate,
    made_after,
    rate_at,
    rolling,
    said_percent,
)

NO_METHOD = "No method is set for the premises, so the rolling average is used."


@dataclass(frozen=True)
class Appliance:
    """What the leak rates of a unit are worked out from. charges: its full charge in mg; methods: of its premises,
    blank where none is set."""

    system: System
    history: History
    charges: ByDay[int]
    methods: ByDay[str] = ByDay()
    retired_on: dt.date | None = None

    def on(self, day: dt.date) -> System:
        """It as rules are asked for it on a day: its charge is the full charge of that day."""
        return replace(self.system, charge_mg=self.charges.on(day))

    def method_on(self, day: dt.date) -> str:
        """How its rates are worked out; blank where nobody said it."""
        since = [method for first, method in self.methods.entries if first <= day]
        return since[-1] if since else ""


@dataclass(frozen=True)
class Judged:
    """The rate at one addition against one limit: by the method that stands, and by the other one. full charge known,
    and limit decided, or it is not there."""

    addition: Addition
    limit: Limit
    rate: Rate
    other: Rate
    method_set: bool

    @property
    def over(self) -> bool | None:
        """Whether the rate is over the limit; None where it is not known whether the limit applies."""
        return None if self.limit.asks else self.rate.over(self.limit.rule.over_percent)

    @property
    def said(self) -> str:
        """The rate in a few words."""
        shown = said_percent(
            self.rate.percent, (self.limit.rule.over_percent, self.rate.over(self.limit.rule.over_percent))
        )
        stands = {None: "cannot be judged", True: f"over {self.limit.rule.over_percent} %", False: "not over its limit"}
        return f"{shown} % a year, {stands[self.over]}"

    @property
    def readings(self) -> tuple[str, ...]:
        return (*self.rate.readings, *(() if self.method_set else (NO_METHOD,)))


@dataclass(frozen=True)
class Case:
    """What follows one excess. again: later additions over the limit while it was open, which restart nothing.
    repaired:
    the test that closed the repair. ended_on, ended: when nothing of it is asked any more, and why."""

    opened: Judged
    steps: tuple[Step, ...]
    again: tuple[Judged, ...] = ()
    repaired: Event | None = None
    ended_on: dt.date | None = None
    ended: str = ""
    objections: tuple[Objection, ...] = ()

    @property
    def day(self) -> dt.date:
        return self.opened.addition.day

    @property
    def rule(self) -> LeakRate:
        return self.opened.limit.rule

    def step(self, key: str) -> Step | None:
        return next((one for one in self.steps if one.key == key), None)

    def is_open(self, today: dt.date) -> bool:
        return self.ended_on is None or self.ended_on > today

    @property
    def next(self) -> Step | None:
        """What is to be done first: the step with the nearest last day, else the first that has none yet."""
        return next(iter([*self.pending(), *(one for one in self.steps if one.awaited)]), None)

    def pending(self) -> list[Step]:
        """What is still to be done and has a day, the most pressing first."""
        return sorted((one for one in self.steps if one.awaited and one.due), key=lambda one: one.due)


def judged(unit: Appliance, book: Rulebook, until: dt.date) -> list[Judged]:
    """The rate at each addition up to a day, against each limit that applies or may apply on the day of the
    addition."""
    found = []
    for one in unit.history.additions:
        full = unit.charges.on(one.day)
        if one.day > until or not full:
            continue
        for limit in book.leak_limits(unit.on(one.day), one.day):
            found.append(_judged(unit, one, limit, full))
    return found


def _judged(unit: Appliance, one: Addition, limit: Limit, full_mg: int) -> Judged:
    """The method of the premises, where the limit allows it; where none is set, the rolling average."""
    allowed, said = limit.rule.methods, unit.method_on(one.day)
    used = next((name for name in (said, ROLLING) if name in allowed), allowed[0])
    other = next(name for name in METHODS if name != used)
    rates = {name: rate_at(unit.history, one, name, full_mg, limit.rule.counts_from) for name in (used, other)}
    return Judged(one, limit, rates[used], rates[other], used == said or len(allowed) == 1)


def present_rate(unit: Appliance, day: dt.date) -> Rate | None:
    """The rate on a day, whatever limits there are: the rolling average on that day, or by annualizing at the last
    addition, as the method of the premises is. None: the full charge is not known, or nothing was added to
    annualize."""
    full, method = unit.charges.on(day), unit.method_on(day) or ROLLING
    if not full:
        return None
    if method == ROLLING:
        return rolling(unit.history, full, day)
    added = [one for one in unit.history.additions if one.day <= day]
    return rate_at(unit.history, added[-1], method, full) if added else None


def cases(unit: Appliance, book: Rulebook, today: dt.date, rates: Iterable[Judged] | None = None) -> list[Case]:
    """All cases of a unit up to a day, in the order of the days on which they opened. rates: those of `judged`, where
    they are at hand."""
    by_duties: dict[str, list[Judged]] = {}
    for one in judged(unit, book, today) if rates is None else rates:
        if one.over is not None:
            by_duties.setdefault(one.limit.rule.duties, []).append(one)
    found = [case for ones in by_duties.values() for case in _cases(unit, book, ones, today)]
    return sorted(found, key=lambda one: (one.day, one.rule.duties))


def _cases(unit: Appliance, book: Rulebook, ones: list[Judged], today: dt.date) -> list[Case]:
    """The cases of one kind of duties."""
    groups: list[tuple[Judged, list[Judged]]] = []
    closing: Closing | None = None
    for one in ones:
        if not one.over:
            continue
        if groups and (closing is None or not closing.before(one.addition)):
            groups[-1][1].append(one)
            continue
        groups.append((one, []))
        closing = _closing(unit, one.addition, today)
    found = []
    for place, (opened, again) in enumerate(groups):
        following = groups[place + 1][0] if place + 1 < len(groups) else None
        previous = groups[place - 1][0] if place else None
        found.append(_case(unit, book, Around(opened, again, previous, following), today))
    return found


@dataclass(frozen=True)
class Closing:
    """What closes the repair part of a case. test: the good follow-up test, None where it was something else."""

    day: dt.date
    why: str
    test: Event | None = None

    def before(self, addition: Addition) -> bool:
        if self.test is not None:
            return made_after(addition, self.test)
        return addition.day > self.day


def _closing(unit: Appliance, opened: Addition, today: dt.date) -> Closing | None:
    """What closes it first, up to a day; None: nothing yet."""
    ways = [
        Closing(one.day, "repaired", one)
        for one in unit.history.resets
        if not made_after(opened, one)  # of the same day, the test is read as the later one
    ]
    ways += [
        Closing(one.day, "retrofitted")
        for one in unit.history.visits
        if one.why == "retrofit" and one.day >= opened.day and one.job != opened.job
    ]
    ways += [
        Closing(one.day, "retrofitted or retired by its plan")
        for one in unit.history.events
        if one.kind == "plan-done" and one.day >= opened.day
    ]
    if unit.retired_on is not None and unit.retired_on >= opened.day:
        ways.append(Closing(unit.retired_on, "retired"))
    return min((one for one in ways if one.day <= today), key=lambda one: one.day, default=None)


@dataclass(frozen=True)
class Around:
    """An excess and what lies around it: later ones while it was open, the case before and the case after."""

    opened: Judged
    again: list[Judged]
    previous: Judged | None
    following: Judged | None


def _case(unit: Appliance, book: Rulebook, around: Around, today: dt.date) -> Case:
    opened = around.opened
    rules = book.leak_steps(opened.limit.rule.duties, unit.on(opened.addition.day), opened.addition.day)
    closing = _closing(unit, opened.addition, today)
    following = around.following.addition if around.following else None
    until = following.day if following else None
    events = [one for one in unit.history.events if _belongs(one, opened.addition, following, today)]
    begun = Begun(
        opened=opened.addition,
        rules=rules,
        shutdown="process-shutdown" in unit.system.holding,
        events=tuple(events),
        visits=tuple(one for one in unit.history.visits if one.day <= today),
        stops=stops_of(unit.history, opened.addition, today),
        closed_on=closing.day if closing else None,
        closed=closing.why if closing else "",
        today=today,
        retired_on=unit.retired_on,
        last_over=max((one.addition.day for one in around.again), default=opened.addition.day),
    )
    steps, objections = repair_steps(begun)
    test = closing.test if closing else None
    if closing is None or test is not None:
        steps += inspections(begun, test, until, _again_in_year(around))
    ended_on, ended = _end(rules, closing, until, steps)
    if test is not None and (step := presumed(begun, test)):
        steps.append(step)
    return Case(opened, tuple(steps), tuple(around.again), test, ended_on, ended, tuple(objections))


def _belongs(event: Event, opened: Addition, following: Addition | None, today: dt.date) -> bool:
    """Whether an event is of the case: from the excess on, and before the next case. On the day of either addition,
    what the times of day say; where they are not known, it came after it."""
    if not opened.day <= event.day <= today or _came_first(event, opened):
        return False
    return following is None or event.day < following.day or _came_first(event, following)


def _came_first(event: Event, addition: Addition) -> bool:
    """Whether an event of the day of an addition is known to be older."""
    return event.day == addition.day and made_after(addition, event)


def _again_in_year(around: Around) -> bool:
    """Whether the rate was over again, after the repair of an earlier case of that calendar year."""
    before = around.previous
    return before is not None and before.addition.day.year == around.opened.addition.day.year


def _end(
    rules: Mapping[str, LeakStep], closing: Closing | None, next_case: dt.date | None, steps: list[Step]
) -> tuple[dt.date | None, str]:
    """When nothing of it is asked any more: when the inspections after its repair end, or another case takes over."""
    if closing is None:
        return None, ""
    if closing.test is None:
        return closing.day, closing.why
    if next_case is not None:
        return next_case, f"the rate was over its limit again on {next_case}"
    months = [rules[key].until_months or rules[key].months or 0 for key in ("inspections", "presumed") if key in rules]
    quiet = add_months(closing.test.day, max(months, default=0))
    inspected = max((one.due for one in steps if one.key == "inspections" and one.due), default=quiet)
    return max(quiet, inspected), "no rate was over its limit since the repair"
