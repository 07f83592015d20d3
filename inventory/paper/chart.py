"""Charts: one drawing for page and PDF. A page shows it as an SVG picture, with the figures as a table beside it."""

import datetime as dt
import math
from collections.abc import Sequence

from reportlab.graphics.charts.textlabels import Label
from reportlab.graphics.renderSVG import drawToString
from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect, String
from reportlab.lib.colors import Color, HexColor, white

from inventory.paper.document import REGULAR, fonts

INK, SOFT, RULE, ACCENT = HexColor("#10242b"), HexColor("#4a5f63"), HexColor("#cdd8d8"), HexColor("#0d5a60")
SERIES = (ACCENT, HexColor("#a3561a"), HexColor("#5b4b8a"), HexColor("#6b7a12"), HexColor("#8f2d3f"))
LEFT, RIGHT, TOP, BOTTOM = 52, 10, 16, 26
WIDE, NARROW = 640.0, 340.0  # units; a phone shows a unit as a CSS pixel, so its text stays as large as it is set


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


def _scale(low: float, high: float) -> list[float]:
    """Round figures from below the lowest value, or nothing, to above the highest, four to six steps apart."""
    step = _nice((high - low) / 5)
    first, last = math.floor(low / step), max(math.ceil(high / step), math.floor(low / step) + 1)
    return [number * step for number in range(first, last + 1)]


def _frame(width: float, height: float, ticks: Sequence[float], unit: str) -> Drawing:
    fonts()
    drawing = Drawing(width, height)
    drawing.add(Rect(0, 0, width, height, fillColor=white, strokeColor=None))
    for value in ticks:
        y = BOTTOM + (height - TOP - BOTTOM) * (value - ticks[0]) / (ticks[-1] - ticks[0])
        drawing.add(Line(LEFT, y, width - RIGHT, y, strokeColor=RULE, strokeWidth=0.6))
        drawing.add(_text(LEFT - 4, y - 3, f"{value:.10g}", anchor="end"))
    drawing.add(_text(4, height - 10, unit))
    return drawing


def _text(x: float, y: float, words: str, anchor: str = "start", color: Color = SOFT, size: float = 10) -> String:
    return String(x, y, words, fontName=REGULAR, fontSize=size, fillColor=color, textAnchor=anchor)


def step_line(points: Sequence[tuple[dt.date, float]], unit: str, width: float = WIDE, height: float = 220) -> Drawing:
    """A quantity that stays until it changes: (day, value from that day on), in the order of days."""
    ticks = _scale(0, max((value for _, value in points), default=0))
    top = ticks[-1]
    drawing = _frame(width, height, ticks, unit)
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
    drawing.add(_text(LEFT, 8, first.isoformat()))
    drawing.add(_text(width - RIGHT, 8, last.isoformat(), anchor="end"))
    return drawing


def bars(
    names: Sequence[str],
    series: Sequence[tuple[str, Sequence[float]]],
    unit: str,
    width: float = WIDE,
    height: float = 240,
) -> Drawing:
    """Groups of bars, one group a name; series: what it is called, and its value for each name. Values below nothing
    go down from the line."""
    values = [value for _, row in series for value in row]
    ticks = _scale(min([*values, 0]), max([*values, 0]))
    bottom, top = ticks[0], ticks[-1]
    drawing = _frame(width, height, ticks, unit)
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
        label = Label()
        label.setOrigin(LEFT + room * (place + 0.5), BOTTOM - 4)
        label.setText(name)
        label.fontName, label.fontSize, label.fillColor, label.boxAnchor = REGULAR, 10, SOFT, "n"
        drawing.add(label)
    drawing.add(Line(LEFT, zero, width - RIGHT, zero, strokeColor=INK, strokeWidth=0.8))
    x = LEFT + 40
    for number, (title, _) in enumerate(series):
        drawing.add(Rect(x, height - 11, 8, 8, fillColor=SERIES[number % len(SERIES)], strokeColor=None))
        drawing.add(_text(x + 11, height - 10, title, color=INK))
        x += 24 + 5 * len(title)
    return drawing


def svg(drawing: Drawing) -> bytes:
    """The drawing as a picture for a page. Its text is set in whatever sans-serif the reader has."""
    text = drawToString(drawing)
    text = text if isinstance(text, str) else text.decode()
    return text.replace(REGULAR, "sans-serif").encode()
