"""The paper of a unit's leak rate and of what followed each excess: the excess, its figures, each step with its last
day and what was done, and the rules as notes. It is drawn from what is on record when it is made."""

import datetime as dt
import io
from dataclasses import replace

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer

from inventory.measures.quantity import show
from inventory.paper.document import MARGIN, build, entries_table, facts_table, text
from inventory.paper.foot import Origin, foot
from inventory.paper.footnotes import Footnotes
from inventory.verdicts.verdict import Verdict
from jobs.leaks.case_told import Told, ToldCase
from jobs.leaks.models import LeakEvent
from jobs.people.models import Person
from jobs.units.models import Unit

WIDTH = A4[0] - 2 * MARGIN
STEPS = ("Step", "To be done by", "Done on", "How it stands", "Note")
STEP_SHARES = (0.26, 0.12, 0.12, 0.16, 0.34)
ADDITIONS = ("Day", "Added", "Job", "Leak rate", "Where it is written")
ADDITION_SHARES = (0.11, 0.14, 0.13, 0.30, 0.32)
EVENTS = ("Day", "What", "Result", "Where and how", "Done by")
EVENT_SHARES = (0.11, 0.23, 0.20, 0.26, 0.20)


def leak_sheet(unit: Unit, told: Told, *, by: Person, at: dt.datetime) -> bytes:
    """The PDF. told: of the unit, up to today."""
    paper = foot(f"Leaks of {unit.code}", Origin(by.name, at), place="leak-check", substance=unit.refrigerant or None)
    notes = Footnotes()
    story = [
        text(f"Leak rate and leak repair, {unit.title}", "title"),
        facts_table(_facts(unit, told, by), WIDTH, label_share=0.3),
        *_verdicts("Limits and the last addition", [*told.limits, *told.latest_alone], notes),
        *[part for one in told.cases for part in _case(one, notes)],
        *_verdicts("Very much lost in a calendar year", told.chronic, notes),
        *_additions(told, by),
        *_readings(told),
        *notes.story(),
        *([text("Cautions", "heading"), text(" ".join(paper.cautions), "small")] if paper.cautions else []),
    ]
    out = io.BytesIO()
    build(out, story, replace(paper, cautions=()))  # whole in the text: the foot has room for two lines
    return out.getvalue()


def _facts(unit: Unit, told: Told, by: Person) -> list[tuple[str, object]]:
    full = show(told.full_mg, by.mass_unit) if told.full_mg else "not known"
    return [
        ("Unit", f"{unit.code}, {unit.equipment_said.lower()}"),
        ("Customer", unit.customer.name if unit.customer else "not named"),
        ("Premises", _place(unit) or "not named"),
        ("Refrigerant", unit.refrigerant or "not recorded"),
        ("Full charge", full),
        ("Method", told.method or "none set: rolling average"),
        ("Leak rate today", f"{told.present} % a year" if told.present else "not worked out"),
        ("Installed", str(unit.installed_on or "not recorded")),
    ]


def _place(unit: Unit) -> str:
    if unit.premises is None:
        return ""
    return ", ".join(filter(None, [unit.premises.name, ", ".join(unit.premises.address.splitlines())]))


def _verdicts(title: str, found: list[Verdict], notes: Footnotes) -> list[Flowable]:
    if not found:
        return []
    return [
        CondPageBreak(20 * mm),
        text(title, "heading"),
        *[text(f"{one.said} {notes.mark(one)}") for one in found],
    ]


def _case(one: ToldCase, notes: Footnotes) -> list[Flowable]:
    case = one.case
    stands = "open" if one.is_open else f"ended on {case.ended_on}: {case.ended}"
    again = [text(f"Over again while it was open, which restarts nothing: {said.said}") for said in one.again]
    wrong = [text(objection.sentence, "strong") for objection in case.objections]
    head = [
        text(f"Excess of {case.day}, {stands}", "heading"),
        text(case.rule.cited(), "small"),
        text(f"{one.verdict.said} {notes.mark(one.verdict)}"),
    ]
    rows = [
        [
            f"{told.step.what} {notes.mark(told.verdict)}",
            str(told.step.due or "–"),
            str(told.step.done or "–"),
            told.badge,
            told.step.note,
        ]
        for told in one.steps
    ]
    table = entries_table(STEPS, rows, [share * WIDTH for share in STEP_SHARES], (False,) * 5)
    events = [*_events("What was done", one.work), *_events("Papers", one.papers)]
    return [KeepTogether([*head, *again, *wrong]), Spacer(0, 1 * mm), table, *events]


def _events(title: str, rows: list[LeakEvent]) -> list[Flowable]:
    if not rows:
        return []
    cells = [
        [
            str(one.day),
            one.get_kind_display(),
            one.result,
            "; ".join(filter(None, [one.places, one.method, one.parts and f"parts: {one.parts}", one.note])),
            one.done_by,
        ]
        for one in rows
    ]
    table = entries_table(EVENTS, cells, [share * WIDTH for share in EVENT_SHARES], (False,) * 5)
    return [CondPageBreak(24 * mm), text(title, "strong"), table]


def _additions(told: Told, by: Person) -> list[Flowable]:
    """Dates and amounts, and what came of each."""
    rows = [
        [
            str(one.addition.day),
            show(one.addition.mg, by.mass_unit),
            one.addition.job,
            one.said,
            one.limit.rule.citation,
        ]
        for one in told.additions
    ]
    rows += [[str(day), show(mg, by.mass_unit), job, f"{why}: no leak rate", ""] for day, mg, why, job in told.exempt]
    if not rows:
        return []
    table = entries_table(
        ADDITIONS, rows, [share * WIDTH for share in ADDITION_SHARES], (False, True, False, False, False)
    )
    return [CondPageBreak(24 * mm), text("Additions", "heading"), table]


def _readings(told: Told) -> list[Flowable]:
    if not told.readings:
        return []
    return [CondPageBreak(20 * mm), text("How it was read", "heading"), *[text(one) for one in told.readings]]
