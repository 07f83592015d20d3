"""The sheet to count with: printed, written on by hand, typed in afterwards."""

import io
from collections.abc import Iterable

from reportlab.lib.pagesizes import A4

from inventory.containers.models import Container
from inventory.measures.quantity import show
from inventory.paper.document import MARGIN, Foot, build, entries_table, text

WIDTH = A4[0] - 2 * MARGIN
HEADER = ("Container", "Kind", "Holds by the book", "Tare", "Gross on the scale", "Remark")
NOTHING = ["Nothing stands here by the book.", *[""] * 5]
SHARES = (0.18, 0.12, 0.2, 0.12, 0.18, 0.2)


def count_sheet(place: str, containers: Iterable[Container], paper: Foot, person) -> bytes:
    """A PDF. What the book says is on it, so that a reading that cannot be is seen at once."""
    rows = []
    for one in containers:
        holds = show(one.content, person.volume_unit if one.is_oil else person.mass_unit)
        rows.append(
            [
                one.code,
                one.kind,
                f"{holds} {one.substance.code if one.substance else ''}".strip(),
                show(one.tare_mg, person.mass_unit) if one.tare_mg else "",
                "",
                "",
            ]
        )
    out = io.BytesIO()
    story = [
        text(f"Count of {place}", "title"),
        text("Scale: ______________   Day: ______________   Counted by: ______________"),
        entries_table(HEADER, rows or [NOTHING], [share * WIDTH for share in SHARES], [False] * 6),
    ]
    build(out, story, paper)
    return out.getvalue()
