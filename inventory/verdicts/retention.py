"""How long a record is kept. Pure: no Django here."""

import datetime as dt
from dataclasses import dataclass

from inventory.reference.record_rules import Retention
from inventory.reference.rule import RECORDS, USE_ASKED, Bearing, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged

NO_SYSTEM = System(None, "")
DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class OnFile:
    """A record. kind: of RECORDS. day: its own. ended_on: the day on which what it is about ended, such as the work of
    the person whose certificate it is; None: it goes on. system: the equipment that it is about, if any."""

    kind: str
    day: dt.date
    ended_on: dt.date | None = None
    system: System = NO_SYSTEM


def kept(rules: Rulebook, record: OnFile, today: dt.date) -> Verdict:
    """Whether a record must still be there on a day: due, by the last day on which it must (None: as long as what it is
    about goes on), or free. Of several rules the longest counts."""
    found, what = _about(rules, record, today), RECORDS[record.kind]
    if not found:
        return Verdict(answer="free", said=f"No rule says how long {what} are kept.")
    figures = _figures(record)
    asks = [ask for _, bearing in found for ask in bearing.asks]
    if asks:
        whole = tuple(rule for rule, _ in found)
        return cannot_be_judged(f"How long records ({what}) are kept", asks, whole, figures=figures)
    unending = tuple(rule for rule, _ in found if _gone_from(rule, record) is None)
    if unending:
        return Verdict(
            answer="due",
            said=f"Records ({what}): kept as long as what they are about goes on, and {unending[0].years} years more.",
            rules=unending,
            figures=figures,
            changes=("The years begin on the day on which it ends.",),
        )
    gone, rule = max(((_gone_from(rule, record), rule) for rule, _ in found), key=lambda one: one[0])
    if gone <= today:
        said = f"Records ({what}): need not be kept any more since {gone}."
        return Verdict(answer="free", said=said, rules=(rule,), figures=figures)
    said = f"Records ({what}): kept through {gone - DAY}; they may go from {gone} on."
    return Verdict(answer="due", said=said, rules=(rule,), figures=figures, by=gone - DAY)


def may_go_from(rules: Rulebook, record: OnFile, today: dt.date) -> dt.date | None:
    """The first day on which a record need not be there any more, by the rules of today; None: not while what it is
    about goes on, or nobody can say. The record's own day where no rule keeps it."""
    found = _about(rules, record, today)
    days = [None if bearing.asks else _gone_from(rule, record) for rule, bearing in found]
    return None if None in days else max(days, default=record.day)


def _about(rules: Rulebook, record: OnFile, today: dt.date) -> list[tuple[Retention, Bearing]]:
    """The rules for records of that kind. Where nobody has said what kind of appliance it is, it is the usual one of
    its kind of equipment."""
    return [
        (rule, bearing)
        for rule, bearing in rules.about("retention", record.system, today)
        if {"*", record.kind} & set(rule.records) and USE_ASKED not in bearing.asks
    ]


def _gone_from(rule: Retention, record: OnFile) -> dt.date | None:
    since = record.day if rule.counted_from == "record" else record.ended_on
    return None if since is None else rule.may_go_from(since)


def _figures(record: OnFile) -> tuple[Figure, ...]:
    end = "goes on" if record.ended_on is None else record.ended_on.isoformat()
    return (Figure("day of the record", record.day.isoformat()), Figure("end of what it is about", end))
