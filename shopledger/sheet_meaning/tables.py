"""Finding the tables of a sheet: rows of heads, and what stands under them. Pure.

A sheet has titles over its table, heads in one row or two, a row of units under them, totals and notes among and under
its rows, the heads again on each page, other tables below or beside. What is left out is told, never in silence.
"""

from dataclasses import dataclass, field

from shopledger.sheet_meaning.heads import AMOUNT, LIKELY, NEEDED_BY_NONE, WEIGHT, Head, read_head, unit_said
from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS
from shopledger.sheet_meaning.values import gas
from shopledger.sheet_meaning.words import plain
from shopledger.sheets.grid import ERROR, NUMBER, TEXT, Cell, Sheet

LOOKED_AT = 100  # rows in which the heads that a mapping knows may stand
FEWEST = 2  # heads that must be known for a row to be one of heads


@dataclass(frozen=True)
class Table:
    """head_row: the row of its heads, the lower one of two; first, last: its rows. columns: those that are its own.
    heads: by column what stands over it, of two rows together; units: by column, of a row of units under the heads.
    again: rows in which the heads stand again. beside: of the columns those after an empty one, of which nobody knows
    for sure whether they belong to the same rows."""

    sheet: Sheet
    head_row: int
    first: int
    last: int
    columns: tuple[int, ...]
    heads: dict[int, str]
    units: dict[int, str] = field(default_factory=dict)
    again: frozenset[int] = frozenset()
    beside: tuple[int, ...] = ()

    @property
    def said(self) -> str:
        """Where it stands, e.g. `Store!A3:G40`."""
        left, right = min(self.columns), max(self.columns)
        return f"{self.sheet.place(max(self.head_row, 0), left)}:{self.sheet.place(self.last, right).partition('!')[2]}"

    def fields(self, kind: str) -> dict[str, int]:
        """Fields of the kind that its heads say, with the column."""
        found: dict[str, int] = {}
        for column, text in self.heads.items():
            head = read_head(text, kind)
            if head.sure >= LIKELY and head.field not in {NEEDED_BY_NONE, ""}:
                found.setdefault(head.field, column)
        return found

    def fits(self, kind: str) -> bool:
        """Whether its heads say all that the kind cannot do without."""
        said = set(self.fields(kind))
        if WEIGHT in said or AMOUNT in said:
            said |= {"net", "gross", "charged", "recovered"}
        return all(said & set(of) for of in SHEET_KINDS[kind].needs)

    def told_by(self, kind: str) -> int:
        return len(set(self.fields(kind)) & set(SHEET_KINDS[kind].told_by))


def tables_of(sheet: Sheet) -> list[Table]:
    """All tables of a sheet, from above, those beside each other from the left."""
    seen = [row for row in range(len(sheet.rows)) if _is_head(sheet, row)]
    heads: list[int] = []
    for row in seen:
        again = any(_again(sheet, row, one) for one in heads)
        second = heads and heads[-1] == row - 1 and _grouped(sheet, row)
        if not heads or again or second or (_parted(sheet, row) and heads[-1] != row - 1):
            heads.append(row)
    tables: list[Table] = []
    at = 0
    while at < len(heads):
        top = lower = heads[at]
        if at + 1 < len(heads) and heads[at + 1] == top + 1:  # heads in two rows
            lower, at = top + 1, at + 1
        elif _is_upper(sheet, top - 1):
            top -= 1
        same = [row for row in heads[at + 1 :] if _again(sheet, row, lower)]
        others = [row for row in heads[at + 1 :] if row not in same]
        end = others[0] - 1 if others else len(sheet.rows) - 1
        if others and _is_upper(sheet, others[0] - 1):
            end -= 1
        again = frozenset(row for row in same if row <= end)
        tables += _beside(sheet, top, lower, end, again)
        at = heads.index(others[0]) if others else len(heads)
    return tables


def table_under(sheet: Sheet, heads: set[str]) -> Table | None:
    """The table whose heads are these very words, whatever they say: a mapping knows them."""
    for row in range(min(len(sheet.rows), LOOKED_AT)):
        words = {text for text in _texts(sheet, row) if text}
        if heads and words == heads:
            known = next((table for table in tables_of(sheet) if table.head_row == row), None)
            if known is not None:
                return known
            columns = tuple(column for column in range(sheet.width) if sheet.rows[row][column])
            below = range(row + 1, len(sheet.rows))
            last = max((one for one in below if any(sheet.rows[one][column] for column in columns)), default=row)
            return Table(sheet, row, row + 1, last, columns, {c: sheet.rows[row][c].text for c in columns})
    return None


def _again(sheet: Sheet, row: int, head: int) -> bool:
    """Whether a row says the heads again: those of one of the tables that stand beside each other there."""
    filled = [column for column, cell in enumerate(sheet.rows[row]) if cell]
    said, before = _texts(sheet, row), _texts(sheet, head)
    return len(filled) >= FEWEST and all(said[column] == before[column] for column in filled)


def _texts(sheet: Sheet, row: int) -> list[str]:
    return [plain(cell.text) for cell in sheet.rows[row]]


def _is_head(sheet: Sheet, row: int) -> bool:
    cells = [cell for cell in sheet.rows[row] if cell]
    texts = [cell for cell in cells if cell.kind == TEXT and not _is_figure(cell)]
    if len(texts) < FEWEST or len(texts) < len(cells) or any(_is_data(cell) for cell in texts):
        return False
    heads = [read_head(cell.text) for cell in texts]
    known = {head.field for head in heads if head.sure >= LIKELY and head.field != NEEDED_BY_NONE}
    told = [head for head in heads if head.sure >= LIKELY]
    return len(known) >= FEWEST and len(told) * 2 >= len(texts)


