"""Vapour left in a container: CoolProp 8.0.0 (R-134a: Tillner-Roth and Baehr 1994; R-1234yf: Lemmon and Akasaka)."""

import pytest

from inventory.containers.heel import STANDARD_PA, residue, vapour_heel_mg


# litres, refrigerant, Celsius, absolute pressure in Pa (None: saturated), grams: density times volume.
@pytest.mark.parametrize(
    ("litres", "substance", "celsius", "pascal", "grams", "abs_"),
    [
        (0.35, "R-134a", 25, None, 11.32, 0.01),
        (13.5, "R-134a", 25, None, 436.7, 0.2),
        (13.5, "R-134a", 25, STANDARD_PA, 57.48, 0.05),
        (13.5, "R-134a", 25, 3e5, 177.9, 0.2),
        (0.35, "R-1234yf", 20, STANDARD_PA, 1.70, 0.01),
        (0.3, "R-134a", 20, None, 8.33, 0.01),
        (0.4, "R-134a", 20, STANDARD_PA, 1.73, 0.01),
    ],
)
def test_vapour_fills_the_volume(litres, substance, celsius, pascal, grams, abs_):
    assert vapour_heel_mg(substance, litres * 1000, celsius, pascal) / 1000 == pytest.approx(grams, abs=abs_)


def test_nothing_is_said_of_what_is_not_published():
    assert vapour_heel_mg("of no such name", 350, 20) is None
    assert vapour_heel_mg("R-744", 350, 60) is None


# A cylinder of 13.6 L (its water capacity 13.6 kg), R-134a at 25 °C: saturated vapour of 32.350 kg/m3 (CoolProp 8.0.0)
# weighs 439.96 g. More than that cannot be vapour alone.
@pytest.mark.parametrize(("grams", "doubtful"), [(440, True), (439, False), (1, False)])
def test_what_is_left_is_compared_with_vapour_alone(grams, doubtful):
    found = residue(grams * 1000, "R-134a", 13_600_000)
    assert found.vapour == pytest.approx(439_960, abs=50) and found.doubtful is doubtful
    assert ("liquid may be left" in found.sentence) is doubtful


def test_what_cannot_be_compared_says_so():
    assert residue(0, "R-134a", 1).sentence == "Empty by the book."
    assert "water capacity is not known" in residue(5000, "R-134a", None).sentence
    assert "no vapour density is known" in residue(5000, "of no such name", 1_000_000).sentence
