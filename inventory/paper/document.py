"""The paper that every PDF is printed on: fonts, head, foot, cautions, page x of y.

The fonts are embedded and cover what names and units need; a character that they lack becomes a white box
and never stops a report. Text from people is never markup: it goes in through `text`, `cell` or `fit`.
The same input gives the same bytes.
"""

import datetime as dt
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import BinaryIO
from xml.sax.saxutils import escape

import segno
from reportlab.lib import colors
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph, Table, TableStyle

FONTS = Path(__file__).parent / "fonts"
REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"
INK, SOFT, RULE, WASH = (colors.HexColor(code) for code in ("#10262a", "#47605f", "#9fb3b1", "#e7eeed"))
MARGIN = 15 * mm
DEFERENCE = "Local rules and licensed practice come first."


@cache
def fonts() -> TTFont:
    """Make the fonts known to reportlab, once."""
    regular = TTFont(REGULAR, FONTS / "DejaVuSans.ttf")
    pdfmetrics.registerFont(regular)
    pdfmetrics.registerFont(TTFont(BOLD, FONTS / "DejaVuSans-Bold.ttf"))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
    return regular


def known(value: object) -> str:
    """Text in the characters that the font has; what it lacks, and controls, become a white box."""
    plain = str(value).replace("\r\n", "\n")  # as a form sends the lines of a text
    if plain.isascii() and plain.isprintable():  # most of it: nothing to look up
        return plain
    glyphs = fonts().face.charToGlyph
    plain = unicodedata.normalize("NFC", plain)
    return "".join(c if ord(c) in glyphs or c in "\n\t" else "\u25a1" for c in plain)


def style(name: str, size: float = 8.5, *, bold: bool = False, color=INK, **more) -> ParagraphStyle:
    fonts()
    return ParagraphStyle(
        name, fontName=BOLD if bold else REGULAR, fontSize=size, leading=size * 1.3, textColor=color, **more
    )


@cache
def styles() -> dict[str, ParagraphStyle]:
    return {
        "title": style("title", 15, bold=True, spaceAfter=2),
        "heading": style("heading", 10, bold=True, spaceBefore=6, spaceAfter=2),
        "body": style("body"),
        "small": style("small", 7, color=SOFT),
        "fine": style("fine", 6.5, color=SOFT),
        "note": style("note", 6.5, color=SOFT, leftIndent=5 * mm, firstLineIndent=-5 * mm, spaceAfter=0.6 * mm),
        "right": style("right", alignment=TA_RIGHT),
        "strong": style("strong", bold=True),
        "big": style("big", 13, bold=True),
    }


def text(value: object, named: str = "body") -> Paragraph:
    """A paragraph of plain text; line breaks are kept."""
    return Paragraph(escape(known(value)).replace("\n", "<br/>"), styles()[named])


def text_width(value: object, size: float, *, bold: bool = False) -> float:
    """Points that a text takes on one line."""
    fonts()
    return pdfmetrics.stringWidth(known(value), BOLD if bold else REGULAR, size)


def fit(value: object, width: float, size: float = 7.5, font: str = REGULAR) -> str:
    """One line of plain text no wider than `width` points; what does not fit is cut with an ellipsis."""
    fonts()
    line = known(value).replace("\n", " ").replace("\t", " ")
    sure = line.isascii() and len(line) * size * 1.11 <= width  # the widest ASCII character, a bold W, is 1.103
    if sure or pdfmetrics.stringWidth(line, font, size) <= width:
        return line
    while line and pdfmetrics.stringWidth(line + "…", font, size) > width:
        line = line[:-1]
    return line + "…"


@dataclass(frozen=True)
class Foot:
    """What stands on every page beside its content. head: the ledger's last digest. cautions: short sentences."""

    shop: str
    address: str
    title: str
    made_at: dt.datetime
    made_by: str
    rulebook: str
    head_number: int
    head: str
    cautions: Sequence[str] = ()
    invented: bool = False
    draft: bool = False


class _Counted(Canvas):
    """Draws the foot when the number of pages is known."""

    foot: Foot

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self._pages: list[dict] = []

    def showPage(self) -> None:
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._pages, 1):
            self.__dict__.update(page)
            _draw_foot(self, self.foot, number, len(self._pages))
            super().showPage()
        super().save()


FOOT_LINE = 3.1 * mm
FOOT_END = 8.1 * mm  # the last line of the foot, above the end of the page


def _foot_lines(foot: Foot, width: float) -> list[str]:
    made = f"Made {foot.made_at:%Y-%m-%d %H:%M %Z} by {foot.made_by}. Rulebook: {foot.rulebook}."
    invented = " Invented shop, people and vehicles: a demonstration." if foot.invented else ""
    ledger = f"Ledger at voucher {foot.head_number}, digest {foot.head}"
    return [*wrapped(" ".join(foot.cautions), width, 6.5)[:2], DEFERENCE + invented, made, ledger]


