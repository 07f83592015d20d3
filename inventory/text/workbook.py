"""Sheets of a spreadsheet that is written: days are days, figures are figures. Pure: no Django here.

Numbers are stored as numbers and days as days, so that no language of a spreadsheet reads them otherwise; what looks
like a number and is none, e.g. a document's `3-4`, stays text.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import chain, islice

from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from inventory.text.cells import harmless

LOOKED_AT = 200  # rows by which columns are made wide enough
NARROWEST, WIDEST = 8, 60  # letters


def fill(page: WriteOnlyWorksheet, rows: Iterable[Sequence[object]]) -> None:
    """Rows of values into a sheet, the first the heads, which stay in sight and filter what stands below them.

    A date or a Decimal keeps all its decimals; a moment is that of the shop's clock.
    """
    left = iter(rows)
    first = list(islice(left, LOOKED_AT))
    if not first:
        return
    for place, width in enumerate(_widths(first), start=1):
        page.column_dimensions[get_column_letter(place)].width = width
    page.freeze_panes = "B2"
    heads, *others = first
    page.append([_head(page, title) for title in heads])
    written = 1 + _body(page, chain(others, left))
    page.auto_filter.ref = f"A1:{get_column_letter(len(heads))}{written}"


def _body(page: WriteOnlyWorksheet, rows: Iterator[Sequence[object]]) -> int:
    count = 0
    for count, row in enumerate(rows, start=1):  # noqa: B007 (how many there were)
        page.append([_cell(page, value) for value in row])
    return count


def _head(page: WriteOnlyWorksheet, title: object) -> WriteOnlyCell:
    found = WriteOnlyCell(page, ILLEGAL_CHARACTERS_RE.sub("", str(harmless(str(title)))))
    found.font = Font(bold=True)
    found.alignment = Alignment(vertical="top", wrap_text=True)
    return found


def _cell(page: WriteOnlyWorksheet, value: object) -> object:
    if isinstance(value, str):
        return ILLEGAL_CHARACTERS_RE.sub("", str(harmless(value)))
    if isinstance(value, Decimal):
        found = WriteOnlyCell(page, value)
        found.number_format = number_format(value)
        return found
    if isinstance(value, dt.datetime):
        return value.replace(tzinfo=None)  # a spreadsheet knows of no zones
    return value


def number_format(value: Decimal) -> str:
    """With thousands parted and as many decimals as the figure has, both as the reader's spreadsheet writes them."""
    places = max(0, -value.as_tuple().exponent)
    return f"#,##0.{'0' * places}" if places else "#,##0"


def _widths(rows: Sequence[Sequence[object]]) -> list[float]:
    """In letters: the longest that stands in each column, and the longest word of its head and the arrow behind."""
    heads, *others = rows
    widths = [max((len(word) for word in str(title).split()), default=0) + 3 for title in heads]
    for row in others:
        for place, value in enumerate(row[: len(widths)]):
            widths[place] = max(widths[place], _length(value))
    return [min(max(width, NARROWEST), WIDEST) for width in widths]


def _length(value: object) -> int:
    if value is None:
        return 0
    if isinstance(value, Decimal):
        return len(f"{value:,f}") + 2
    if isinstance(value, (dt.date, dt.datetime)):
        return 18 if isinstance(value, dt.datetime) else 12
    return max(map(len, str(value).splitlines()), default=0) + 2
