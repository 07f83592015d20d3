"""The pressure of a unit at rest against published saturation pressures and CoolProp."""

import pytest
from CoolProp.CoolProp import PropsSI

from inventory.text.refusal import Refused
from jobs.planning.static_pressure import SPREAD_K, gauge_pa, static_verdict

# Saturation pressure in kPa absolute at 25 and 0 C: CoolProp 8.0.0 (R-134a: Tillner-Roth and Baehr 1994;
# R-1234yf: Lemmon and Akasaka 2022).
PUBLISHED = [("R-134a", 25, 665.381), ("R-1234yf", 25, 682.697), ("R-134a", 0, 292.803), ("R-134a", 60, 1681.784)]


@pytest.mark.parametrize(("substance", "celsius", "kpa"), PUBLISHED)
def test_a_unit_at_its_saturation_pressure_agrees(substance, celsius, kpa):
    found = static_verdict(substance, celsius, kpa * 1000)
    assert found.verdict == "agrees"
    assert found.low_pa < kpa * 1000 < found.high_pa


@pytest.mark.parametrize("celsius", [0, 15, 25, 40])
def test_the_band_is_saturation_a_few_kelvin_either_side(celsius):
    found = static_verdict("R-134a", celsius, 1e5)
    low, high = (PropsSI("P", "T", celsius + 273.15 + d, "Q", 1, "R134a") for d in (-SPREAD_K, SPREAD_K))
    assert (found.low_pa, found.high_pa) == (pytest.approx(low, rel=1e-4), pytest.approx(high, rel=1e-4))
    assert static_verdict("R-134a", celsius, low * 0.999).verdict == "below"
    assert static_verdict("R-134a", celsius, low * 1.001).verdict == "agrees"
    assert static_verdict("R-134a", celsius, high * 0.999).verdict == "agrees"
    assert static_verdict("R-134a", celsius, high * 1.001).verdict == "above"


def test_air_in_the_unit_shows_and_two_like_gases_do_not():
    with_air = static_verdict("R-134a", 25, 665_381 + 80_000)
    assert with_air.verdict == "above" and "does not condense" in with_air.sentence
    # R-1234yf at 25 C stands within R-134a's band: the figures cannot tell them apart, and say so.
    alike = static_verdict("R-134a", 25, 682_697)
    assert alike.verdict == "agrees" and "cannot tell" in alike.sentence


def test_a_blend_stands_between_its_dew_and_bubble_points():
    found = static_verdict("R-407C", 25, 1.1e6)
    assert found.low_pa < found.high_pa and found.verdict == "agrees"


def test_nothing_is_said_where_nothing_is_published():
    assert static_verdict("R-744", 45, 9e6) is None
    assert static_verdict("of no such name", 20, 5e5) is None


@pytest.mark.parametrize(
    ("reading", "absolute"),
    [("5.9 bar", 691_325), ("0 psi", 101_325), ("85,5 psi", 690_830), ("250 kPa", 351_325), ("-0.5 bar", 51_325)],
)
def test_a_gauge_reads_above_the_air(reading, absolute):
    """psi: NIST SP 811, B.8. Sea level: ISO 2533."""
    assert gauge_pa(reading, 0) == pytest.approx(absolute, abs=10)


@pytest.mark.parametrize("reading", ["much", "5.9", "-3 bar", "5 furlongs", "٣ bar", "1,250 kPa", "9999 bar"])
def test_what_is_no_pressure_is_refused(reading):
    with pytest.raises(Refused):
        gauge_pa(reading, 0)