def _foot_top(lines: Sequence[str]) -> float:
    """Where the line above the foot is."""
    return FOOT_END + FOOT_LINE * len(lines) + 0.4 * mm


def _draw_foot(canvas: Canvas, foot: Foot, number: int, pages: int) -> None:
    width, height = canvas._pagesize
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.5)
    inside = width - 2 * MARGIN
    lines = _foot_lines(foot, inside)
    y = _foot_top(lines)
    canvas.line(MARGIN, y, width - MARGIN, y)
    canvas.setFillColor(SOFT)
    canvas.setFont(REGULAR, 6.5)
    y -= 0.4 * mm
    for line in lines:
        y -= FOOT_LINE
        canvas.drawString(MARGIN, y, fit(line, inside - 22 * mm if line is lines[-1] else inside, 6.5))
    canvas.drawRightString(width - MARGIN, y, f"page {number} of {pages}")
    canvas.setFont(BOLD, 8)
    canvas.drawString(MARGIN, height - 10 * mm, fit(foot.shop, inside / 2, 8, BOLD))
    canvas.setFont(REGULAR, 7)
    canvas.drawRightString(width - MARGIN, height - 10 * mm, fit(", ".join(foot.address.splitlines()), inside / 2, 7))
    if foot.draft:
        _draw_draft(canvas, width, height)


def _draw_draft(canvas: Canvas, width: float, height: float) -> None:
    """At the head for the eye, and across the page so that no copy of a part of it passes for a signed one."""
    canvas.saveState()
    canvas.setFillColor(colors.HexColor("#9d1c1c"))
    canvas.setFont(BOLD, 9)
    canvas.drawCentredString(width / 2, height - 10 * mm, "DRAFT: nothing is posted")
    canvas.translate(width / 2, height / 2)
    canvas.rotate(45)
    canvas.setFillAlpha(0.09)
    canvas.setFont(BOLD, 54)
    canvas.drawCentredString(0, 12, "DRAFT")
    canvas.setFont(BOLD, 30)
    canvas.drawCentredString(0, -30, "nothing is posted")
    canvas.restoreState()


