"""A long PDF beside the same text on a bare canvas."""

import datetime as dt
import io

from pypdf import PdfReader
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from inventory.paper.document import MARGIN, REGULAR, Foot, build, fonts, rows_table
from tests.bench.timing import Found, turns

HEADER = ("Day", "Voucher", "From", "To", "Quantity")
WIDTHS = [25 * mm, 25 * mm, 50 * mm, 50 * mm, 30 * mm]
A_PAGE = 52  # rows on a page
FOOT = Foot(
    "Bench",
    "1 Street",
    "Movements",
    dt.datetime(2026, 1, 1, tzinfo=dt.UTC),
    "bench",
    "generic",
    1,
    "0" * 64,
    ("One caution.",),
)


def _rows(pages: int) -> list[list[str]]:
    return [["2026-01-01", str(n), "CYL-000123", "TRK-7", f"{n}.000 g"] for n in range(pages * A_PAGE)]


def _ours(pages: int) -> bytes:
    out = io.BytesIO()
    build(out, rows_table(HEADER, _rows(pages), WIDTHS, [False, False, False, False, True]), FOOT)
    return out.getvalue()


def _bare(pages: int) -> None:
    """The same words at their places, a line under each row, a foot."""
    fonts()
    canvas = Canvas(io.BytesIO(), pagesize=A4)
    rows, height = _rows(pages), 7 * 1.9
    for page in range(pages):
        canvas.setFont(REGULAR, 7)
        for line, row in enumerate([HEADER, *rows[page * A_PAGE : (page + 1) * A_PAGE]]):
            x, y = MARGIN, A4[1] - MARGIN - (line + 1) * height
            for word, width in zip(row, WIDTHS, strict=True):
                canvas.drawString(x, y, word)
                x += width
            canvas.line(MARGIN, y - 2, x, y - 2)
        for line, words in enumerate((FOOT.title, FOOT.shop, FOOT.address, FOOT.head, *FOOT.cautions)):
            canvas.drawString(MARGIN, 24 * mm - 8 * (line + 1), words)
        canvas.showPage()
    canvas.save()


def measure(found: Found) -> None:
    hundred = turns(lambda: _ours(100), lambda: _bare(100), 5)
    thousand = turns(lambda: _ours(1000), lambda: _bare(1000), 1)
    found["PDF of 100 pages: pages"] = len(PdfReader(io.BytesIO(_ours(100))).pages)
    found.keep("PDF of 100 pages, to a bare canvas", *hundred)
    found.keep("PDF of 1,000 pages, to a bare canvas", *thousand)
    found["PDF of 1,000 pages to one of 100"] = thousand[0][0] / sorted(hundred[0])[2]
