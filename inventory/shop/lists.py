"""What the lists of every room share: pages, columns to choose, and export of what is shown."""

import csv
import datetime as dt
import html
import io
import tempfile
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from typing import BinaryIO

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import FileResponse, HttpRequest
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.html import strip_tags
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig, Table
from django_tables2.rows import BoundRow
from openpyxl import Workbook

from inventory.shop.models import ChosenColumns
from inventory.shop.turns import in_turn
from inventory.text.cells import harmless
from inventory.text.workbook import fill

PER_PAGE = 25
COLUMNS = "columns"  # of an address: those that are shown, with commas between
CHUNK = 2000


class FromTheEnd(Paginator):
    """Pages of a long list. One behind the middle is read from the other end: the last costs what the first does.
    counted: how many rows there are, where the caller knows a quicker way to count them."""

    def __init__(self, *args, counted: Callable[[], int] | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        self.counted = counted

    @cached_property
    def count(self) -> int:
        return self.counted() if self.counted else super().count

    def page(self, number):
        number = self.validate_number(number)
        bottom = (number - 1) * self.per_page
        top = min(bottom + self.per_page, self.count)
        rows = self.object_list
        data = getattr(rows, "data", rows)
        found = getattr(data, "data", data)
        if isinstance(found, QuerySet) and bottom > self.count // 2 and found.query.order_by:
            table = rows.data.table
            part = list(found.reverse()[self.count - top : self.count - bottom])[::-1]
            return self._get_page([BoundRow(record, table=table) for record in part], number, self)
        return self._get_page(rows[bottom:top], number, self)


def paged(
    request: HttpRequest,
    table: Table,
    per_page: int = PER_PAGE,
    name: str = "",
    counted: Callable[[], int] | None = None,
) -> Table:
    """The table, sorted and turned to the page that the address asks for; a page that is not there is the nearest.
    name: of the list, under which the columns that a person chose are kept.

    How many rows a page has is not the visitor's to say: the table library would take any number, and fail at 0.
    """
    _sorted(request, table)
    if name:
        chosen_columns(request, table, name)
    table.paginate(per_page=per_page, paginator_class=FromTheEnd, counted=counted)
    table.page = table.paginator.get_page(request.GET.get(table.prefixed_page_field))
    return table


def _sorted(request: HttpRequest, table: Table) -> None:
    RequestConfig(request, paginate=False).configure(table)


def chosen_columns(request: HttpRequest, table: Table, name: str) -> None:
    """Hide what the person does not want, or what the address leaves out; the first column stays. `unasked` of a
    table: columns that are hidden unless somebody chooses them."""
    known = [column.name for column in table.columns]
    asked = [one for one in request.GET.get(COLUMNS, "")[:500].split(",") if one in known]
    kept = None if asked else ChosenColumns.objects.filter(username=request.user.username, table=name).first()
    chosen = asked or ([one for one in kept.columns if one in known] if kept else [])
    unasked = getattr(table, "unasked", ())
    if not chosen and unasked:
        chosen = [one for one in known if one not in unasked]
    table.list_name = name
    fixed = {"pick", known[0] if known[0] != "pick" else known[1]}
    table.choices = [
        {"name": column.name, "title": column.header, "shown": not chosen or column.name in chosen}
        for column in table.columns
        if column.name not in fixed
    ]
    table.as_shown = ",".join(one["name"] for one in table.choices if one["shown"])
    if chosen:
        for column in list(table.columns):
            if column.name not in fixed and column.name not in chosen:
                table.columns.hide(column.name)


# -- export ----------------------------------------------------------------------------------------------


def export(request: HttpRequest, table: Table, name: str) -> FileResponse | None:
    """What the list shows, all its pages, as CSV or XLSX where the address asks for one; else None. The rows go
    through a file, so that memory stays flat and the database is let go of before a slow network takes them."""
    if request.GET.get("export", "") not in WRITERS:
        return None
    _sorted(request, table)
    chosen_columns(request, table, name)
    return export_rows(request, rows_of(table), name)


def export_rows(
    request: HttpRequest, rows: Iterator[Sequence[object]], name: str, kind: str = ""
) -> FileResponse | None:
    """The same for rows of plain values, the header first. kind: of the file, where the address names none. Nothing is
    read where no file is asked for."""
    kind = kind or request.GET.get("export", "")
    if kind not in WRITERS:
        return None
    with in_turn(request):
        out = tempfile.TemporaryFile()  # noqa: SIM115 (closed by the answer)
        WRITERS[kind](out, rows)
    out.seek(0)
    types = {"csv": "text/csv; charset=utf-8", "xlsx": XLSX}
    return FileResponse(out, as_attachment=True, filename=f"{name}.{kind}", content_type=types[kind])


XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def rows_of(table: Table) -> Iterator[list[object]]:
    """The header, then each row's cells as plain values. A column that the table can say as a number (`measured`: its
    name to a function from the record to a number and its unit) becomes two, the unit in the second. `plain`: name to
    a function from the record to the cell's text, for lists that grow long; drawing a cell takes the table library ten
    times as long."""
    columns = [column for column in table.columns if column.name != "pick" and column.visible]
    measured, plain = getattr(table, "measured", {}), getattr(table, "plain", {})
    header: list[object] = []
    for column in columns:
        header += [str(column.header), f"{column.header}, unit"] if column.name in measured else [str(column.header)]
    yield header
    data = table.data.data
    records = data.iterator(CHUNK) if isinstance(data, QuerySet) else iter(data)
    for record in records:
        row, cells = None, []
        for column in columns:
            if column.name in measured:
                cells += measured[column.name](record)
            elif column.name in plain:
                cells.append(plain[column.name](record))
            else:
                row = row or BoundRow(record, table=table)
                cells.append(_plain(row.get_cell_value(column.name)))
        yield cells


def said(value: object) -> str | dt.date | None:
    """The text of a cell that may be empty; a day as it is."""
    return value if isinstance(value, dt.date) else str(value) if value else None


def _plain(value: object) -> object:
    if isinstance(value, SafeString):  # markup of our own; what people typed may look like markup and is none
        return html.unescape(strip_tags(value))
    if value is None or isinstance(value, (int, float, Decimal, dt.date)):  # a moment too
        return value
    return str(value)


def _write_csv(out: BinaryIO, rows: Iterator[Sequence[object]]) -> None:
    text = io.TextIOWrapper(out, encoding="utf-8", newline="", write_through=True)
    writer = csv.writer(text, lineterminator="\r\n")
    for row in rows:
        writer.writerow([harmless(value) for value in row])
    text.flush()
    text.detach()


def _write_xlsx(out: BinaryIO, rows: Iterator[Sequence[object]]) -> None:
    book = Workbook(write_only=True)
    fill(book.create_sheet(), ([_by_the_clock(one) for one in row] for row in rows))
    book.save(out)


def _by_the_clock(value: object) -> object:
    """A moment as the shop's clock showed it: a spreadsheet knows of no zones."""
    aware = isinstance(value, dt.datetime) and timezone.is_aware(value)
    return timezone.localtime(value) if aware else value


WRITERS = {"csv": _write_csv, "xlsx": _write_xlsx}
