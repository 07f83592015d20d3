"""Vapour left in a container: CoolProp 8.0.0 (R-134a: Tillner-Roth and Baehr 1994; R-1234yf: Lemmon and Akasaka)."""

import pytest

from inventory.containers.heel import STANDARD_PA, vapour_heel_mg


# litres, refrigerant, Celsius, absolute pressure in Pa (None: saturated), grams: density times volume.
@pytest.mark.parametrize(
    ("litres", "substance", "celsius", "pascal", "grams", "abs_"),
    [
        (0.35, "R-134a", 25, None, 11.32, 0.01), (13.5, "R-134a", 25, None, 436.7, 0.2),
        (13.5, "R-134a", 25, STANDARD_PA, 57.48, 0.05), (13.5, "R-134a", 25, 3e5, 177.9, 0.2),
        (0.35, "R-1234yf", 20, STANDARD_PA, 1.70, 0.01), (0.3, "R-134a", 20, None, 8.33, 0.01),
        (0.4, "R-134a", 20, STANDARD_PA, 1.73, 0.01),
    ],
)  # fmt: skip
def test_vapour_fills_the_volume(litres, substance, celsius, pascal, grams, abs_):
    assert vapour_heel_mg(substance, litres * 1000, celsius, pascal) / 1000 == pytest.approx(grams, abs=abs_)


def test_nothing_is_said_of_what_is_not_published():
    assert vapour_heel_mg("of no such name", 350, 20) is None
    assert vapour_heel_mg("R-744", 350, 60) is None
