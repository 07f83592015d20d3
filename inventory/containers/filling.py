"""What may be filled into a container: by its retest, its safe fill and the grade of what is there."""

import datetime as dt

from inventory.containers.models import Container
from inventory.containers.recorder import Recorder
from inventory.containers.safe_fill import limit, too_weak
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from inventory.verdicts.retested import retested


def check_filling(recorder: Recorder, code: str, day: dt.date) -> None:
    """Refuse a container whose retest is overdue, where the shop's rulebook lets none such be filled."""
    row = recorder.rows.by_code.get(code)
    if row is not None:
        refuse_overdue(row, day)


def refuse_overdue(row: Container, day: dt.date) -> None:
    said = overdue(row, day, Shop.current().rules)
    if said:
        raise Refused(said, "into")


def overdue(row: Container, day: dt.date, rules: Rulebook) -> str:
    """Why a container may not be filled on a day, by its retest; blank where it may."""
    verdict = retested(rules, row.kind, row.retest_due, day)
    if not verdict.is_refused:
        return ""
    return (
        f"The retest of {row.code} was due on {said_day(row.retest_due)}; it must not be filled before it is tested "
        f"({verdict.cited}). Use another container."
    )


def unfit(row: Container, substance: str, day: dt.date, rules: Rulebook) -> str:
    """Why a container may not be filled with a refrigerant on a day, by its retest or its test pressure; blank where
    it may."""
    weak = too_weak(row.cylinder, substance, rules.safe_fill(row.kind, day)) if substance else ""
    return overdue(row, day, rules) or (f"{row.code} {weak}. Use a stronger container." if weak else "")


# What a container holds counts as its grade: nothing lower is put into it. A service machine recycles what it gets.
RANK = {"virgin": 3, "reclaimed": 3, "recycled": 2, "recovered": 1, "mixed": 0}


def keep_grades_apart(recorder: Recorder, source: str, into: str) -> None:
    """Refrigerant of a lower grade goes only where that grade is; an empty cylinder becomes of that grade by it."""
    one, other = recorder.holdings.containers.get(source), recorder.holdings.containers.get(into)
    if one is None or other is None or one.is_oil or other.is_oil or one.unknown or other.unknown:
        return  # what is said of them besides refuses it
    if RANK[one.grade] >= RANK[other.grade]:
        return
    if other.traits.recycles and one.grade != "mixed":
        return
    if other.balance or other.traits.recycles:
        raise Refused(
            f"{source} holds {one.grade} refrigerant; in {into} it would spoil what is there, or count as "
            f"{other.grade}. Name a cylinder for {one.grade} refrigerant, or an empty recovery cylinder.",
            "into",
        )
    recorder.holdings.regrade(into, one.grade)


def check_safe_fill(recorder: Recorder, code: str, day: dt.date) -> None:
    """Refuse a container that is too weak for what is in it, or would now hold more than its safe fill. Of one whose
    stamp was not entered nothing is known."""
    held, row = recorder.holdings.containers[code], recorder.rows.by_code[code]
    rules = Shop.current().rules.safe_fill(row.kind, day)
    weak = too_weak(row.cylinder, held.substance, rules)
    if weak:
        raise Refused(f"{code} {weak}. Use a stronger container.", "into")
    most = limit(row.cylinder, held.substance, rules)
    if most is not None and held.balance > most.mg:
        raise Refused(
            f"{code} would hold {show(held.balance, 'g')}; its safe fill is {show(most.mg, 'g')} ({most}). "
            "Fill less, or use another container.",
            "into",
        )