def wrapped(sentence: str, width: float, size: float) -> list[str]:
    """The lines of a text of that size, each no wider than `width` points, broken between words."""
    lines: list[str] = []
    for word in known(sentence).split():
        if lines and pdfmetrics.stringWidth(f"{lines[-1]} {word}", REGULAR, size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def build(target: BinaryIO, story: Sequence[Flowable], foot: Foot, *, pagesize: tuple[float, float] = A4) -> None:
    """Write the PDF. story: platypus flowables."""
    fonts()
    document = BaseDocTemplate(
        target,
        pagesize=pagesize,
        title=known(foot.title),
        author=known(foot.shop),
        subject="refrigerant records",
        lang="en",
        invariant=1,
        initialFontName=REGULAR,
    )
    width = pagesize[0] - 2 * MARGIN
    bottom = _foot_top(_foot_lines(foot, width)) + 2 * mm
    frame = Frame(
        MARGIN,
        bottom,
        width,
        pagesize[1] - MARGIN - bottom,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates([PageTemplate(frames=[frame])])
    document.build(list(story), canvasmaker=type("_Paper", (_Counted,), {"foot": foot}))


class QrCode(Flowable):
    """A QR code of a text, `side` points wide."""

    def __init__(self, content: str, side: float = 18 * mm):
        super().__init__()
        self.matrix = [list(row) for row in segno.make(content, error="m").matrix_iter(border=2)]
        self.width = self.height = side

    def wrap(self, *_available) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        step = self.width / len(self.matrix)
        self.canv.setFillColor(colors.black)
        for y, row in enumerate(self.matrix):
            for x, dark in enumerate(row):
                if dark:
                    self.canv.rect(x * step, self.height - (y + 1) * step, step * 1.02, step * 1.02, stroke=0, fill=1)


def rows_table(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    widths: Sequence[float],
    numeric: Sequence[bool],
    *,
    size: float = 7.0,
    per_table: int = 200,
) -> list[Table]:
    """Lists of any length: plain cells, fixed widths and heights, the header on every page."""
    height = size * 1.9
    common = [
        ("FONT", (0, 0), (-1, -1), REGULAR, size),
        ("FONT", (0, 0), (-1, 0), BOLD, size),
        ("TEXTCOLOR", (0, 0), (-1, -1), INK),
        ("BACKGROUND", (0, 0), (-1, 0), WASH),
        ("LINEBELOW", (0, 0), (-1, -1), 0.25, RULE),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        *(("ALIGN", (i, 0), (i, -1), "RIGHT") for i, right in enumerate(numeric) if right),
        *(("LEFTPADDING", (i, 0), (i, -1), 6) for i in range(1, len(numeric)) if numeric[i - 1] > numeric[i]),
    ]
    left = style("column", size, bold=True)
    right = style("column-right", size, bold=True, alignment=TA_RIGHT)
    head = [Paragraph(escape(known(name)), right if numeric[i] else left) for i, name in enumerate(header)]
    lines = max(len(wrapped(name, width - 4, size * 1.1)) for name, width in zip(header, widths, strict=True))
    tables = []
    rooms = [width - (8 if i and numeric[i - 1] > numeric[i] else 4) for i, width in enumerate(widths)]
    for start in range(0, max(len(rows), 1), per_table):
        chunk = [
            [fit(value, room, size) for value, room in zip(row, rooms, strict=True)]
            for row in rows[start : start + per_table]
        ]
        heights = [size * 1.3 * lines + 4] + [height] * len(chunk)
        tables.append(
            Table([head, *chunk], colWidths=list(widths), rowHeights=heights, repeatRows=1, style=common, hAlign="LEFT")
        )
    return tables


def sum_up(table: Table, size: float) -> None:
    """Show the last row of a list as the one that sums up the others. size: of its letters, in points."""
    table.setStyle([("FONT", (0, -1), (-1, -1), BOLD, size), ("LINEABOVE", (0, -1), (-1, -1), 0.75, INK)])


def entries_table(
    header: Sequence[str],
    rows: Sequence[Sequence[object]],
    widths: Sequence[float],
    numeric: Sequence[bool],
    *,
    strong: Collection[int] = (),
    size: float = 7.5,
) -> Table:
    """A list of some dozens of rows in which every text is read to its end: cells wrap, the header is on every
    page. A None belongs to the cell on its left. strong: the numbers of the rows that sum up."""
    fonts()
    styles_of = {
        (bold, right): style(f"entry-{bold}-{right}", size, bold=bold, alignment=TA_RIGHT if right else TA_LEFT)
        for bold in (False, True)
        for right in (False, True)
    }
    cells = [
        [
            "" if value is None else _cell(value, styles_of[number == 0 or number - 1 in strong, right])
            for value, right in zip(row, numeric, strict=True)
        ]
        for number, row in enumerate([header, *rows])
    ]
    spans = []
    for y, row in enumerate(rows, 1):
        starts = [x for x, value in enumerate(row) if value is not None]
        ends = [*(x - 1 for x in starts[1:]), len(row) - 1]
        spans += [("SPAN", (x, y), (end, y)) for x, end in zip(starts, ends, strict=True) if end > x]
    look = [
        *spans,
        ("FONT", (0, 0), (-1, -1), REGULAR, size, size * 1.3),
        ("BACKGROUND", (0, 0), (-1, 0), WASH),
        ("LINEBELOW", (0, 0), (-1, -1), 0.25, RULE),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        *(("LEFTPADDING", (i, 0), (i, -1), 8) for i in range(1, len(numeric)) if numeric[i - 1] > numeric[i]),
    ]
    return Table(cells, colWidths=list(widths), repeatRows=1, style=look)


def _cell(value: object, styled: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(known(value)).replace("\n", "<br/>"), styled)


def figures_band(pairs: Sequence[tuple[str, object, str]], width: float) -> Table:
    """What the paper is about, large: a label, its figure and a word below it, side by side."""
    cells = [[text(label, "small"), text(figure, "big"), text(word, "small")] for label, figure, word in pairs]
    look = [
        ("BACKGROUND", (0, 0), (-1, -1), WASH),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 6),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
    ]
    return Table([cells], colWidths=[width / len(pairs)] * len(pairs), style=look)


def facts_table(pairs: Sequence[tuple[str, object]], width: float, columns: int = 2, label_share: float = 0.3) -> Table:
    """Labels with their values, side by side in `columns`; long values wrap. A value longer than a page does
    not fit: such a text goes in as a paragraph."""
    cells = [(text(label, "small"), text(value)) for label, value in pairs]
    while len(cells) % columns:
        cells.append((text(""), text("")))
    rows = [
        [part for pair in cells[start : start + columns] for part in pair] for start in range(0, len(cells), columns)
    ]
    label, value = width / columns * label_share, width / columns * (1 - label_share)
    return Table(rows, colWidths=[label, value] * columns, style=PLAIN)


PLAIN = TableStyle(
    [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 0.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0.5),
    ]
)
