"""The steps of a case up to its repair: what is to be done, by when, and what has been done. Pure: no Django here.

Sources: 40 CFR 82.157(d), (e), (f), (h) and 84.106(d), (e), (f), (h). Periods come from the rulebook's steps.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from inventory.measures.months import add_months
from inventory.reference.leak_rate_rules import STEPS, LeakStep
from jobs.leaks.case_clock import Stop, counted
from jobs.leaks.leak_rate import Addition, Event, Visit

# How a step stands.
STANDS = {
    "kept": "done in time",
    "kept late": "done, but late",
    "open": "to be done",
    "late": "late",
    "waits": "waits for what comes before it",
    "not asked": "not asked",
}


@dataclass(frozen=True)
class Step:
    """One thing to be done. due: its last day, None where it is not known yet; done: the day on which it was done;
    by: the event that says so; tries: all events of its kind. asked: whether it is asked at all; note: what else is to
    be known; changes: what would change it, both in sentences."""

    key: str
    rule: LeakStep
    due: dt.date | None = None
    done: dt.date | None = None
    by: Event | None = None
    tries: tuple[Event, ...] = ()
    asked: bool = True
    note: str = ""
    changes: str = ""

    @property
    def what(self) -> str:
        return STEPS[self.key]

    @property
    def awaited(self) -> bool:
        return self.asked and self.done is None

    def stands(self, today: dt.date) -> str:
        """A key of STANDS."""
        if not self.asked:
            return "not asked"
        if self.done is not None:
            return "kept" if self.due is None or self.done <= self.due else "kept late"
        if self.due is None:
            return "waits"
        return "late" if self.due < today else "open"


@dataclass(frozen=True)
class Objection:
    """Something that was done in the wrong order. day: on which; rule: of the step that says the order."""

    day: dt.date
    sentence: str
    rule: LeakStep


@dataclass(frozen=True)
class Begun:
    """A case as far as it is known: the addition that opened it, what is asked, what happened since. closed_on: when
    the repair was closed, and how."""

    opened: Addition
    rules: Mapping[str, LeakStep]
    shutdown: bool
    events: tuple[Event, ...]
    visits: tuple[Visit, ...]
    stops: tuple[Stop, ...] = ()
    closed_on: dt.date | None = None
    closed: str = ""
    today: dt.date = dt.date.max
    retired_on: dt.date | None = None
    last_over: dt.date | None = None

    def of(self, kind: str) -> tuple[Event, ...]:
        return tuple(one for one in self.events if one.kind == kind)

    def due(self, key: str) -> dt.date | None:
        """The last day of a step that is counted from the addition; None where there is no such step, or the clock
        stands."""
        rule = self.rules.get(key)
        if rule is None:
            return None
        return counted(self.opened.day, rule.allowed_days(self.shutdown), self.stops)


@dataclass
class Tested:
    """Where the verification tests stand. good: the initial test that stands; failed: a follow-up test that failed
    after it; partly: one that was good but does not show all identified leaks repaired."""

    good: Event | None = None
    failed: Event | None = None
    partly: Event | None = None
    after_failure: dt.date | None = field(default=None)


def tested(begun: Begun) -> Tested:
    now = Tested()
    for one in begun.events:
        if one.kind == "initial-test":
            now.good = one if one.passed else None
            now.after_failure = None if one.passed else one.day
        elif one.kind == "follow-up-test":
            if one.resets:
                break
            if one.passed:
                now.partly = one
            else:
                now.good, now.failed, now.after_failure = None, one, one.day
    return now


def repair_steps(begun: Begun) -> tuple[list[Step], list[Objection]]:
    """The steps up to the repair in the order of the rulebook's text, and what was done in the wrong order."""
    now = tested(begun)
    due, extended = _extended(begun)
    steps = [
        _inspection(begun),
        _repair(begun, now, due),
        _initial(begun, now, due),
        _follow_up(begun, now),
        extended,
        *_plan(begun, now, due),
    ]
    return _settled(begun, [one for one in steps if one is not None]), _objections(begun, now)


def _inspection(begun: Begun) -> Step | None:
    if "inspection" not in begun.rules:
        return None
    found = begun.of("inspection")
    return _step(begun, "inspection", begun.due("inspection"), found[0] if found else None, found[:1])


def _extended(begun: Begun) -> tuple[dt.date | None, Step | None]:
    """The last day of repair and initial test, with what was granted; and the step of asking for it."""
    due = begun.due("repair")
    asked, granted = begun.of("extension-asked"), begun.of("extension-granted")
    until = max((one.until for one in granted if one.until), default=None)
    rule = begun.rules.get("extension")
    if rule is None or not (asked or granted):
        return due, None
    first = asked[0] if asked else granted[0]
    note = f"Granted until {until}." if until else "Nothing granted is on record yet: the days run on."
    if rule.days is not None:
        most = counted(begun.opened.day, rule.allowed_days(begun.shutdown), begun.stops)
        if until and most and until > most:
            note += f" Missing parts allow at most {rule.allowed_days(begun.shutdown)} days, until {most}."
    step = Step("extension", rule, due, first.day, first, (*asked, *granted), note=note)
    return (max(due, until) if due and until else due), step


