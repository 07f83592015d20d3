"""Hose hold-up against figures worked from geometry and published densities (CoolProp 8.0.0, 25 degrees C)."""

import pytest

from inventory.text.refusal import Refused
from jobs.planning.hose import hold_up_mg, volume_ml


@pytest.mark.parametrize(
    ("diameter", "designation", "volume", "liquid", "vapour"),
    [
        (4.8, "R-134a", 32.572, 39.31, 1.054),
        (4.8, "R-1234yf", 32.572, 35.56, 1.234),
        (4.8, "R-744", 32.572, 23.14, 7.906),
        (6.0, "R-410A", 50.894, 53.88, 3.358),
        (6.35, "R-404A", 57.005, 59.52, 3.721),
        (6.35, "R-454C", 57.005, 59.57, 2.433),
    ],
)
def test_a_hose_of_1_8_m(diameter, designation, volume, liquid, vapour):
    assert volume_ml(1.8, diameter) == pytest.approx(volume, abs=0.001)
    assert hold_up_mg(designation, 1.8, diameter, "liquid") / 1000 == pytest.approx(liquid, abs=0.01)
    assert hold_up_mg(designation, 1.8, diameter, "vapour") / 1000 == pytest.approx(vapour, abs=0.001)


@pytest.mark.parametrize(("length", "diameter"), [(0, 5), (-1, 5), (21, 5), (1, 0.5), (1, 31)])
def test_a_hose_that_cannot_be_is_refused(length, diameter):
    with pytest.raises(Refused):
        volume_ml(length, diameter)
