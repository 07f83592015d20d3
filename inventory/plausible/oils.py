"""Volumes of oil: added, drained, or left in a bottle. Pure: no Django here, whole uL."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.measures.quantity import exact
from inventory.measures.tolerance import OIL_TOLERANCE_UL
from inventory.measures.units import VOLUME_UNITS
from inventory.plausible.expected import PRACTICE, Band, Bound, Expected, Known, whole

ADD, DRAIN, LEVEL, BOUGHT = "add", "drain", "level", "bought"
ML = 1_000
# What a unit is given or gives in one visit, and what is bought: common practice, no source. A new compressor of a car
# comes with 140 to 240 mL (service manuals), of a bus with 2 L and more.
LIKELY = {
    ADD: (2 * ML, 600 * ML, "A visit asks for 2 to 600 mL."),
    DRAIN: (0, 600 * ML, "A visit brings up to 600 mL."),
    LEVEL: (0, 25_000 * ML, "A bottle holds up to 25 L."),
    BOUGHT: (20 * ML, 25_000 * ML, "A bottle holds 20 mL to 25 L."),
}


@dataclass(frozen=True)
class OilVolume(Known):
    """what: add, drain, level (left in a bottle) or bought (in each of a delivery). content: of the bottle by the book,
    None where its level is read to find out how far the book is off; nominal: what it came with. least, most: of what
    the replaced parts ask for, or the like; sizes: that came before.
    """

    what: str
    content: int | None = None
    nominal: int | None = None
    least: int | None = None
    most: int | None = None
    sizes: tuple[int, ...] = ()

    symbols = {unit.lower(): unit for unit in VOLUME_UNITS} | {"floz": "fl oz"}
    mistaken = {"mL": ("fl oz", "L"), "L": ("mL",), "fl oz": ("mL",)}

    def value(self, number: Decimal, unit: str) -> int:
        return whole(number, VOLUME_UNITS[unit].size)

    def expects(self, unit: str) -> Expected:
        bounds = [Bound(0, None, True, "A volume is not less than nothing.", "physics"), *self._of_bottle()]
        least, most, why = LIKELY[self.what]
        if self.most is not None and self.most > most:
            most, why = self.most * 2, f"{self._asked()} is asked for."
        bounds.append(Bound(least, most, False, why, PRACTICE))
        return Expected(tuple(bounds), tuple(self._near()))

    def _of_bottle(self) -> list[Bound]:
        whole = max(self.nominal or 0, self.content or 0)
        if self.what == ADD and whole:
            why = f"The bottle was never recorded to hold more than {exact(whole, 'mL')}."
            return [Bound(None, whole * 5 // 4, True, why, PRACTICE)]
        if self.what == LEVEL and whole:
            why = f"The bottle came with {exact(whole, 'mL')}."
            likely, doubt = whole + 2 * OIL_TOLERANCE_UL, why
            if self.content is not None:
                likely = self.content + 2 * OIL_TOLERANCE_UL
                doubt = f"By the book {exact(self.content, 'mL')} are left, and nothing was filled in."
            return [Bound(None, whole * 5 // 4, True, why, PRACTICE), Bound(None, likely, False, doubt, PRACTICE)]
        return []

    def _near(self) -> list[Band]:
        found = []
        if self.what == LEVEL and self.content is not None:
            off = 2 * OIL_TOLERANCE_UL
            why = f"By the book {exact(self.content, 'mL')} are left."
            found.append(Band(self.content - off, self.content + off, why, "the book"))
        if self.most is not None:
            least = self.least if self.least is not None else self.most
            why = f"{self._asked()} is asked for."
            found.append(Band(least * 7 // 10, self.most * 13 // 10 + 5 * ML, why, PRACTICE))
        for size in sorted(set(self.sizes)):
            found.append(Band(size - size // 50, size + size // 50, f"{exact(size, 'mL')} came before.", "the book"))
        return found

    def _asked(self) -> str:
        least = self.least if self.least is not None else self.most
        return exact(self.most, "mL") if least == self.most else f"{exact(least, 'mL')} to {exact(self.most, 'mL')}"
