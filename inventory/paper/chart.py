"""Charts: one drawing for page and PDF. A page shows it as an SVG picture, with the figures as a table beside it.

What is drawn is a `Picture`: it draws itself at a width, and has its figures as whole mg or uL, so that page, table and
paper cannot say different things. Lengths are to scale and floats; the figures stay whole.
"""

import datetime as dt
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from reportlab.graphics.charts.textlabels import Label
from reportlab.graphics.renderSVG import drawToString
from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect, String
from reportlab.lib.colors import Color, HexColor, white

from inventory.measures.days import said_day
from inventory.paper.document import REGULAR, fonts

INK, SOFT, RULE, ACCENT = HexColor("#10242b"), HexColor("#4a5f63"), HexColor("#cdd8d8"), HexColor("#0d5a60")
BAD = HexColor("#9d1c1c")
SERIES = (ACCENT, HexColor("#a3561a"), HexColor("#5b4b8a"), HexColor("#6b7a12"), HexColor("#8f2d3f"))
LEFT, RIGHT, TOP, BOTTOM = 52, 10, 16, 26
BESIDE = "The figures are in the table beside it."
HIGH = 240.0  # units
WIDE, NARROW = 640.0, 340.0  # units; a phone shows a unit as a CSS pixel, so its text stays as large as it is set


@dataclass(frozen=True)
class Picture:
    """title: what is seen, in a few words. draw: at a width in units. heads, rows: its figures, each row a name and
    then whole mg (of an oil uL), or text. is_oil: whether they are uL. height: in units, at every width, so that a
    page keeps the room before the picture is there. wide: how wide it is where there is room."""

    title: str
    draw: Callable[[float], Drawing]
    heads: Sequence[str]
    rows: Sequence[tuple]
    is_oil: bool = False
    height: float = HIGH
    wide: float = WIDE

    @property
    def alt(self) -> str:
        return f"{self.title}. {BESIDE}"

    def svg(self, narrow: bool = False) -> bytes:
        return svg(self.draw(NARROW if narrow else self.wide), self.title)


def _nice(top: float) -> float:
    """The next 1, 2 or 5 times a power of ten."""
    if top <= 0:
        return 1.0
    power = 1.0
    while power * 10 <= top:
        power *= 10
    while power > top:
        power /= 10
    return next(step * power for step in (1, 2, 5, 10) if step * power >= top)


def scale_of(low: float, high: float) -> list[float]:
    """Round figures from below the lowest value, or nothing, to above the highest, four to six steps apart."""
    step = _nice((high - low) / 5)
    first, last = math.floor(low / step), max(math.ceil(high / step), math.floor(low / step) + 1)
    return [number * step for number in range(first, last + 1)]


def frame(width: float, height: float, ticks: Sequence[float], unit: str) -> Drawing:
    fonts()
    drawing = Drawing(width, height)
    drawing.add(Rect(0, 0, width, height, fillColor=white, strokeColor=None))
    for value in ticks:
        y = BOTTOM + (height - TOP - BOTTOM) * (value - ticks[0]) / (ticks[-1] - ticks[0])
        drawing.add(Line(LEFT, y, width - RIGHT, y, strokeColor=RULE, strokeWidth=0.6))
        drawing.add(label(LEFT - 4, y - 3, f"{value:.10g}", anchor="end"))
    drawing.add(label(4, height - 10, unit))
    return drawing


def label(x: float, y: float, words: str, anchor: str = "start", color: Color = SOFT, size: float = 10) -> String:
    return String(x, y, words, fontName=REGULAR, fontSize=size, fillColor=color, textAnchor=anchor)