def _is_data(cell: Cell) -> bool:
    """Whether it names a gas, as rows do and heads do not."""
    return any(c.isdigit() for c in cell.text) and gas(cell.text) is not None


def _parted(sheet: Sheet, row: int) -> bool:
    """Whether something parts a row from what stands above: else a row of words would end the table above it."""
    above = sheet.rows[row - 1] if row else []
    return sum(bool(cell) for cell in above) <= 1 or _is_upper(sheet, row - 1)


def _grouped(sheet: Sheet, row: int) -> bool:
    """Whether the row above only groups this one: some of its heads have nothing over them."""
    return any(below and not above for below, above in zip(sheet.rows[row], sheet.rows[row - 1], strict=True))


def _is_figure(cell: Cell) -> bool:
    """Whether a text begins with a figure, as no head does."""
    return cell.text[:1].isdigit() or cell.text[:1] in "-+.,=" or cell.kind in {NUMBER, ERROR}


def _is_upper(sheet: Sheet, row: int) -> bool:
    """Whether a row groups the heads under it: with two cells or more, of which one is merged over columns."""
    if row < 0 or _is_head(sheet, row):
        return False
    over = [area for area in sheet.merged if area[0] == row and area[3] > area[1]]
    return bool(over) and len([cell for cell in sheet.rows[row] if cell]) >= FEWEST


def _beside(sheet: Sheet, top: int, lower: int, end: int, again: frozenset[int]) -> list[Table]:
    heads = _heads(sheet, top, lower)
    start = lower + 1
    columns = [c for c in range(sheet.width) if c in heads or any(sheet.rows[r][c] for r in range(start, end + 1))]
    found = []
    for group, doubtful in _groups(sheet, columns, (start, end), heads):
        units = _units(sheet, start, group) if start <= end else {}
        first = start + bool(units)
        last = max((row for row in range(first, end + 1) if any(sheet.rows[row][c] for c in group)), default=lower)
        mine = {column: heads[column] for column in group if column in heads}
        if mine:
            found.append(Table(sheet, lower, first, last, tuple(group), mine, units, again, doubtful))
    return found


def _heads(sheet: Sheet, top: int, lower: int) -> dict[int, str]:
    upper: dict[int, str] = {}
    if top < lower:
        for column, cell in enumerate(sheet.rows[top]):
            if cell:
                upper[column] = cell.text
        for row, left, _bottom, right in sheet.merged:
            if row == top and left in upper:
                upper |= dict.fromkeys(range(left, right + 1), upper[left])
    heads = {}
    for column, cell in enumerate(sheet.rows[lower]):
        over = upper.get(column, "")
        if not cell:
            if over and top < lower and sheet.rows[top][column]:
                heads[column] = over
            continue
        # The lower one alone where it says it; with the upper one where only both do (Weight: full, empty).
        together = f"{over} {cell.text}".strip()
        alone = read_head(cell.text)
        apart = alone.field not in {WEIGHT, AMOUNT} and alone.sure >= LIKELY
        heads[column] = cell.text if apart or plain(over) == plain(cell.text) else together
        unit = read_head(over).unit
        if unit and not read_head(heads[column]).unit:
            heads[column] = f"{heads[column]} ({unit})"  # said once, over all of them
    return heads


def _units(sheet: Sheet, row: int, columns: list[int]) -> dict[int, str]:
    """The units of a row that holds nothing else in these columns; nothing where it is no such row."""
    cells = {column: sheet.rows[row][column].text.strip("()[] ") for column in columns if sheet.rows[row][column]}
    if not cells or not all(unit_said(text) or not plain(text) for text in cells.values()):
        return {}
    return {column: unit_said(text) for column, text in cells.items() if unit_said(text)}


Group = tuple[list[int], tuple[int, ...]]


def _groups(sheet: Sheet, columns: list[int], rows: tuple[int, int], heads: dict[int, str]) -> list[Group]:
    """Columns that stand together, and those of them that may not. An empty column parts two tables where their rows
    do not go together."""
    runs: list[list[int]] = []
    for column in columns:
        if runs and column == runs[-1][-1] + 1:
            runs[-1].append(column)
        else:
            runs.append([column])
    found: list[Group] = []
    for run in runs:
        if found and _together(sheet, found[-1][0], run, rows, heads):
            left, doubtful = found[-1]
            found[-1] = (left + run, (*doubtful, *run) if len(run) > 1 else doubtful)
        else:
            found.append((run, ()))
    return found


def _together(sheet: Sheet, left: list[int], right: list[int], rows: tuple[int, int], heads: dict[int, str]) -> bool:
    """Whether what stands to the right of an empty column may go on with the rows to its left."""
    here = {row for row in range(rows[0], rows[1] + 1) if any(sheet.rows[row][c] for c in left)}
    there = {row for row in range(rows[0], rows[1] + 1) if any(sheet.rows[row][c] for c in right)}
    said = [read_head(heads[c]).field for c in (*left, *right) if c in heads]
    named = [field for field in said if field not in {NEEDED_BY_NONE, "note", ""}]
    apart = len(right) > 1 and len(there) * 2 < len(here)
    return len(named) == len(set(named)) and there <= here and not apart


def head_at(table: Table, column: int, kind: str) -> Head:
    """What stands over a column of it, with the unit of the row of units."""
    head = read_head(table.heads.get(column, ""), kind)
    unit = table.units.get(column, "")
    return Head(head.text, head.field, head.sure, unit, head.each) if unit and not head.unit else head
