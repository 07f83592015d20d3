"""What a scale shows of a reference mass. Pure: no Django here. Masses in whole mg."""

from dataclasses import dataclass

from inventory.plausible.expected import PRACTICE, Band, Bound, Expected
from inventory.plausible.masses import Mass
from inventory.plausible.vessels import writer

OFF = 20  # a scale in use is hardly off by more than one part in so many: common practice, no source


@dataclass(frozen=True)
class Shown(Mass):
    """reference: the mass that was put on the scale."""

    reference: int

    def expects(self, unit: str) -> Expected:
        why = f"The reference mass is {writer(unit)(self.reference)}."
        least, most = self.reference - self.reference // OFF, self.reference + self.reference // OFF
        right = "If the scale shows that, do not weigh with it."
        bounds = (
            Bound(0, None, True, "Nothing weighs less than nothing.", "physics", "Set the scale to zero."),
            Bound(least, most, False, why, PRACTICE, right),
        )
        return Expected(bounds, (Band(least, most, why, "the reference mass", True),))
