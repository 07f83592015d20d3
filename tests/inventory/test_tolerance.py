"""What a weighing can resolve, to the milligram."""

from fractions import Fraction
from math import sqrt

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from inventory.measures.tolerance import (
    OIL_TOLERANCE_UL,
    mpe_in_service_mg,
    standard_uncertainty_mg,
    tolerance_mg,
    within_oil_tolerance,
    within_tolerance,
)

G = 1_000
LOADS = st.integers(0, 2_000_000_000)
READABILITIES = st.sampled_from([k * 10**n for n in range(6) for k in (1, 2, 5)])


@pytest.mark.parametrize(
    ("load_mg", "intervals"),
    [
        (0, 1),
        (500 * G, 1),
        (500 * G + 1, 2),
        (2_000 * G, 2),
        (2_000 * G + 1, 3),
        (10_000 * G, 3),
        (100_000 * G, 3),
    ],
)
def test_the_limit_of_error_steps_just_above_500_and_2000_intervals(load_mg, intervals):
    assert mpe_in_service_mg(load_mg, 1 * G) == intervals * G
    assert mpe_in_service_mg(5 * load_mg, 5 * G) == intervals * 5 * G


def test_a_load_under_nothing_or_a_scale_without_steps_is_an_error():
    with pytest.raises(ValueError, match="load"):
        mpe_in_service_mg(-1, G)
    for readability_mg in (0, -1):
        with pytest.raises(ValueError, match="readability"):
            mpe_in_service_mg(0, readability_mg)


@pytest.mark.parametrize(
    ("reading_mg", "d1_mg", "gross_mg", "d2_mg", "squared_thirds", "limit_mg"),
    [
        # A can under 500 g on a 1 g scale twice: 4 + 1 + 4 + 1 = 10, 1000 * sqrt(10 / 3) = 1825.74
        (480 * G, G, 481 * G, G, 10 * G**2, 1_825),
        # A cylinder of 12 kg on a 5 g scale: 2,400 e, so 3 e; 2 * (4 * 225 + 25) = 1850, 24832.77
        (12_000 * G, 5 * G, 12_010 * G, 5 * G, 1_850 * G**2, 24_832),
        # Read at 500 e, implied just above it: 4 + 1 + 16 + 1 = 22, 2708.01
        (500 * G, G, 500 * G + 1, G, 22 * G**2, 2_708),
        # A fine scale against the coarse one of the last weighing: 4 * 0.04 + 0.01 + 4 * 25 + 25 = 125.17
        (150 * G, G // 10, 150 * G, 5 * G, 125_170_000, 6_459),
        # The smallest steps there are, 1 mg and 2 mg, with nothing on the scale: 5 + 20 = 25, 2.89
        (0, 1, 0, 2, 25, 2),
    ],
)
def test_tolerances_worked_by_hand(reading_mg, d1_mg, gross_mg, d2_mg, squared_thirds, limit_mg):
    scales = (reading_mg, d1_mg, gross_mg, d2_mg)
    assert limit_mg == int(sqrt(squared_thirds / 3))
    assert tolerance_mg(*scales) == limit_mg
    assert within_tolerance(limit_mg, *scales)
    assert within_tolerance(-limit_mg, *scales)
    assert not within_tolerance(limit_mg + 1, *scales)
    assert not within_tolerance(-limit_mg - 1, *scales)


@given(LOADS, READABILITIES, LOADS, READABILITIES, st.integers(-100_000, 100_000))
@example(480 * G, G, 481 * G, G, 1_825)
@example(480 * G, G, 481 * G, G, 1_826)
def test_within_is_the_tolerance_as_defined_in_exact_fractions(load_mg, d1_mg, gross_mg, d2_mg, difference_mg):
    u1_squared = Fraction(mpe_in_service_mg(load_mg, d1_mg) ** 2, 3) + Fraction(d1_mg**2, 12)
    u2_squared = Fraction(mpe_in_service_mg(gross_mg, d2_mg) ** 2, 3) + Fraction(d2_mg**2, 12)
    defined = difference_mg**2 <= 4 * (u1_squared + u2_squared)
    assert within_tolerance(difference_mg, load_mg, d1_mg, gross_mg, d2_mg) == defined


@given(LOADS, READABILITIES, LOADS, READABILITIES)
def test_the_tolerance_shown_is_the_last_whole_milligram_within(load_mg, d1_mg, gross_mg, d2_mg):
    scales = (load_mg, d1_mg, gross_mg, d2_mg)
    limit_mg = tolerance_mg(*scales)
    for sign in (1, -1):
        assert within_tolerance(sign * limit_mg, *scales)
        assert not within_tolerance(sign * (limit_mg + 1), *scales)


@given(LOADS, READABILITIES, LOADS, READABILITIES)
def test_the_tolerance_is_twice_the_uncertainties_shown_in_quadrature(load_mg, d1_mg, gross_mg, d2_mg):
    u1_mg = standard_uncertainty_mg(load_mg, d1_mg)
    u2_mg = standard_uncertainty_mg(gross_mg, d2_mg)
    limit_mg = tolerance_mg(load_mg, d1_mg, gross_mg, d2_mg)
    assert limit_mg <= 2 * sqrt(u1_mg**2 + u2_mg**2) * (1 + 1e-12) < limit_mg + 1 + 1e-6


@given(LOADS, READABILITIES, LOADS, READABILITIES)
def test_it_does_not_matter_which_of_the_two_was_read_first(load_mg, d1_mg, gross_mg, d2_mg):
    assert tolerance_mg(load_mg, d1_mg, gross_mg, d2_mg) == tolerance_mg(gross_mg, d2_mg, load_mg, d1_mg)


def test_very_large_loads_stay_exact():
    limit_mg = tolerance_mg(10**30, 10**24, 10**30, 10**24)
    assert 3 * limit_mg**2 <= 74 * 10**48 < 3 * (limit_mg + 1) ** 2


def test_an_oil_is_judged_by_ten_millilitres_inclusive():
    assert OIL_TOLERANCE_UL == 10_000
    for within in (0, 10_000, -10_000):
        assert within_oil_tolerance(within)
    for outside in (10_001, -10_001):
        assert not within_oil_tolerance(outside)