def step_line(
    points: Sequence[tuple[dt.date, float]],
    unit: str,
    width: float = WIDE,
    height: float = HIGH,
    enough: tuple[str, float] | None = None,
) -> Drawing:
    """A quantity that stays until it changes: (day, value from that day on), in the order of days. enough: a level that
    it should not fall under, and what it is called."""
    least = [enough[1]] if enough else []
    ticks = scale_of(0, max([value for _, value in points] + least, default=0))
    top = ticks[-1]
    drawing = frame(width, height, ticks, unit)
    if not points:
        return drawing
    first, last = points[0][0], max(points[-1][0], points[0][0] + dt.timedelta(days=1))
    days = (last - first).days

    def at(day: dt.date, value: float) -> tuple[float, float]:
        return (
            LEFT + (width - LEFT - RIGHT) * (day - first).days / days,
            BOTTOM + (height - TOP - BOTTOM) * max(value, 0) / top,
        )

    path: list[float] = []
    for place, (day, value) in enumerate(points):
        if place:
            path += at(day, points[place - 1][1])
        path += at(day, value)
    path += at(last, points[-1][1])
    drawing.add(PolyLine(path, strokeColor=ACCENT, strokeWidth=1.8))
    if enough:
        _, y = at(first, enough[1])
        drawing.add(Line(LEFT, y, width - RIGHT, y, strokeColor=BAD, strokeWidth=1.2, strokeDashArray=(5, 3)))
        drawing.add(label(width - RIGHT, y + 3, enough[0], anchor="end", color=BAD))
    drawing.add(label(LEFT, 8, said_day(first)))
    drawing.add(label(width - RIGHT, 8, said_day(last), anchor="end"))
    return drawing


def bars(
    names: Sequence[str],
    series: Sequence[tuple[str, Sequence[float]]],
    unit: str,
    width: float = WIDE,
    height: float = HIGH,
) -> Drawing:
    """Groups of bars, one group a name; series: what it is called, and its value for each name. Values below nothing
    go down from the line."""
    values = [value for _, row in series for value in row]
    ticks = scale_of(min([*values, 0]), max([*values, 0]))
    bottom, top = ticks[0], ticks[-1]
    drawing = frame(width, height, ticks, unit)
    room = (width - LEFT - RIGHT) / max(len(names), 1)
    bar = room * 0.8 / max(len(series), 1)
    scale = (height - TOP - BOTTOM) / (top - bottom)
    zero = BOTTOM - bottom * scale
    for place, name in enumerate(names):
        for number, (_, row) in enumerate(series):
            x = LEFT + room * place + room * 0.1 + bar * number
            size = row[place] * scale
            drawing.add(
                Rect(x, zero + min(size, 0), bar, abs(size), fillColor=SERIES[number % len(SERIES)], strokeColor=None)
            )
        below = Label()
        below.setOrigin(LEFT + room * (place + 0.5), BOTTOM - 4)
        below.setText(name)
        below.fontName, below.fontSize, below.fillColor, below.boxAnchor = REGULAR, 10, SOFT, "n"
        drawing.add(below)
    drawing.add(Line(LEFT, zero, width - RIGHT, zero, strokeColor=INK, strokeWidth=0.8))
    x = LEFT + 40
    for number, (title, _) in enumerate(series):
        drawing.add(Rect(x, height - 11, 8, 8, fillColor=SERIES[number % len(SERIES)], strokeColor=None))
        drawing.add(label(x + 11, height - 10, title, color=INK))
        x += 24 + 5 * len(title)
    return drawing


def nothing(words: str, width: float = WIDE) -> Drawing:
    """A picture that says that there is nothing to draw."""
    fonts()
    drawing = Drawing(width, HIGH)
    drawing.add(Rect(0, 0, width, HIGH, fillColor=white, strokeColor=None))
    drawing.add(label(width / 2, HIGH / 2, words, anchor="middle", size=12))
    return drawing


def svg(drawing: Drawing, title: str = "") -> bytes:
    """The drawing as a picture for a page. Its text is set in whatever sans-serif the reader has. title: what it shows,
    for whoever opens the picture alone."""
    text = drawToString(drawing)
    text = text if isinstance(text, str) else text.decode()
    text = text.replace(REGULAR, "sans-serif")
    if title:
        said = f"<title>{escape(title)}</title><desc>{escape(title)}. {BESIDE}</desc>"
        text = re.sub(r"<title>.*?</title>\s*(<desc>.*?</desc>)?", lambda _: said, text, count=1, flags=re.DOTALL)
    return text.encode()
