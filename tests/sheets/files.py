"""Writing sheets as programs do: XLSX with values behind formulas, XLS, ODS, CSV in several letters and marks."""

import csv
import datetime as dt
import io
import re
import zipfile
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

import openpyxl
import xlwt


@dataclass(frozen=True)
class Formula:
    """A formula with the value that the program worked out."""

    text: str
    value: float


@dataclass(frozen=True)
class Shown:
    """A number under a number format."""

    value: float
    format: str


@dataclass
class Page:
    """A sheet: cells by (row, column) from 0; merged (top, left, bottom, right); hidden rows."""

    name: str
    cells: dict[tuple[int, int], object] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden: set[int] = field(default_factory=set)

    def put(self, row, column, value):
        if value is not None and value != "":
            self.cells[row, column] = value

    @property
    def grid(self):
        rows = max((r for r, _ in self.cells), default=-1) + 1
        width = max((c for _, c in self.cells), default=-1) + 1
        return [[self.cells.get((r, c)) for c in range(width)] for r in range(rows)]


def xlsx(pages):
    book, values = openpyxl.Workbook(), {}
    book.remove(book.active)
    for number, page in enumerate(pages, 1):
        sheet = book.create_sheet(page.name)
        for (row, column), value in page.cells.items():
            cell = sheet.cell(row + 1, column + 1)
            if isinstance(value, Formula):
                cell.value = value.text
                values[number, cell.coordinate] = value.value
            elif isinstance(value, Shown):
                cell.value, cell.number_format = value.value, value.format
            else:
                cell.value = value
        for top, left, bottom, right in page.merged:
            sheet.merge_cells(start_row=top + 1, start_column=left + 1, end_row=bottom + 1, end_column=right + 1)
        for row in page.hidden:
            sheet.row_dimensions[row + 1].hidden = True
    out = io.BytesIO()
    book.save(out)
    return _with_values(out.getvalue(), values)


def _with_values(body, values):
    """Openpyxl leaves the value of a formula out; every program that calculates puts it in."""
    source, out = zipfile.ZipFile(io.BytesIO(body)), io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            text = source.read(name)
            match = re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", name)
            if match:
                said = text.decode()
                for (number, place), value in values.items():
                    if number == int(match[1]):
                        said = re.sub(
                            rf'(<c r="{place}"[^>]*>)<f>(.*?)</f><v ?/?>(</v>)?',
                            rf"\g<1><f>\2</f><v>{value!r}</v>",
                            said,
                        )
                text = said.encode()
            target.writestr(name, text)
    return out.getvalue()


def xls(pages):
    book = xlwt.Workbook()
    day = xlwt.easyxf(num_format_str="DD.MM.YYYY")
    for page in pages:
        sheet = book.add_sheet(page.name)
        tops = {(t, left): (t, b, left, r) for t, left, b, r in page.merged}
        for (row, column), value in page.cells.items():
            value = value.value if isinstance(value, Formula | Shown) else value
            style = day if isinstance(value, dt.date) else xlwt.Style.default_style
            if (row, column) in tops:
                sheet.write_merge(*tops[row, column], value, style)
            else:
                sheet.write(row, column, value, style)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods(pages):
    tables = []
    for page in pages:
        rows = []
        for number, row in enumerate(page.grid):
            cells = "".join(_ods_cell(value) for value in row)
            seen = ' table:visibility="collapse"' if number in page.hidden else ""
            rows.append(f"<table:table-row{seen}>{cells}</table:table-row>")
        rows.append('<table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row>')
        tables.append(f'<table:table table:name="{escape(page.name)}">{"".join(rows)}</table:table>')
    space = "urn:oasis:names:tc:opendocument:xmlns:"
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="{space}office:1.0" '
        f'xmlns:table="{space}table:1.0" xmlns:text="{space}text:1.0" office:version="1.2"><office:body>'
        f"<office:spreadsheet>{''.join(tables)}</office:spreadsheet></office:body></office:document-content>"
    )
    out = io.BytesIO()
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr(
            "META-INF/manifest.xml",
            f'<manifest:manifest xmlns:manifest="{space}manifest:1.0"><manifest:file-entry manifest:full-path="/" '
            f'manifest:media-type="{kind}"/></manifest:manifest>',
        )
        archive.writestr("content.xml", content)
    return out.getvalue()


def _ods_cell(value):
    if isinstance(value, Formula | Shown):
        value = value.value
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, dt.date):
        return f'<table:table-cell office:value-type="date" office:date-value="{value.isoformat()[:10]}"/>'
    if isinstance(value, int | float):
        return f'<table:table-cell office:value-type="float" office:value="{value!r}"/>'
    return f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'


def csv_of(page, mark=";", letters="utf-8-sig", decimal=","):
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark, lineterminator="\r\n")
    for row in page.grid:
        writer.writerow([_csv_cell(value, decimal) for value in row])
    return out.getvalue().encode(letters, "replace")


def _csv_cell(value, decimal):
    if isinstance(value, Formula | Shown):
        value = value.value
    if value is None:
        return ""
    if isinstance(value, dt.date):
        return value.strftime("%d.%m.%Y")
    return f"{value:.15g}".replace(".", decimal) if isinstance(value, float) else str(value)
