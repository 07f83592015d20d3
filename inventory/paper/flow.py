"""What came into a stock and what left it, as one picture: every width is to one scale."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing, Path, Rect, String
from reportlab.lib.colors import Color, HexColor, white

from inventory.measures.quantity import show
from inventory.paper.chart import INK, SERIES, WIDE, Picture, label
from inventory.paper.document import fonts, text_width

TALL = 170.0  # units that the whole takes in the middle
SLOT, GAP = 14.0, 5.0  # the room of a name, and between two
BAR, EDGE, HEAD = 10.0, 2.0, 20.0
SIZES = (10, 9, 8, 7)  # of letters
GREY = HexColor("#7c8f8f")


@dataclass(frozen=True)
class Part:
    """One of what flows: its name, mg or uL above nothing, and whether it is what stays in stock."""

    name: str
    quantity: int
    stays: bool = False


def parts(
    before: tuple[str, int], ins: Sequence[tuple[str, int]], outs: Sequence[tuple[str, int]], after: tuple[str, int]
) -> tuple[list[Part], list[Part]]:
    """Both sides without what is nothing, in whole mg or uL. What is below nothing, as where more was taken back than
    came, stands on the other side. Their sums are equal where before + ins = outs + after; ValueError where not."""
    left = [Part(before[0], before[1], True)] if before[1] else []
    right = [Part(after[0], after[1], True)] if after[1] else []
    for sides, found in (((left, right), ins), ((right, left), outs)):
        for name, quantity in found:
            if quantity:
                sides[quantity < 0].append(Part(name, abs(quantity)))
    if sum(one.quantity for one in left) != sum(one.quantity for one in right):
        raise ValueError("what came and what left do not come to the same")
    return left, right


def picture(title: str, left: Sequence[Part], right: Sequence[Part], is_oil: bool = False) -> Picture:
    unit = "mL" if is_oil else "g"
    rows = [(one.name, one.quantity, None) for one in left] + [(one.name, None, one.quantity) for one in right]
    total = sum(one.quantity for one in left)
    rows.append(("in all", total, total))
    heads = ("", "Before and in", "Out and left")
    return Picture(title, lambda width: draw(left, right, unit, width), heads, rows, is_oil, _height(left, right))


def draw(left: Sequence[Part], right: Sequence[Part], unit: str, width: float = WIDE) -> Drawing:
    """unit: that of the names' figures, g or mL."""
    fonts()
    total = max(sum(one.quantity for one in left), 1)
    scale = TALL / total
    drawing = Drawing(width, _height(left, right))
    room = drawing.height - HEAD - EDGE
    drawing.add(Rect(0, 0, width, drawing.height, fillColor=white, strokeColor=None))
    middle = (width - BAR) / 2
    top = EDGE + (room + TALL) / 2
    _side(drawing, left, (EDGE, middle, top), (scale, unit, room), SERIES)
    turned = len(left) % len(SERIES)  # colours say what belongs together on one side only
    others = SERIES[turned:] + SERIES[:turned]
    _side(drawing, right, (width - EDGE - BAR, middle + BAR, top), (scale, unit, room), others)
    drawing.add(Rect(middle, top - TALL, BAR, TALL, fillColor=INK, strokeColor=None))
    drawing.add(label(width / 2, drawing.height - 12, f"{show(total, unit)} in all", anchor="middle", color=INK))
    return drawing


def _height(left: Sequence[Part], right: Sequence[Part]) -> float:
    """Whole units, as a page says them."""
    scale = TALL / max(sum(one.quantity for one in left), 1)
    return float(math.ceil(max(_room(left, scale), _room(right, scale), TALL) + HEAD + EDGE))


def _room(side: Sequence[Part], scale: float) -> float:
    return sum(max(one.quantity * scale, SLOT) + GAP for one in side)


def _side(
    drawing: Drawing,
    side: Sequence[Part],
    at: tuple[float, float, float],
    by: tuple[float, str, float],
    colors: Sequence[Color],
) -> None:
    """One side's bars, each with its band to the middle. at: where its bars begin, where the middle does, its top; by:
    the scale, the unit and the room that both sides have."""
    outer, middle, top = at
    scale, unit, room = by
    is_left = outer < middle
    y = EDGE + (room + _room(side, scale)) / 2
    inner = outer + BAR if is_left else outer
    for number, one in enumerate(side):
        size, slot = one.quantity * scale, max(one.quantity * scale, SLOT)  # a thin one stands under its name
        upper = y - (slot - size) / 2
        color = GREY if one.stays else colors[number % len(colors)]
        pale = Color(color.red, color.green, color.blue, alpha=0.28)
        _band(drawing, (inner, upper), (middle, top), size, pale)
        drawing.add(Rect(outer, upper - size, BAR, size, fillColor=color, strokeColor=color, strokeWidth=0.5))
        said = f"{one.name} {show(one.quantity, unit)}"
        below = 3.5 if size > 9 else -1.5
        place = (inner + 5 if is_left else inner - 5, y - slot / 2 - below)
        drawing.add(_named(said, place, abs(middle - inner) - 8, is_left))
        y -= slot + GAP
        top -= size


def _named(said: str, at: tuple[float, float], room: float, is_left: bool) -> String:
    """A name and its figure in the size that fits before the middle."""
    size = next((one for one in SIZES if text_width(said, one) <= room), SIZES[-1])
    return label(*at, said, "start" if is_left else "end", INK, size)


def _band(drawing: Drawing, outer: tuple[float, float], inner: tuple[float, float], size: float, color: Color) -> None:
    """From one upper corner to the other, as thick all the way."""
    (x, y), (to, end) = outer, inner
    half = (x + to) / 2
    path = Path(fillColor=color, strokeColor=None)
    path.moveTo(x, y)
    path.curveTo(half, y, half, end, to, end)
    path.lineTo(to, end - size)
    path.curveTo(half, end - size, half, y - size, x, y - size)
    path.closePath()
    drawing.add(path)
