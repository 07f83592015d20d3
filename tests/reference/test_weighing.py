"""Limits of error and uncertainties against published tables and worked examples."""

from math import sqrt

import pytest
from uncertainties import ufloat

from inventory.measures.tolerance import (
    combined_uncertainty,
    mpe_in_service_mg,
    rectangular_uncertainty,
    standard_uncertainty_mg,
    tolerance_mg,
)

G = 1_000

# OIML R 76-1, table 6, class III, at verification; the same table is in the European rules for non-automatic
# weighing instruments (French decree 91-330, annex I), from which it was read:
# over, up to and including (in e), limit (in e).
CLASS_III = ((0, 500, 0.5), (500, 2_000, 1.0), (2_000, 10_000, 1.5))


@pytest.mark.parametrize(("over", "upto", "limit"), CLASS_III)
@pytest.mark.parametrize("e_mg", [100, 1 * G, 2 * G, 5 * G, 10 * G, 50 * G])
def test_in_service_limits_are_twice_the_table_at_both_ends_of_each_row(over, upto, limit, e_mg):
    for load_mg in (over * e_mg + 1, (over + upto) * e_mg // 2, upto * e_mg):
        assert mpe_in_service_mg(load_mg, e_mg) == 2 * limit * e_mg


@pytest.mark.parametrize(
    ("load_g", "verification_g"),
    [
        (2_500, 2.5),  # 500 e
        (2_501, 5.0),
        (10_000, 5.0),  # 2,000 e
        (10_001, 7.5),
        (18_430, 7.5),
    ],
)
def test_limits_of_a_scale_of_5_g(load_g, verification_g):
    # Worked from OIML R 76-1, table 6, class III, e = 5 g; in service twice that: 15 g at 18,430 g.
    assert mpe_in_service_mg(load_g * G, 5 * G) == 2 * verification_g * G


def test_a_step_of_one_gram():
    # JCGM 100:2008, F.2.2.1: a weighing instrument whose last digit is 1 g has u = 1 / sqrt(12) g = 0.29 g.
    u_g = rectangular_uncertainty(1 / 2)
    assert u_g == pytest.approx(0.2886751345948129, rel=1e-15)
    assert round(u_g, 2) == 0.29


def test_the_difference_of_two_readings_of_one_gram_steps():
    # JCGM 100:2008, F.2.2.1, twice in quadrature (5.1.2): 1 / sqrt(6) g.
    u_g = rectangular_uncertainty(1 / 2)
    assert combined_uncertainty(u_g, u_g) == pytest.approx(0.4082482904638631, rel=1e-15)


def test_the_voltmeter_example():
    # JCGM 100:2008, 4.3.7, example 2: limits of 14e-6 of 0.928571 V and 2e-6 of 1 V make +-15 uV and
    # u = 8.7 uV; 5.1.5: with u = 12 uV of the readings, 15 uV (14.822 from the rounded 8.7, 14.799 without).
    half_width_v = 14e-6 * 0.928571 + 2e-6 * 1
    assert half_width_v == pytest.approx(15e-6, rel=1e-6)
    u_v = rectangular_uncertainty(half_width_v)
    assert u_v == pytest.approx(8.66e-6, abs=0.005e-6)
    assert round(u_v * 1e6, 1) == 8.7
    assert combined_uncertainty(8.7e-6, 12e-6) == pytest.approx(14.822e-6, abs=0.0005e-6)
    assert combined_uncertainty(u_v, 12e-6) == pytest.approx(14.799e-6, abs=0.0005e-6)
    assert round(combined_uncertainty(u_v, 12e-6) * 1e6) == 15


def test_the_end_gauge_example():
    # JCGM 100:2008, H.1, from its rounded inputs in nm; the guide prints 32.
    u_nm = combined_uncertainty(25, 9.7, 2.9, 16.6)
    assert u_nm == pytest.approx(31.671, abs=0.001)
    assert round(u_nm) == 32


def test_two_weighings_on_one_balance():
    # EURACHEM / CITAC Guide CG 4, example A2: linearity +-0.15 mg, rectangular, counted twice.
    # The guide prints 0.13 mg, which is what the single one gives when rounded to 0.09 mg first.
    single_mg = rectangular_uncertainty(0.15)
    assert combined_uncertainty(single_mg, single_mg) == pytest.approx(0.122474, abs=1e-6)
    assert round(combined_uncertainty(0.09, 0.09), 2) == 0.13


@pytest.mark.parametrize(
    ("reading_mg", "d1_mg", "gross_mg", "d2_mg"),
    [
        (480 * G, 1 * G, 481 * G, 1 * G),
        (12_000 * G, 5 * G, 12_010 * G, 5 * G),
        (150 * G, 100, 150 * G, 5 * G),
        (18_430 * G, 10 * G, 18_500 * G, 1 * G),
    ],
)
def test_the_tolerance_agrees_with_the_uncertainties_package(reading_mg, d1_mg, gross_mg, d2_mg):
    # uncertainties 3.2: each reading with independent errors of limit (OIML R 76-1) and of step (JCGM 100).
    readings = []
    for load_mg, d_mg in ((reading_mg, d1_mg), (gross_mg, d2_mg)):
        limit = ufloat(0, mpe_in_service_mg(load_mg, d_mg) / sqrt(3))
        step = ufloat(0, d_mg / sqrt(12))
        readings.append(load_mg + limit + step)
        assert readings[-1].std_dev == pytest.approx(standard_uncertainty_mg(load_mg, d_mg), rel=1e-12)
    difference = readings[0] - readings[1]
    assert tolerance_mg(reading_mg, d1_mg, gross_mg, d2_mg) == int(2 * difference.std_dev)
