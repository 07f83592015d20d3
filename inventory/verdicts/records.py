"""Whether a record says what a rulebook asks of it. Pure: no Django here."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from inventory.reference.record_rules import FIELDS, KEEPERS, RecordKept
from inventory.reference.rule import USE_ASKED, Bearing, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.leak_check import leak_check
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged
from inventory.verdicts.words import both

NO_SYSTEM = System(None, "")


@dataclass(frozen=True)
class Asked:
    """Which record is looked at. record: of RECORDS. by: of KEEPERS, whose record it is; blank: whosoever. system: the
    equipment that it is about, if any. grades: of the refrigerant that was added."""

    record: str
    by: str = ""
    system: System = NO_SYSTEM
    grades: frozenset[str] = frozenset()


def records(rules: Rulebook, asked: Asked, said: Collection[str], day: dt.date) -> list[Verdict]:
    """Whether a record says what each rule asks of it, a verdict for each in the order of the file; none where no such
    record is asked for. said: of FIELDS, what it says or what there is nothing to say about."""
    return [_open(rule, bearing) if bearing.asks else _said(rule, said) for rule, bearing in kept_of(rules, asked, day)]


def missing(rule: RecordKept, said: Collection[str]) -> tuple[str, ...]:
    """What a rule needs and a record does not say, of FIELDS."""
    return tuple(need for need in rule.fields if need not in said)


def kept_of(rules: Rulebook, asked: Asked, day: dt.date) -> list[tuple[RecordKept, Bearing]]:
    """The rules that ask for a record, or may. Where nobody has said what kind of appliance it is, it is the usual one
    of its kind of equipment: a rule about some appliances only is then not asked about."""
    found = []
    for rule, bearing in rules.about("record", asked.system, day):
        if rule.record != asked.record or (asked.by and rule.by != asked.by) or USE_ASKED in bearing.asks:
            continue
        if rule.grades != ("*",) and not rule.about_grades(asked.grades):
            continue
        if rule.leak_checked:
            bearing = _and(bearing, _leak_checked(rules, asked.system, day))
        if bearing.holds is not False:
            found.append((rule, bearing))
    return _once(found)


def _once(found: list[tuple[RecordKept, Bearing]]) -> list[tuple[RecordKept, Bearing]]:
    """Of rules that ask the same of different equipment one: the first that is about it for certain, if any is."""
    kept: dict[tuple, tuple[RecordKept, Bearing]] = {}
    for rule, bearing in found:
        same = (rule.title, rule.by, rule.fields, rule.grades, rule.source)
        if same not in kept or (kept[same][1].holds is None and bearing.holds):
            kept[same] = rule, bearing
    return list(kept.values())


def _and(one: Bearing, other: Bearing) -> Bearing:
    if other.holds is not None:
        return one if other.holds else other
    return Bearing(None, tuple(dict.fromkeys((*one.asks, *other.asks))))


def _leak_checked(rules: Rulebook, system: System, day: dt.date) -> Bearing:
    """Whether a system must be checked for leaks."""
    found = leak_check(rules, system, day)
    return Bearing(None, found.verdict.ask) if found.verdict.is_open else Bearing(found.rule is not None)


def _said(rule: RecordKept, said: Collection[str]) -> Verdict:
    without = missing(rule, said)
    figures = (Figure("kept by", KEEPERS[rule.by]), Figure("needs", "; ".join(FIELDS[need] for need in rule.fields)))
    if not without:
        return Verdict(answer="met", said=f"{rule.title}: the record is complete.", rules=(rule,), figures=figures)
    told = both(FIELDS[need] for need in without)
    return Verdict(
        answer="breach",
        said=f"{rule.title}: the record is incomplete; it does not say {told}.",
        rules=(rule,),
        figures=figures,
        changes=(f"It is complete once it says {told}.",),
    )


def _open(rule: RecordKept, bearing: Bearing) -> Verdict:
    return cannot_be_judged(f"{rule.title}: whether this record is asked for", bearing.asks, (rule,))


# -- the log of appliances that are disposed of --------------------------------------------------------


@dataclass(frozen=True)
class Disposed:
    """An appliance that was evacuated to be disposed of: by day, refrigerant and what was recovered from it."""

    day: dt.date
    system: System
    recovered_mg: int


def is_logged(rules: Rulebook, one: Disposed) -> bool | None:
    """Whether an appliance belongs into the log of disposals; None where that depends on what nobody has said."""
    found = kept_of(rules, Asked("disposal", "technician", one.system), one.day)
    if any(bearing.holds for _, bearing in found):
        return True
    return None if found else False


def monthly_totals(rules: Rulebook, disposed: Iterable[Disposed]) -> dict[tuple[int, int, str], int]:
    """What was recovered from all appliances of the log in each calendar month: (year, month, refrigerant) to mg, in
    that order. A month without a disposal has no line."""
    totals: dict[tuple[int, int, str], int] = defaultdict(int)
    for one in disposed:
        if is_logged(rules, one):
            totals[one.day.year, one.day.month, one.system.substance] += one.recovered_mg
    return dict(sorted(totals.items()))
