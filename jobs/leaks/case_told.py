"""The leak rates and cases of a unit as one page and one paper tell them."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict
from jobs.leaks.case import NO_METHOD, Case, Judged, present_rate
from jobs.leaks.case_queries import Leaks
from jobs.leaks.case_steps import STANDS, Step
from jobs.leaks.leak_verdicts import METHOD, Mass, chronic_verdict, limits_on, rate_verdict, step_verdict
from jobs.leaks.models import LeakEvent

LOOKS = {"kept": "good", "kept late": "warn", "open": "warn", "late": "bad", "waits": "idle", "not asked": "idle"}
PAPERS = {"extension-asked", "extension-granted", "plan", "plan-done", "report-sent", "owner-told"}


@dataclass(frozen=True)
class ToldStep:
    """One step. badge: how it stands, in words; look: of the badge; row: of the event that says it was done."""

    step: Step
    badge: str
    look: str
    verdict: Verdict
    row: LeakEvent | None


@dataclass(frozen=True)
class ToldCase:
    """One case. rows: all that happened in it, in order; papers: those that are papers."""

    case: Case
    verdict: Verdict
    steps: list[ToldStep]
    again: list[Verdict]
    rows: list[LeakEvent]
    is_open: bool

    @property
    def papers(self) -> list[LeakEvent]:
        return [one for one in self.rows if one.kind in PAPERS]

    @property
    def work(self) -> list[LeakEvent]:
        return [one for one in self.rows if one.kind not in PAPERS]

    @property
    def next(self) -> Step | None:
        """What is to be done first."""
        return self.case.next if self.is_open else None


@dataclass(frozen=True)
class Told:
    """A unit's leak rates. method: of its premises, in words; present: the rate today in percent, None where it is not
    known; limits: those that it is under; latest: the verdicts on its last addition; cases: the latest first."""

    method: str
    full_mg: int | None
    present: str
    limits: list[Verdict]
    latest: list[Verdict]
    cases: list[ToldCase]
    chronic: list[Verdict]
    additions: list[Judged]
    exempt: list[tuple[dt.date, int, str, str]]
    readings: list[str]

    @property
    def says_something(self) -> bool:
        """Whether a limit applies or may apply, or once did."""
        return any(one.answer != "free" for one in self.limits) or bool(self.additions)

    @property
    def latest_alone(self) -> list[Verdict]:
        """The verdicts on the last addition that no case says."""
        by_cases = [verdict for one in self.cases for verdict in (one.verdict, *one.again)]
        return [one for one in self.latest if one not in by_cases]

    @property
    def open_cases(self) -> list[ToldCase]:
        return [one for one in self.cases if one.is_open]


def told(leaks: Leaks, rules: Rulebook, day: dt.date, mass: Mass, rows: Iterable[LeakEvent] = ()) -> Told:
    """Everything of a unit up to a day. mass: writes a mass; rows: its events that are not void."""
    unit = leaks.appliance
    by_key = {one.pk: one for one in sorted(rows, key=lambda one: (one.day, one.pk)) if not one.is_void}
    method, rate = unit.method_on(day), present_rate(unit, day)
    readings = [text for since, text in unit.history.readings if since <= day]
    return Told(
        METHOD[method] if method else "",
        unit.charges.on(day),
        f"{float(rate.percent):.2f}" if rate else "",
        limits_on(unit, rules, day),
        [rate_verdict(one, rules, unit, mass, leaks.case_of(one), day) for one in leaks.latest],
        [_case(leaks, one, rules, day, mass, by_key) for one in reversed(leaks.cases)],
        [chronic_verdict(one, day, mass) for one in leaks.chronic],
        leaks.judged[::-1],
        [(one.day, one.mg, one.why, one.job) for one in reversed(unit.history.exempt)],
        list(dict.fromkeys([*readings, *([] if method else [NO_METHOD])])),
    )


def _case(
    leaks: Leaks, case: Case, rules: Rulebook, day: dt.date, mass: Mass, by_key: dict[int, LeakEvent]
) -> ToldCase:
    def verdict(one: Judged) -> Verdict:
        return rate_verdict(one, rules, leaks.appliance, mass, case, day)

    until = case.ended_on or dt.date.max
    return ToldCase(
        case,
        verdict(case.opened),
        [_step(one, day, by_key) for one in case.steps],
        [verdict(one) for one in case.again],
        [one for one in by_key.values() if case.day <= one.day <= min(until, day)],
        case.is_open(day),
    )


def _step(step: Step, day: dt.date, by_key: dict[int, LeakEvent]) -> ToldStep:
    stands = step.stands(day)
    row = by_key.get(step.by.key) if step.by and step.by.key is not None else None
    return ToldStep(step, STANDS[stands], LOOKS[stands], step_verdict(step, day), row)
