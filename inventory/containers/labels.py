"""Labels for containers: the code in large letters and as a QR code that leads a phone to the container.

A sheet of A4 holds 3 x 8 labels; a single label is 62 mm x 29 mm. What the code says is an address of this
site and nothing else: whoever scans it must still sign in, and what is typed counts.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from inventory.paper.document import BOLD, INK, REGULAR, RULE, SOFT, QrCode, fit, fonts, wrapped

COLUMNS, ROWS = 3, 8
SINGLE = (62 * mm, 29 * mm)
NAME_SIZE, NAME_LINES = 4.6, 3  # of the proper shipping name


@dataclass(frozen=True)
class Label:
    """code; content: what it holds or is for; tare: as text, blank where it is not known; address: where it leads.
    travels: UN number with labels, and the proper shipping name; blank for what is no dangerous good.
    number: its supplier's, blank where none is known."""

    code: str
    content: str
    tare: str
    address: str
    travels: tuple[str, str] = ("", "")
    number: str = ""


def sheet(labels: Sequence[Label]) -> bytes:
    """PDF pages of A4, 24 labels each."""
    out = io.BytesIO()
    canvas = _canvas(out, A4)
    width, height = A4[0] / COLUMNS, A4[1] / ROWS
    for place, label in enumerate(labels):
        spot = place % (COLUMNS * ROWS)
        if place and spot == 0:
            canvas.showPage()
        x, y = spot % COLUMNS * width, A4[1] - (spot // COLUMNS + 1) * height
        _draw(canvas, label, x + 4 * mm, y + 4 * mm, width - 8 * mm, height - 8 * mm)
    canvas.save()
    return out.getvalue()


def single(label: Label) -> bytes:
    """A PDF of one label's size."""
    out = io.BytesIO()
    canvas = _canvas(out, SINGLE)
    _draw(canvas, label, 1.5 * mm, 1.5 * mm, SINGLE[0] - 3 * mm, SINGLE[1] - 3 * mm)
    canvas.save()
    return out.getvalue()


def _canvas(out: io.BytesIO, pagesize: tuple[float, float]) -> Canvas:
    fonts()
    canvas = Canvas(out, pagesize=pagesize, invariant=1, lang="en", initialFontName=REGULAR)
    canvas.setTitle("Container labels")
    return canvas


def _draw(canvas: Canvas, label: Label, x: float, y: float, width: float, height: float) -> None:
    canvas.setStrokeColor(RULE)
    canvas.roundRect(x, y, width, height, 2 * mm, stroke=1, fill=0)
    side = min(height - 2 * mm, width * 0.42)
    code = QrCode(label.address, side)
    code.drawOn(canvas, x + width - side - 1 * mm, y + (height - side) / 2)
    left, room = x + 2.5 * mm, width - side - 5 * mm
    size = 15.0
    while size > 7 and fit(label.code, room, size, BOLD) != label.code:
        size -= 1
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, size)
    canvas.drawString(left, y + height - 6.5 * mm, fit(label.code, room, size, BOLD))
    canvas.setFont(REGULAR, 8)
    canvas.drawString(left, y + height - 10 * mm, fit(label.content, room, 8))
    canvas.setFillColor(SOFT)
    canvas.setFont(REGULAR, 7)
    tare = f"tare {label.tare}" if label.tare else ""
    number = f"no. {label.number}" if label.number else ""
    for place, said in enumerate(filter(None, (tare, number))):
        canvas.drawString(left, y + height - (13 + 2.8 * place) * mm, fit(said, room, 7))
    _draw_travel(canvas, label, left, y, room)


def _draw_travel(canvas: Canvas, label: Label, left: float, y: float, room: float) -> None:
    """At the foot: the number in bold, and the name in as many lines as there is room for."""
    number, name = label.travels
    if not number:
        return
    canvas.setFillColor(INK)
    lines = wrapped(name, room, NAME_SIZE)[:NAME_LINES]
    if len(wrapped(name, room, NAME_SIZE)) > NAME_LINES:
        lines[-1] = fit(lines[-1] + "…", room, NAME_SIZE)
    canvas.setFont(BOLD, 7)
    canvas.drawString(left, y + (1.2 + 1.9 * len(lines)) * mm, fit(number, room, 7, BOLD))
    canvas.setFont(REGULAR, NAME_SIZE)
    for place, line in enumerate(lines, 1):
        canvas.drawString(left, y + (1.2 + 1.9 * (len(lines) - place)) * mm, fit(line, room, NAME_SIZE))
