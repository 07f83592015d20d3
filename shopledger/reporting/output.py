"""A report as CSV, JSON, XLSX and PDF. Figures are the same text in all of them: g or mL, three decimals.

CSV, XLSX and JSON call people by their usernames, parties, customers and units by their codes, and hold nothing that
somebody wrote; so does a PDF that is kept as issued. None of them changes with a name, nor ever holds words that have
to be erased. Pages, and PDFs that are drawn now, say names. The price is that whoever reads a file wants a bundle's
who.csv beside it.
"""

import csv
import datetime as dt
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import chain

from openpyxl import Workbook
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Spacer, Table

from inventory.ledger.queries import head
from inventory.ledger.snapshot import one_moment
from inventory.measures.quantity import grouped, show
from inventory.paper.chart import Picture
from inventory.paper.document import (
    MARGIN,
    PLAIN,
    Foot,
    QrCode,
    build,
    entries_table,
    rows_table,
    sum_up,
    text,
    text_width,
)
from inventory.paper.foot import Origin, foot
from inventory.paper.footnotes import Footnotes
from inventory.shop.clock import now
from inventory.text.cells import harmless
from inventory.text.workbook import fill
from shopledger.reporting.corrections import corrected_later
from shopledger.reporting.report import NUMERIC, QUANTITIES, Column, Period, Report, ReportTable, cell, coded

FORMATS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "json": "application/json",
    "pdf": "application/pdf",
}
SIZES = (6.4, 5.6)  # points; smaller than that is not read on paper


@dataclass(frozen=True)
class Drawn:
    """What a PDF shows beside the table."""

    foot: Foot
    pictures: Sequence[Picture]


@dataclass(frozen=True)
class Made:
    """A report that was run: when, for whom, and what the ledger's last digest was. made_by: a person is said in
    two ways, as in the table. drawn: what its PDF needs."""

    report: Report
    period: Period
    key: str | None
    table: ReportTable
    made_at: dt.datetime
    made_by: str
    number: int
    digest: str
    drawn: Drawn | None = None

    @property
    def title(self) -> str:
        by = f", by {self.key}" if self.key else ""
        return f"{self.report.title} report{by}"

    def filename(self, kind: str) -> str:
        by = f"-by-{self.key}" if self.key else ""
        return f"{self.report.name}{by}-{self.period.first}-to-{self.period.last}.{kind}"


def make(report: Report, period: Period, key: str | None, made_by: str, *, drawn: bool = False) -> Made:
    """Run a report, all of it at one moment of the ledger. drawn: it will be written as a PDF too. Raises what the
    report raises where the ledger contradicts itself."""
    with one_moment():
        number, digest = head()
        table = report.rows(period, key)
        if report.of_ledger and table.rows:
            table = replace(table, notes=(*table.notes, *corrected_later(period)))
        made = Made(report, period, key, table, now(), made_by, number, digest)
        return replace(made, drawn=_drawn(made)) if drawn else made


def _drawn(made: Made) -> Drawn:
    origin = Origin(made.made_by, made.made_at, (made.number, made.digest))
    return Drawn(foot(made.title, origin, place="report"), pictures_of(made))


def pictures_of(made: Made) -> list[Picture]:
    """Of its figures; none where it has no rows. Asked at the moment of the ledger at which it was made."""
    drawn = [draw(made.period) for draw in made.report.pictures] if made.table.rows else []
    return [one for one in drawn if one is not None]


def written(made: Made, kind: str, in_codes: bool = False) -> bytes:
    """in_codes: a PDF too, which is kept and was made by a username; the other formats always are."""
    return as_pdf(made, in_codes) if kind == "pdf" else {"csv": as_csv, "xlsx": as_xlsx, "json": as_json}[kind](made)


def as_csv(made: Made) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([column.name for column in made.table.columns])
    kinds = [column.kind for column in made.table.columns]
    for row in made.table.said(in_codes=True):
        writer.writerow([harmless(v) if kind == "text" else v for v, kind in zip(row, kinds, strict=True)])
    return out.getvalue().encode()


