"""Which rows of a table are rows: not its totals, titles, notes, nor the heads again; what is hidden is asked. Pure."""

from dataclasses import dataclass, field
from decimal import Decimal

from shopledger.sheet_meaning.asking import LEFT_OUT, Asking, Pending
from shopledger.sheet_meaning.tables import Table
from shopledger.sheet_meaning.values import Unread, figure, gas
from shopledger.sheet_meaning.words import TOTALS, plain
from shopledger.sheets.grid import ERROR, NUMBER, TEXT, Cell

TELLS = ("substance", "container", "date", "unit", "vin", "customer", "username", "name", "supplier", "technician")
DITTO = frozenset(
    {'"', "''", "”", "“", "〃", "do", "dto", "ditto", "idem", "id", "wie oben", "same", "s o", '" "', '-"-'}
)


@dataclass
class Kept:
    """rows: those that say something. out: by row why it is left out. over: by row the words of the title that stands
    over it, where titles part a table."""

    rows: list[int] = field(default_factory=list)
    out: dict[int, str] = field(default_factory=dict)
    over: dict[int, str] = field(default_factory=dict)


def kept_rows(table: Table, columns: dict[str, int], asking: Asking) -> Kept:
    kept, title = Kept(), ""
    mine = sorted(set(columns.values()))
    tells = [columns[name] for name in TELLS if name in columns]
    for row in range(table.first, table.last + 1):
        cells = table.sheet.rows[row]
        filled = [column for column in table.columns if cells[column]]
        if not filled:
            continue
        if row in table.again:
            kept.out[row] = "the heads again"
        elif why := _no_row(table, row, tells, kept):
            kept.out[row] = why
        elif len(filled) == 1 and cells[filled[0]].kind == TEXT and len(mine) > 1:
            title = cells[filled[0]].text
            kept.out[row] = "a title or a note"
        else:
            kept.rows.append(row)
            kept.over[row] = title
    for rows, id, what in (
        (table.sheet.hidden_rows, "hidden", "hidden"),
        (table.sheet.struck_rows, "struck", "struck out"),
    ):
        _asked_about(table, kept, asking, (rows, id, what))
    return kept


def _no_row(table: Table, row: int, tells: list[int], kept: Kept) -> str:
    """Why it is none, where it is none: a total has its word, or no word at all and the sum of what stands above."""
    before, totals = kept.rows, [one for one, why in kept.out.items() if why == "a total"]
    filled = [column for column in table.columns if table.sheet.rows[row][column]]
    cells = [table.sheet.rows[row][column] for column in filled]
    told = [table.sheet.rows[row][column] for column in tells if table.sheet.rows[row][column]]
    words = [cell for cell in cells if cell.kind == TEXT and not _number(cell)]
    is_total = any(_total(cell) for cell in words)
    if is_total and (all(_total(cell) for cell in told) or len(words) == 1):
        return "a total"
    if not words and not told and before:
        # of all that stands above, or of what stands between it and the total before it
        part = [one for one in before if one > max((done for done in totals if done < row), default=-1)]
        if any(_sums(table, rows, column, row) for rows in (before, part) for column in filled):
            return "a total"
    return ""


def _total(cell: Cell) -> bool:
    words = plain(cell.text)
    first, _, rest = words.partition(" ")
    after = next((words.removesuffix(f" {total}") for total in TOTALS if words.endswith(f" {total}")), "")
    return (
        words in TOTALS
        or (first in TOTALS and (gas(rest) is not None or not rest.strip("0123456789 kgl")))
        or gas(after) is not None
    )


def _number(cell: Cell) -> Decimal | None:
    if cell.kind == ERROR:
        return None
    try:
        return figure(cell).readings["."]
    except Unread:
        return None


def _sums(table: Table, above: list[int], column: int, row: int) -> bool:
    """Whether a cell is the sum of all that stands above it, to what its last digit can say."""
    value = _number(table.sheet.rows[row][column])
    parts = [_number(table.sheet.rows[one][column]) for one in above]
    given = [part for part in parts if part is not None]
    if value is None or len(given) < 2:
        return False
    return abs(sum(given) - value) * 1000 <= abs(value)


def _asked_about(table: Table, kept: Kept, asking: Asking, marked: tuple[frozenset[int], str, str]) -> None:
    """Rows that nobody sees, and those that somebody struck out, may be rows that do not count any more."""
    rows, id, what = marked
    found = [row for row in kept.rows if row in rows]
    left = min(table.columns)
    answer = ""
    for row in found:
        try:
            answer = asking.ask(
                id,
                f"{{n}} of the table are {what} in the sheet. Do they count as well?",
                (("yes", "yes, bring them in too"), (LEFT_OUT, "no, leave them out")),
                table.sheet.place(row, left),
                lasting=False,
            )
        except Pending:
            continue
    if answer == LEFT_OUT:
        kept.rows = [row for row in kept.rows if row not in rows]
        kept.out |= dict.fromkeys(found, f"{what} in the sheet")


def is_ditto(cell: Cell) -> bool:
    return cell.kind not in {NUMBER, ERROR} and bool(cell) and (cell.text in DITTO or plain(cell.text) in DITTO)
