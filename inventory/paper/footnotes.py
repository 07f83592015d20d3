"""The notes of a paper: why the rulebook says what it says there. Marks stand in text and tables, the notes at its end.

A rule is written out in the first note that leans on it; later ones say which that is.
"""

from xml.sax.saxutils import escape

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Paragraph

from inventory.paper.document import known, styles, text
from inventory.verdicts.explaining import Explained, explained, told
from inventory.verdicts.verdict import Verdict


class Footnotes:
    """Gathers the notes of a paper in the order of their marks; the same note has one number."""

    def __init__(self) -> None:
        self._numbers: dict[Explained, int] = {}

    def mark(self, *found: Verdict | Explained) -> str:
        """The marks of verdicts, e.g. `[1] [2]`; blank for none."""
        opened = [explained(one) if isinstance(one, Verdict) else one for one in found]
        return " ".join(f"[{self._numbers.setdefault(one, len(self._numbers) + 1)}]" for one in dict.fromkeys(opened))

    def story(self) -> list[Flowable]:
        """The notes under their heading, in small type; nothing where there are none."""
        if not self._numbers:
            return []
        notes, earlier = [], {}
        for one, number in self._numbers.items():
            parts = (_part(*part) for part in told(one, earlier))
            notes.append(Paragraph(f"<b>[{number}]</b> {' '.join(parts)}", styles()["note"]))
            earlier[one] = number
        return [CondPageBreak(20 * mm), text("Notes: figures and rules", "heading"), *notes]


def _part(label: str, words: str) -> str:
    said = escape(known(words))
    return f"<b>{escape(label)}:</b> {said}" if label else said
