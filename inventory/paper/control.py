"""Differences over time beside what weighing can explain of each: a control chart whose limits are the tolerances.

A tolerance is that of one weighing, from the load and the steps of the scales (inventory/measures/tolerance.py: OIML
R 76-1, class III in service, and JCGM 100), so the limits are drawn weighing by weighing, not as one line.
"""

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple

from reportlab.graphics.shapes import Circle, Drawing, Line, Rect
from reportlab.lib.colors import HexColor

from inventory.measures.days import said_day
from inventory.paper.chart import (
    ACCENT,
    BAD,
    BOTTOM,
    HIGH,
    INK,
    LEFT,
    RIGHT,
    TOP,
    WIDE,
    Picture,
    frame,
    label,
    scale_of,
)

WITHIN = HexColor("#d5e6e4")


class Weighed(NamedTuple):
    """One weighing: its day, what was weighed, the difference and its tolerance, mg."""

    day: dt.date
    what: str
    difference: int
    tolerance: int

    @property
    def outside(self) -> bool:
        return abs(self.difference) > self.tolerance


def picture(title: str, weighings: Sequence[Weighed]) -> Picture:
    """weighings: in the order of time."""
    rows = [(said_day(one.day), one.what, one.difference, one.tolerance) for one in weighings]
    return Picture(
        title, lambda width: draw(weighings, width), ("Day", "Container", "Difference", "Weighing explains"), rows
    )


def draw(weighings: Sequence[Weighed], width: float = WIDE, height: float = HIGH) -> Drawing:
    """One place for each weighing, evenly apart: many fall on one day. What lies outside is a square."""
    reach = max((max(abs(one.difference), one.tolerance) for one in weighings), default=1_000) / 1_000
    ticks = scale_of(-reach, reach)
    drawing = frame(width, height, ticks, "g")
    scale = (height - TOP - BOTTOM) / (ticks[-1] - ticks[0])
    zero = BOTTOM - ticks[0] * scale
    room = (width - LEFT - RIGHT) / max(len(weighings), 1)
    for place, one in enumerate(weighings):
        size = one.tolerance / 1_000 * scale
        drawing.add(Rect(LEFT + room * place, zero - size, room, 2 * size, fillColor=WITHIN, strokeColor=None))
    drawing.add(Line(LEFT, zero, width - RIGHT, zero, strokeColor=INK, strokeWidth=0.8))
    dot = min(3.0, max(room / 2, 1.2))
    for place, one in enumerate(weighings):
        x, y = LEFT + room * (place + 0.5), zero + one.difference / 1_000 * scale
        if one.outside:
            drawing.add(Rect(x - 3.5, y - 3.5, 7, 7, fillColor=BAD, strokeColor=None))
        else:
            drawing.add(Circle(x, y, dot, fillColor=ACCENT, strokeColor=None))
    if weighings:
        drawing.add(label(LEFT, 8, said_day(weighings[0].day)))
        drawing.add(label(width - RIGHT, 8, said_day(weighings[-1].day), anchor="end"))
    drawing.add(label(width - RIGHT, height - 10, "shaded: what weighing explains", anchor="end"))
    return drawing
