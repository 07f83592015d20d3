"""What the page of a sheet shows: its cells, with what the program takes them for beside them."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from shopledger.sheet_meaning.asking import LEFT_OUT, Question
from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS, called
from shopledger.sheet_meaning.plan import Plan
from shopledger.sheets.grid import Sheet, letters

ROWS = 40  # of a page
MOST_COLUMNS = 40
CELL = 60  # characters that are shown of one


@dataclass(frozen=True)
class Column:
    """number: from 0. field: what it is taken for. choices: (field, words)."""

    number: int
    letters: str
    head: str
    field: str
    choices: list[tuple[str, str]]


@dataclass(frozen=True)
class Shown:
    """A row: number as people count. look: head, out, faulty, blank for one that counts. cells: (text, whether wrong).
    said: what it becomes, why it does not, or what is wrong with it."""

    number: int
    look: str
    cells: list[tuple[str, bool]]
    said: str


@dataclass(frozen=True)
class Asked:
    """A question, with the name of its field and what stands there."""

    name: str
    question: Question
    value: str
    fault: str = ""


@dataclass
class Grid:
    columns: list[Column] = field(default_factory=list)
    rows: list[Shown] = field(default_factory=list)
    earlier: int | None = None
    later: int | None = None
    more_columns: int = 0


def sheet_of(plan: Plan, name: str) -> Sheet:
    """The sheet that is looked at: that of the table, else the one named, else the first that holds anything."""
    if plan.table is not None:
        return plan.table.sheet
    named = plan.book.called(name)
    return named or next(sheet for sheet in plan.book.sheets if sheet.rows)


def grid_of(plan: Plan, sheet: Sheet, start: int, faults: list[list]) -> Grid:
    """start: the first row shown, from 0. faults: place, row, column, message."""
    width = min(sheet.width, MOST_COLUMNS)
    last = min(start + ROWS, len(sheet.rows))
    wrong: dict[int, dict[int, str]] = {}
    for _place, row, column, message in faults:
        wrong.setdefault(row, {}).setdefault(column, message)
    rows = [_row(plan, sheet, row, width, wrong.get(row, {})) for row in range(start, last)]
    return Grid(
        list(_columns(plan, sheet, width)),
        rows,
        max(0, start - ROWS) if start else None,
        last if last < len(sheet.rows) else None,
        sheet.width - width,
    )


def _columns(plan: Plan, sheet: Sheet, width: int) -> Iterator[Column]:
    taken = {column: name for name, column in plan.columns.columns.items()}
    choices = [(LEFT_OUT, "not needed"), *((name, called(name)) for name in SHEET_KINDS[plan.kind].fields)]
    for column in range(width):
        head = plan.table.heads.get(column, "") if plan.table else ""
        yield Column(column, letters(column), head, taken.get(column, LEFT_OUT), choices)


def _row(plan: Plan, sheet: Sheet, row: int, width: int, wrong: dict[int, str]) -> Shown:
    cells = [(cell.text[:CELL], column in wrong) for column, cell in enumerate(sheet.rows[row][:width])]
    table = plan.table
    if table is None:
        return Shown(row + 1, "", cells, "")
    if wrong:
        return Shown(row + 1, "faulty", cells, " ".join(wrong.values()))
    if row == table.head_row:
        return Shown(row + 1, "head", cells, "heads")
    out = plan.kept.out.get(row) or plan.built.out.get(row)
    if out or not table.first <= row <= table.last:
        return Shown(row + 1, "out", cells, out or "")
    return Shown(row + 1, "", cells, plan.built.says.get(row, ""))


def asked_of(plan: Plan) -> list[Asked]:
    """All questions, the open ones first."""
    everything = list(plan.asking.asked.values())
    ordered = [one for one in everything if one.given is None] + [one for one in everything if one.given is not None]
    return [
        Asked(f"answer-{number}", one, one.given or "", plan.asking.faults.get(one.id, ""))
        for number, one in enumerate(ordered)
    ]
