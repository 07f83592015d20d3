"""Leak rates and what follows them, as verdicts. Pure: no Django here. `mass` writes a mass in mg as people read it."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace

from inventory.reference.rule import Rule
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from jobs.leaks.case import Appliance, Case, Judged
from jobs.leaks.case_steps import STANDS, Step
from jobs.leaks.chronic import Chronic
from jobs.leaks.leak_rate import ANNUALIZING, Rate, said_percent

Mass = Callable[[int], str]

METHOD = {"annualizing": "annualizing", "rolling": "rolling average"}
FULL_CHARGE = "what its full charge is"
ANY_CHARGE = 10**12  # mg: reaches every threshold there is


def percent(number: object) -> str:
    return f"{number:f}".rstrip("0").rstrip(".") if "." in f"{number:f}" else f"{number:f}"


def limits_on(unit: Appliance, book: Rulebook, day: dt.date) -> list[Verdict]:
    """Which limits on its leak rate a unit is under on a day; one that says so where it is under none."""
    system = unit.on(day)
    if system.charge_mg is None:
        found = book.leak_limits(replace(system, charge_mg=ANY_CHARGE), day)
        if found:
            return [cannot_be_judged("Its leak rate", [FULL_CHARGE], tuple(one.rule for one in found))]
    limits = book.leak_limits(system, day)
    if not limits:
        return [Verdict(answer="free", said=" ".join(["No rule limits its leak rate.", *book.binds]))]
    return [
        cannot_be_judged("Its leak rate", one.asks, (one.rule,))
        if one.asks
        else Verdict(
            answer="met",
            said=f"Its leak rate may be up to {percent(one.rule.over_percent)} % a year by {one.rule.citation}.",
            rules=(one.rule,),
        )
        for one in limits
    ]


def rate_verdict(
    one: Judged, book: Rulebook, unit: Appliance, mass: Mass, case: Case | None = None, today: dt.date | None = None
) -> Verdict:
    """What the rate at an addition comes to against one limit. case: the one that the addition opened, or fell into;
    today: as what is to be done stands then, else as it stood on the day of the addition."""
    rule, rate = one.limit.rule, one.rate
    steps = book.leak_steps(rule.duties, unit.on(one.addition.day), one.addition.day)
    rules: tuple[Rule, ...] = (rule, *(steps[key] for key in ("rate",) if key in steps))
    more = {"figures": figures(one, mass), "readings": one.readings, "changes": _changes(one)}
    if one.limit.asks:
        return cannot_be_judged(
            f"Its leak rate of {said_percent(rate.percent)} % a year on {rate.day}", one.limit.asks, rules, **more
        )
    limit = percent(rule.over_percent)
    told = f"The leak rate on {rate.day} was {said_percent(rate.percent, (rule.over_percent, bool(one.over)))} % a year"
    if not one.over:
        return Verdict(answer="met", said=f"{told}, not over {limit} %.", rules=rules, **more)
    follows = _follows(case, today or one.addition.day)
    rules = (*rules, *(() if follows.step is None else (follows.step.rule,)))
    return Verdict(
        answer=follows.answer, said=f"{told}, over {limit} %: {follows.said}", rules=rules, by=follows.by, **more
    )


@dataclass(frozen=True)
class Follows:
    """What an excess comes to by now. step: the one that it hangs on."""

    answer: str
    said: str
    step: Step | None = None
    by: dt.date | None = None


def _follows(case: Case | None, today: dt.date) -> Follows:
    if case is None or not case.steps:
        return Follows("due", "it is to be repaired.")
    if case.repaired is not None:
        done = case.step("follow-up-test")
        return Follows("met", f"the follow-up test of {case.repaired.day} shows it repaired.", done)
    if case.ended_on is not None:
        return Follows("met", f"the unit was {case.ended} on {case.ended_on}.", case.step("plan"))
    step = next(iter(case.pending()), None)
    repair = case.step("repair")
    if repair is not None and repair.awaited:
        step = repair if repair.due else step
    if step is None or step.due is None:
        waits = case.next
        told = "nothing is to be done now." if waits is None else f"{waits.what.lower()} is next and has no day yet."
        return Follows("due", told, waits or repair)
    late = step.due < today
    if step is repair:
        told = f"it {'was' if late else 'is'} to be repaired by {step.due}."
    else:
        told = f"{step.what.lower()}{', late: due' if late else ''} by {step.due}."
    return Follows("breach" if late else "due", told, step, None if late else step.due)


def figures(one: Judged, mass: Mass) -> tuple[Figure, ...]:
    rate = one.rate
    found = [
        Figure("method", METHOD[rate.method]),
        Figure("full charge", mass(rate.full_mg)),
        Figure(
            "added",
            f"{mass(rate.added_mg)} in {rate.additions} additions" if rate.additions != 1 else mass(rate.added_mg),
        ),
        Figure("days", _days(rate)),
        Figure("limit", f"over {percent(one.limit.rule.over_percent)} % a year"),
    ]
    return tuple(found)


def _days(rate: Rate) -> str:
    if rate.method != ANNUALIZING:
        return f"the {rate.days} days up to {rate.day}"
    if rate.elapsed is None or rate.elapsed == rate.days:
        return f"{rate.days}"
    return f"{rate.days}, of {rate.elapsed} since refrigerant was last added"


def _changes(one: Judged) -> tuple[str, ...]:
    limit = one.limit.rule.over_percent
    other = said_percent(one.other.percent, (limit, one.other.over(limit)))
    found = [
        f"By {METHOD[one.other.method]} it would be {other} % a year; one method counts for all units of the premises."
    ]
    if one.addition.mg and not one.limit.asks and one.over:
        found.append(
            "An addition right after an installation or a retrofit, or a seasonal variance, has no rate: "
            "the job says so, or it counts."
        )
    return tuple(found)


def step_verdict(step: Step, today: dt.date) -> Verdict:
    """How one step of a case stands."""
    stands = step.stands(today)
    answer = {"kept": "met", "kept late": "breach", "open": "due", "late": "breach", "waits": "due"}.get(stands, "free")
    told = f"{step.what}: {STANDS[stands]}"
    if step.due is not None and stands != "not asked":
        told += f", by {step.due}" if step.done is None else f" on {step.done}, due by {step.due}"
    known = (("last day", step.due), ("done on", step.done), ("besides", step.note))
    what = tuple(Figure(label, str(value)) for label, value in known if value)
    by = step.due if answer == "due" else None
    changes = (step.changes,) if step.changes and step.awaited else ()
    return Verdict(answer=answer, said=f"{told}.", rules=(step.rule,), figures=what, changes=changes, by=by)


def chronic_verdict(one: Chronic, today: dt.date, mass: Mass) -> Verdict:
    """What is said of a year in which very much was lost."""
    told = f"{said_percent(one.percent)} % of the full charge was lost in {one.year}"
    limit = percent(one.rule.percent)
    what = (Figure("lost", mass(one.lost_mg)), Figure("full charge", mass(one.full_mg)), Figure("from", f"{limit} %"))
    if one.sent is not None:
        late = one.sent.day > one.by
        said = f"{told}; the report was sent on {one.sent.day}, due by {one.by}."
        return Verdict(answer="breach" if late else "met", said=said, rules=(one.rule,), figures=what)
    answer, by = ("breach", None) if one.by < today else ("due", one.by)
    return Verdict(
        answer=answer,
        said=f"{told}: it is reported by {one.by}, {one.rule.citation}.",
        rules=(one.rule,),
        figures=what,
        by=by,
    )
