"""A program of its own: reads a workbook, and writes its cells. Run by `book.py`; imports what reads workbooks alone.

    python -I child.py MEMORY CPU KIND MOST_CELLS < workbook > answer

MEMORY: bytes of address space; CPU: seconds; where the platform has such limits they bind before the first byte is
read. KIND: xlsx, ods, or another for XLS. The answer is JSON: {"refused": word}, or {"sheets": [...]}, each with
name, hidden, rows, merged ([first row, first column, last row, last column], from 0), hidden_rows, hidden_columns.
A cell is null, a text, a number, true or false, or a list of a word and what it says: day, moment, time (ISO 8601),
error (what the sheet shows), formula (one whose value was never worked out), or unit (a number, and the unit that its
number format shows beside it).
"""

import datetime as dt
import io
import json
import math
import re
import sys

UNIT_SHOWN = re.compile(r'"\s*([A-Za-z.]{1,6})\s*"')  # in a number format, e.g. 0.00" kg"

TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"


class Unfit(Exception):
    """A word of the answer."""


def said(value: object) -> object:
    if value is None or value == "":
        return None
    if isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else ["error", str(value)]
    if isinstance(value, dt.datetime):
        return ["moment", value.isoformat()]
    if isinstance(value, dt.date):
        return ["day", value.isoformat()]
    if isinstance(value, dt.time):
        return ["time", value.isoformat()]
    return ["error", str(value)]


def sheets_of(body: bytes, most: int) -> list[dict]:
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError, SheetTypeEnum, SheetVisibleEnum

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(body))
        found, left = [], most
        for at, about in enumerate(book.sheets_metadata):
            if about.typ != SheetTypeEnum.WorkSheet:
                continue
            sheet = book.get_sheet_by_index(at)
            left -= sheet.total_height * sheet.total_width
            if left < 0:
                raise Unfit("large")
            rows = [[said(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
            merged = [[*first, *last] for first, last in sheet.merged_cell_ranges or []]
            hidden = about.visible != SheetVisibleEnum.Visible
            found.append({"name": about.name, "hidden": hidden, "rows": rows, "merged": merged})
    except PasswordError:
        raise Unfit("password") from None
    except CalamineError as error:
        raise Unfit("password" if "password" in str(error).lower() else "damaged") from None
    return found


def told_more(sheets: list[dict], body: bytes, most: int) -> None:
    """What only the other reader tells of an XLSX: rows and columns that are hidden, rows struck out, errors, formulas
    that have no value, units in number formats."""
    from openpyxl import load_workbook
    from openpyxl.utils import column_index_from_string

    book = load_workbook(io.BytesIO(body))
    for about in sheets:
        sheet = book[about["name"]]
        if len(sheet._cells) > most:
            raise Unfit("large")
        about["hidden_rows"] = sorted(at - 1 for at, row in sheet.row_dimensions.items() if row.hidden)
        columns = []
        for letters, column in sheet.column_dimensions.items():
            if column.hidden:
                first = column.min or column_index_from_string(letters)
                columns += range(first - 1, min(column.max or first, first + 200))
        about["hidden_columns"] = sorted(set(columns))
        struck: dict[int, int] = {}  # by row: how many more of its cells are struck out than are not
        for (row, column), cell in sheet._cells.items():
            mark(about["rows"], row - 1, column - 1, cell)
            if cell.value is not None:
                struck[row - 1] = struck.get(row - 1, 0) + (1 if cell.font.strike else -1)
        about["struck_rows"] = sorted(row for row, more in struck.items() if more > 0)


def told_by_ods(sheets: list[dict], body: bytes) -> None:
    """Rows and columns that an ODS hides, which stands in its XML alone."""
    from xml.etree.ElementTree import iterparse
    from zipfile import ZipFile

    lists = {"table-row": "hidden_rows", "table-column": "hidden_columns"}
    by_name = {about["name"]: about for about in sheets}
    about, depth, at, ends = None, 0, {}, {}
    with ZipFile(io.BytesIO(body)) as archive, archive.open("content.xml") as source:
        # Memory and time of this program are bounded, whatever entities grow to.
        for event, element in iterparse(source, ("start", "end")):  # noqa: S314 (as said)
            tag = element.tag.removeprefix(TABLE)
            if event == "end":
                depth -= tag == "table"
                element.clear()
            elif tag == "table":
                depth += 1
                if depth == 1:  # one in a cell is no sheet
                    about = by_name.get(element.get(f"{TABLE}name"))
                    rows = about["rows"] if about else []
                    at = dict.fromkeys(lists, 0)
                    ends = {"table-row": len(rows), "table-column": max(map(len, rows), default=0)}
            elif depth == 1 and tag in lists and about:
                times = int(element.get(f"{TABLE}number-{tag.removeprefix('table-')}s-repeated", 1))
                if element.get(f"{TABLE}visibility") in {"collapse", "filter"}:
                    found = about.setdefault(lists[tag], [])
                    found += range(at[tag], min(at[tag] + times, ends[tag]))
                at[tag] += times


def mark(rows: list[list], row: int, column: int, cell) -> None:
    if row >= len(rows):
        if cell.data_type not in {"e", "f"}:
            return
        rows += [[] for _ in range(row + 1 - len(rows))]
    line = rows[row]
    if column >= len(line):
        line += [None] * (column + 1 - len(line))
    held = line[column]
    if held is None and cell.data_type == "e":
        line[column] = ["error", str(cell.value)]
    elif held is None and cell.data_type == "f":
        line[column] = ["formula", str(cell.value)[:200]]
    elif isinstance(held, int | float) and not isinstance(held, bool):
        unit = UNIT_SHOWN.search(cell.number_format or "")
        if unit:
            line[column] = ["unit", held, unit[1]]
        elif "%" in (cell.number_format or ""):
            line[column] = ["unit", held, "%"]


def limit(memory: int, cpu: int) -> None:
    try:
        import resource
    except ImportError:  # Windows has none: there the size of the file alone bounds it
        return
    for name, most in (("RLIMIT_AS", memory), ("RLIMIT_CPU", cpu), ("RLIMIT_CORE", 0), ("RLIMIT_FSIZE", 0)):
        _, hard = resource.getrlimit(getattr(resource, name))
        if hard == resource.RLIM_INFINITY or most < hard:
            resource.setrlimit(getattr(resource, name), (most, most))


def answer(body: bytes, kind: str, most: int) -> dict:
    try:
        found = sheets_of(body, most)
        if kind == "xlsx":
            told_more(found, body, most)
        elif kind == "ods":
            told_by_ods(found, body)
        return {"sheets": found}
    except Unfit as unfit:
        return {"refused": str(unfit)}
    except MemoryError:
        return {"refused": "memory"}
    except Exception:  # whatever a damaged workbook makes a reader raise
        return {"refused": "damaged"}


def main(memory: str, cpu: str, kind: str, most: str) -> None:
    limit(int(memory), int(cpu))
    found = answer(sys.stdin.buffer.read(), kind, int(most))
    sys.stdout.buffer.write(json.dumps(found, allow_nan=False, default=str).encode("utf-8", "surrogatepass"))


if __name__ == "__main__":
    main(*sys.argv[1:])
