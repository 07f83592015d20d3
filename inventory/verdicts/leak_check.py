"""How often equipment is checked for leaks. Pure: no Django here."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from inventory.measures.quantity import show
from inventory.reference.leak_rules import LeakCheck, part_mg
from inventory.reference.refrigerants import gwp_or_none
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.leak_deadlines import check_by
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import CHARGE_ASKED, both, co2e_or_none, either, equipment_figures, tonnes

BLEND = "Of a blend it is enough that one of the thresholds is reached, that in t CO2e or that in mass of {}."
HOME = (
    "What is sealed and labelled and stands in a dwelling is left out by its mass alone: the threshold for dwellings "
    "is read as taking the place of the others for what is sealed."
)
WATCHED = "a leak detection system watches it"


@dataclass(frozen=True)
class Interval:
    """How often a system is checked. rule, months: None where it need not be, or cannot be judged."""

    verdict: Verdict
    rule: LeakCheck | None = None
    months: int | None = None

    def by(self, last: dt.date) -> dt.date:
        """The last day of the check after one that was made on a day."""
        return check_by(self.rule, last, detection=self.months != self.rule.months)


@dataclass(frozen=True)
class _Asked:
    rules: Rulebook
    system: System
    day: dt.date
    co2e_t: Decimal | None

    def applies(self, rule: LeakCheck) -> bool:
        return rule.applies(self.system, self.co2e_t)

    def is_in_by_home_alone(self, rule: LeakCheck) -> bool:
        """Whether it is under a rule only because it stands in a dwelling."""
        return self.applies(rule) and not rule.applies(replace(self.system, dwelling=False), self.co2e_t)

    def months(self, rule: LeakCheck) -> int:
        watched = "detection" in self.system.holding and rule.months_with_detection is not None
        return rule.months_with_detection if watched else rule.months


def leak_check(rules: Rulebook, system: System, day: dt.date) -> Interval:
    """The shortest interval of those that apply to a system on a day."""
    about = rules.about("leak_check", system, day)
    asked = _Asked(rules, system, day, co2e_or_none(rules, system, day))
    figures = _figures(asked, any(rule.co2e_at_least_t is not None for rule, _ in about))
    unknown = [rule for rule, _ in about if system.charge_mg is None and rule.asks_charge]
    sure = [rule for rule, bearing in about if bearing.holds and rule not in unknown and asked.applies(rule)]
    rule = min(sure, key=asked.months, default=None)
    open_ones = [(one, bearing) for one, bearing in about if _may_be_shorter(asked, one, bearing.holds, rule, unknown)]
    if open_ones:
        asks = [ask for _, bearing in open_ones for ask in bearing.asks]
        asks += [CHARGE_ASKED] if unknown else []
        return Interval(cannot_be_judged("How often it is checked for leaks", asks, _first(open_ones), figures=figures))
    if rule is None:
        said = "No regular check for leaks is asked for."
        changes = (*_from_more(about, system), *_later(asked, None))
        return Interval(Verdict(answer="free", said=said, rules=_first(about), figures=figures, changes=changes))
    return _every(asked, rule, figures)


def _may_be_shorter(asked: _Asked, one: LeakCheck, holds: bool | None, rule: LeakCheck | None, unknown: list) -> bool:
    """Whether it depends on what nobody has said, and would ask for more than what is sure."""
    if rule is not None and asked.months(one) >= asked.months(rule):
        return False
    return one in unknown or (holds is None and asked.applies(one))


def _every(asked: _Asked, rule: LeakCheck, figures: tuple[Figure, ...]) -> Interval:
    months = asked.months(rule)
    said = f"It is checked for leaks every {months} months"
    said += " and in each calendar year." if rule.each_calendar_year else "."
    verdict = Verdict(
        answer="due",
        said=said,
        rules=(rule,),
        figures=(*figures, *_weighed(asked.system, rule)),
        readings=tuple(_readings(asked, rule)),
        changes=(*_of_rule(rule, months), *_later(asked, months)),
    )
    return Interval(verdict, rule, months)


def _figures(asked: _Asked, by_tonnes: bool) -> tuple[Figure, ...]:
    found, basis = [*equipment_figures(asked.system)], asked.rules.gwp_basis(asked.day)
    if asked.co2e_t is not None and by_tonnes:
        gwp = gwp_or_none(asked.system.substance, basis)
        found.append(Figure("CO2 equivalent", f"{tonnes(asked.co2e_t)}, at a GWP of {gwp.normalize():f} by {basis}"))
    if asked.system.sealed:
        found.append(Figure("hermetically sealed", "and labelled so"))
    return tuple(found)


def _weighed(system: System, rule: LeakCheck) -> Iterator[Figure]:
    mass = part_mg(system, rule.parts) if rule.parts else None
    if mass is not None:
        yield Figure(f"of it {either(rule.parts)}", show(int(mass), "kg"))


def _readings(asked: _Asked, rule: LeakCheck) -> Iterator[str]:
    system = asked.system
    part = part_mg(system, rule.parts) if rule.parts else None
    if part is not None and part != system.charge_mg and not _by_tonnes(asked):
        yield BLEND.format(either(rule.parts))
    if asked.is_in_by_home_alone(rule):
        yield HOME


def _by_tonnes(asked: _Asked) -> bool:
    """Whether a threshold in tonnes of CO₂ equivalent is reached as well."""
    about = asked.rules.about("leak_check", asked.system, asked.day)
    return any(bearing.holds and one.co2e_at_least_t is not None and asked.applies(one) for one, bearing in about)


def _of_rule(rule: LeakCheck, months: int) -> Iterator[str]:
    if rule.counts_as_done:
        yield f"It counts as done where {rule.counts_as_done}."
    if rule.months_with_detection not in {None, months}:
        yield f"Where {WATCHED}: every {rule.months_with_detection} months."


def _from_more(about: list, system: System) -> Iterator[str]:
    """From how much on it would be checked: of the lowest thresholds, as sealed and as housed as it is."""
    for rule in dict.fromkeys(rule for rule, bearing in about if bearing.holds):
        if rule.co2e_at_least_t is not None or rule.charge_at_least_mg is not None:
            yield f"From {_threshold(rule, system)} on it is checked every {rule.months} months."


def _threshold(rule: LeakCheck, system: System) -> str:
    tonnes_from, mass_from, home = rule.thresholds(system)
    whole = [show(home, "kg")] if home is not None else []
    if tonnes_from is not None:
        return both([*whole, f"{tonnes_from.normalize():f} t CO2e"])
    return both([*whole, show(mass_from, "kg") + (f" of {either(rule.parts)}" if rule.parts else "")])


def _later(asked: _Asked, months: int | None) -> Iterator[str]:
    """What will be asked from a later day on."""
    coming = [rule for rule in asked.rules.sections["leak_check"] if rule.from_day and rule.from_day > asked.day]
    for day in sorted({rule.from_day for rule in coming}):
        then = [rule for rule in coming if rule.from_day == day]
        then = [one for one in then if asked.rules.bears_on(one, asked.system, day).holds and asked.applies(one)]
        found = min((asked.months(rule) for rule in then), default=None)
        if found is not None and found != months:
            yield f"From {day} on it is checked every {found} months."


def _first(about: list) -> tuple[LeakCheck, ...]:
    return tuple(rule for rule, _ in about[:1])
