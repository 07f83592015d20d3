"""The sheet again, with a column of remarks: what is wrong with each row, to be mended where it was kept."""

import io

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font, PatternFill

from shopledger.sheets.grid import DAY, NUMBER, Cell, Sheet

MARKED = PatternFill("solid", fgColor="FFE3E0")
CONTROL = dict.fromkeys([*range(9), 11, 12, *range(14, 32)])  # characters that no workbook may hold


def with_remarks(sheet: Sheet, faults: list[list]) -> bytes:
    """faults: place, row, column, message. Text stays text, also where it looks like a formula."""
    wrong: dict[int, dict[int, str]] = {}
    for _place, row, column, message in faults:
        wrong.setdefault(row, {})[column] = message
    book = Workbook(write_only=True)
    page = book.create_sheet("".join(c for c in sheet.name if c not in "[]:*?/\\")[:31] or "Sheet")
    first = min(wrong, default=0)
    for row, cells in enumerate(sheet.rows):
        line = []
        for column, cell in enumerate(cells):
            made = _cell(page, cell)
            if column in wrong.get(row, {}):
                made.fill = MARKED
            line.append(made)
        said = " ".join(wrong.get(row, {}).values())
        remark = _text(page, said or ("Remarks" if row == first - 1 else ""))
        remark.font = Font(bold=bool(said))
        page.append([*line, remark])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(page, cell: Cell) -> WriteOnlyCell:
    if cell.kind == NUMBER:
        made = WriteOnlyCell(page, float(cell.number))
        if cell.unit:
            made.number_format = f'General" {cell.unit}"'
        return made
    if cell.kind == DAY:
        made = WriteOnlyCell(page, cell.when.replace(tzinfo=None))
        made.number_format = "yyyy-mm-dd"
        return made
    return _text(page, cell.text)


def _text(page, text: str) -> WriteOnlyCell:
    made = WriteOnlyCell(page)
    if text:
        made.value = text.translate(CONTROL)[:32_000]
        made.data_type = "s"
    return made