def _repair(begun: Begun, now: Tested, due: dt.date | None) -> Step | None:
    if "repair" not in begun.rules:
        return None
    repairs = begun.of("repair")
    standing = [one for one in repairs if now.after_failure is None or one.day >= now.after_failure]
    if now.good is not None:
        standing = [one for one in standing if one.day <= now.good.day]
    step = _step(begun, "repair", due, standing[-1] if standing else None, repairs)
    counting = [one for one in begun.stops if due is None or one.since < due]  # later ones changed nothing
    note = " ".join(f"The clock stood {one} while it was mothballed." for one in counting)
    longer, changes = step.rule.shutdown_days, ""
    if longer is not None and not begun.shutdown:
        by = counted(begun.opened.day, longer, begun.stops)
        if by is not None and (due is None or by > due):
            changes = f"Where an industrial process must be shut down for it, there are {longer} days: by {by}."
    return replace(step, note=note, changes=changes)


def _initial(begun: Begun, now: Tested, due: dt.date | None) -> Step | None:
    if "initial-test" not in begun.rules:
        return None
    tries = begun.of("initial-test")
    step = _step(begun, "initial-test", due, now.good, tries)
    failed = [one for one in tries if not one.passed]
    return replace(step, note="It may be repeated until then." if failed and now.good is None else step.note)


def _follow_up(begun: Begun, now: Tested) -> Step | None:
    rule = begun.rules.get("follow-up-test")
    if rule is None:
        return None
    tries = begun.of("follow-up-test")
    good = next((one for one in tries if one.resets), None)
    due, note = None, ""
    if now.good is not None:
        base: dt.date | None = now.good.day
        if any(one.evacuated for one in begun.of("repair") if one.day <= now.good.day):
            running = [one.day for one in begun.of("normal-running") if one.day >= now.good.day]
            base = running[0] if running else None
            note = "It was evacuated: the days count from normal running." if base else ""
            note = note or "It was evacuated: say since when it runs normally; the days count from there."
        due = base and counted(base, rule.allowed_days(begun.shutdown))
    elif good is None:
        note = "Its days count from a good initial test."
    if now.partly is not None and good is None:
        note = f"The test of {now.partly.day} does not show that all identified leaks are repaired."
    return Step("follow-up-test", rule, due, good.day if good else None, good, tries, note=note)


def _plan(begun: Begun, now: Tested, repair_due: dt.date | None) -> list[Step]:
    """The plan that takes the place of a repair: asked where one was made, a repair is late, or a follow-up failed.
    From which day its days count where a repair came to nothing is our reading."""
    rule, plans = begun.rules.get("plan"), begun.of("plan")
    if rule is None:
        return []
    late = begun.closed_on is None and repair_due is not None and repair_due < begun.today and now.good is None
    failed = now.failed is not None and now.good is None and begun.closed_on is None
    if not (plans or late or failed):
        return []
    due = begun.due("plan")
    if failed and now.failed is not None:
        due = now.failed.day + dt.timedelta(days=rule.allowed_days(begun.shutdown))
    elif late and due is not None and repair_due is not None:
        due = max(due, repair_due)
    found = [_step(begun, "plan", due, plans[0] if plans else None, plans)]
    if not plans or "plan-done" not in begun.rules:
        return found
    done = begun.of("plan-done")
    months = begun.rules["plan-done"].months or 0
    return [*found, _step(begun, "plan-done", add_months(plans[0].day, months), done[0] if done else None, done)]


def _step(begun: Begun, key: str, due: dt.date | None, by: Event | None, tries: tuple[Event, ...]) -> Step:
    return Step(key, begun.rules[key], due, by.day if by else None, by, tries)


REPAIR = {"inspection", "repair", "initial-test", "follow-up-test"}


def _settled(begun: Begun, steps: list[Step]) -> list[Step]:
    """What is not asked any more: of a repair, where a plan made in time or the end of the unit took its place."""
    plan = next((one for one in steps if one.key == "plan"), None)
    instead = ""
    if plan is not None and plan.done is not None and (plan.due is None or plan.done <= plan.due):
        instead = f"The plan of {plan.done} takes its place."
    if begun.closed_on is not None and begun.closed != "repaired":
        instead = f"The unit was {begun.closed} on {begun.closed_on}."
    if not instead:
        return steps
    return [replace(one, asked=False, note=instead) if one.key in REPAIR and one.done is None else one for one in steps]


def _objections(begun: Begun, now: Tested) -> list[Objection]:
    """Refrigerant that went in between the repair and the initial test that stands."""
    rule = begun.rules.get("initial-test")
    if now.good is None or rule is None:
        return []
    repaired = max((one.day for one in begun.of("repair") if one.day <= now.good.day), default=begun.opened.day)
    told = "Refrigerant was added on {}, before the initial verification test of {}; the test comes first."
    return [
        Objection(one.day, told.format(one.day, now.good.day), rule)
        for one in begun.visits
        if one.charged and begun.opened.day < one.day and repaired <= one.day and _before(one, now.good)
    ]


def _before(visit: Visit, test: Event) -> bool:
    if visit.day != test.day:
        return visit.day < test.day
    return visit.at is not None and test.at is not None and visit.at < test.at