def as_json(made: Made) -> bytes:
    """Figures are text, as in the CSV, so that no reader rounds them."""
    names = [column.name for column in made.table.columns]
    said = {
        "report": made.report.name,
        "from": made.period.first.isoformat(),
        "to": made.period.last.isoformat(),
        "by": made.key,
        "made_at": made.made_at.isoformat(),
        "made_by": coded(made.made_by),
        "head": {"number": made.number, "digest": made.digest},
        "columns": names,
        "rows": [dict(zip(names, row, strict=True)) for row in made.table.said(in_codes=True)],
    }
    return (json.dumps(said, ensure_ascii=False, indent=1) + "\n").encode()


def as_xlsx(made: Made) -> bytes:
    """Figures are numbers in g or mL, days are days: no spreadsheet takes them for anything else."""
    book = Workbook(write_only=True)
    columns = made.table.columns
    said = made.table.said(in_codes=True)
    rows = (
        [_worth(column, value, shown) for column, value, shown in zip(columns, row, line, strict=True)]
        for row, line in zip(made.table.rows, said, strict=True)
    )
    fill(book.create_sheet(made.report.title), chain([[column.title for column in columns]], rows))
    about = book.create_sheet("About")
    about.column_dimensions["A"].width, about.column_dimensions["B"].width = 20, 70
    for pair in (
        ("Report", made.report.title),
        ("From", made.period.first),
        ("To", made.period.last),
        ("By", made.key or ""),
        ("Made at", made.made_at.isoformat()),
        ("Made by", harmless(coded(made.made_by))),
        ("Ledger at voucher", made.number),
        ("Digest", made.digest),
    ):
        about.append(list(pair))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _worth(column: Column, value: object, said: str) -> object:
    """A cell as a spreadsheet has it. said: as the other files do."""
    if value is None:
        return None
    if column.kind == "day":
        return value
    return Decimal(said) if column.numeric and said else said


# A list of verdicts of up to so many rows is read to the end of each text; a longer one has a line a row.
READ_WHOLE = 300


def as_pdf(made: Made, in_codes: bool = False) -> bytes:
    """Needs a report that was made to be drawn: by now the ledger may have gone on."""
    if made.drawn is None:
        raise ValueError("a report that is written as a PDF is made with drawn=True")
    pagesize = landscape(A4)
    width = pagesize[0] - 2 * MARGIN
    top = Table(
        [
            [
                [text(made.title, "title"), text(f"{made.period.first} to {made.period.last}. {made.report.about}")],
                QrCode(made.digest),
            ]
        ],
        colWidths=[width - 20 * mm, 20 * mm],
        style=PLAIN,
    )
    notes = Footnotes()
    story = [top, Spacer(0, 3 * mm), *_tables(_marked(made.table, notes), width, in_codes)]
    if not made.table.rows:
        story.append(text("The ledger holds nothing for this period."))
    for one in made.drawn.pictures:
        story += [Spacer(0, 5 * mm), KeepTogether(_pictured(one, width))]
    story += [text(coded(note) if in_codes else note, "small") for note in made.table.notes]
    story += notes.story()
    out = io.BytesIO()
    build(out, story, made.drawn.foot, pagesize=pagesize)
    return out.getvalue()


BESIDE = 15  # rows of figures that stand beside a picture; more are in the report, split as the picture is


def _pictured(one: Picture, width: float) -> list:
    """A picture with its figures beside it."""
    if len(one.rows) > BESIDE:
        return [text(one.title, "heading"), one.draw(width)]
    share = 0.56 * width
    figures = [[_figure(cell, one.is_oil) for cell in row] for row in one.rows]
    first = 0.42 if len(one.heads) < 4 else 0.28
    room = width - share - 5 * mm
    widths = [first * room, *[(1 - first) * room / (len(one.heads) - 1)] * (len(one.heads) - 1)]
    beside = rows_table(list(one.heads), figures, widths, [False, *[True] * (len(one.heads) - 1)], size=6.4)
    both = Table([[one.draw(share), beside]], colWidths=[share + 5 * mm, room], style=PLAIN)
    return [text(one.title, "heading"), both]


def _figure(cell: object, is_oil: bool) -> str:
    return "" if cell is None else show(cell, "mL" if is_oil else "g") if isinstance(cell, int) else str(cell)


