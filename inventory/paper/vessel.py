"""A container as it stands: how full it is, and how full it may be."""

from reportlab.graphics.shapes import Drawing, Line, Rect
from reportlab.lib.colors import HexColor, white

from inventory.measures.quantity import show
from inventory.paper.chart import ACCENT, BAD, INK, NARROW, SOFT, Picture, label
from inventory.paper.document import fonts

TALL, BROAD, EDGE = 130.0, 84.0, 14.0
HEIGHT = TALL + 2 * EDGE + 10
LIQUID = HexColor("#8fc4c1")


def picture(title: str, content: int, most: tuple[str, int], is_oil: bool = False) -> Picture:
    """content: mg or uL. most: what the line is called, and the most that may be, or ever was, in it."""
    name, limit = most
    rows = [("holds", content), (name, limit), ("room left" if content <= limit else "over it", abs(limit - content))]
    unit = "mL" if is_oil else "g"
    heads = ("", "Quantity")
    return Picture(title, lambda width: draw(content, most, unit, width), heads, rows, is_oil, HEIGHT, NARROW)


def draw(content: int, most: tuple[str, int], unit: str, width: float = NARROW) -> Drawing:
    """The line of the most stands at four fifths of the height, or lower where more than that is in it."""
    fonts()
    name, limit = most
    whole = max(limit * 1.25, content * 1.05, 1)
    drawing = Drawing(width, HEIGHT)
    drawing.add(Rect(0, 0, width, drawing.height, fillColor=white, strokeColor=None))
    body = {"rx": 16, "ry": 16}
    drawing.add(Rect(EDGE + BROAD / 2 - 12, EDGE + TALL - 4, 24, 12, rx=3, ry=3, fillColor=INK, strokeColor=None))
    drawing.add(Rect(EDGE, EDGE, BROAD, TALL, fillColor=white, strokeColor=None, **body))
    level = TALL * content / whole
    if level > 0:
        corner = min(15, level / 2)
        drawing.add(
            Rect(
                EDGE + 2,
                EDGE + 2,
                BROAD - 4,
                max(level - 2, 0.5),
                fillColor=LIQUID,
                strokeColor=None,
                rx=corner,
                ry=corner,
            )
        )
    drawing.add(Rect(EDGE, EDGE, BROAD, TALL, fillColor=None, strokeColor=INK, strokeWidth=2, **body))
    line = EDGE + TALL * limit / whole
    drawing.add(Line(EDGE - 6, line, EDGE + BROAD + 10, line, strokeColor=BAD, strokeWidth=1.4, strokeDashArray=(5, 3)))
    x = EDGE + BROAD + 16
    drawing.add(label(x, line + 1, f"{name} {show(limit, unit)}", color=BAD))
    if content > limit:
        said = f"holds {show(content, unit)}, {show(content - limit, unit)} over"
    else:
        said = f"holds {show(content, unit)}, room for {show(limit - content, unit)}"
    y = min(EDGE + max(level, 8) - 8, line - 14) if content <= limit else line - 16
    drawing.add(label(x, max(y, EDGE), said, color=ACCENT if content <= limit else BAD))
    drawing.add(label(x, EDGE - 10, f"{100 * content // max(limit, 1)} % of it", color=SOFT))
    return drawing