def _marked(table: ReportTable, notes: Footnotes) -> ReportTable:
    """The table with a column that says which notes are about a row."""
    if not any(table.why):
        return table
    rows = [(*row, notes.mark(*why)) for row, why in zip(table.rows, table.why, strict=True)]
    return replace(table, columns=[*table.columns, Column("note", "Note")], rows=rows)


def empty_columns(table: ReportTable) -> list[int]:
    """Places of the quantity columns that hold nothing but zeros; people read faster without them."""
    return [
        i
        for i, column in enumerate(table.columns)
        if column.kind in QUANTITIES
        and column.name not in {"opening", "closing"}
        and not any(row[i] for row in table.rows)
    ]


def _tables(table: ReportTable, width: float, in_codes: bool) -> list:
    """The columns that say something; columns of nothing but zeros are named below the table instead. A figure is
    never cut: where the columns do not fit beside each other at a size that can be read, those that are over go
    into a further table below, behind the columns that name the row."""
    said = [_parted(table, row) for row in table.said(in_codes)]
    if table.total:
        cells = [cell(column, value) for column, value in zip(table.columns, table.total, strict=True)]
        said.append(_parted(table, cells))
    empty = empty_columns(table)
    shown = [i for i in range(len(table.columns)) if i not in empty]
    for size in SIZES:
        needs, wants = (
            {i: _need(table.columns[i], [row[i] for row in said], size, letters) for i in shown} for letters in (22, 60)
        )
        if sum(needs.values()) <= width:
            break
    tables: list = []
    for band in bands(shown, needs, width, _names(table, shown)):
        widths = widened([needs[i] for i in band], [wants[i] for i in band], width)
        tables += [Spacer(0, 3 * mm)] if tables else []
        header = [table.columns[i].title for i in band]
        numeric = [table.columns[i].kind in NUMERIC for i in band]
        cells = [[row[i] for i in band] for row in said]
        if len(cells) <= READ_WHOLE and any(table.why):
            tables.append(entries_table(header, cells, widths, numeric, size=size))
        else:
            tables += rows_table(header, cells, widths, numeric, size=size)
            if table.total:
                sum_up(tables[-1], size)
    if empty and table.rows:
        names = ", ".join(table.columns[i].title.lower() for i in empty)
        tables += [Spacer(0, 2 * mm), text(f"Nothing in this period: {names}.", "small")]
    return tables


def _parted(table: ReportTable, row: list[str]) -> list[str]:
    """A row's cells with thousands parted in its figures, for people to read."""
    return [grouped(said) if column.numeric else said for column, said in zip(table.columns, row, strict=True)]


def _names(table: ReportTable, shown: list[int]) -> list[int]:
    """The columns that say which row this is: those before the first figure, two at most."""
    first = next((at for at, i in enumerate(shown) if table.columns[i].kind in NUMERIC), len(shown))
    return shown[: min(first, 2)]


def _need(column: Column, cells: list[str], size: float, letters: int) -> float:
    """The width in points at which no figure is cut and no heading breaks inside a word. Text may be cut after so many
    letters; the CSV holds it whole."""
    longest = max(cells, key=len, default="")
    if column.kind not in NUMERIC:
        longest = longest[:letters]
    word = max(column.title.split(), key=len)
    return max(text_width(longest, size), text_width("0000.00", size), text_width(word, size, bold=True)) + 6


def widened(needs: list[float], wants: list[float], width: float) -> list[float]:
    """Share out what is left of `width`: first among the columns that want more, then evenly, 20 mm each at most."""
    left = width - sum(needs)
    missing = sum(want - need for need, want in zip(needs, wants, strict=True))
    share = min(1.0, left / missing) if missing > 0 else 0.0
    each = min(max(left - missing * share, 0) / len(needs), 20 * mm)
    return [need + (want - need) * share + each for need, want in zip(needs, wants, strict=True)]


def bands(shown: list[int], needs: dict[int, float], width: float, names: list[int]) -> list[list[int]]:
    """Columns in tables of `width` at most, each begun by `names`; a table holds one other column at least."""
    start = sum(needs[i] for i in names)
    made, used = [list(names)], start
    for i in shown:
        if i in names:
            continue
        if used + needs[i] > width and len(made[-1]) > len(names):
            made.append(list(names))
            used = start
        made[-1].append(i)
        used += needs[i]
    return made
