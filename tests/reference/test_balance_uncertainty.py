"""What weighing can explain, against published worked examples and the `uncertainties` package."""

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from inventory.measures.balance_uncertainty import (
    Readings,
    expanded_uncertainty,
    proven,
    standard_uncertainty,
)

G = 1000


def grams(value):
    return round(value * G)


# JCGM 100:2008, F.2.2.1: a weighing instrument with a digit of 1 g has u = 0.29 g; two readings, sqrt(2) times that.
def test_one_digit_of_one_gram():
    assert standard_uncertainty([Readings(G, 0, 1, 0)]) / G == pytest.approx(0.29, abs=0.005)
    assert standard_uncertainty([Readings(G, 0, 2, 0)]) / G == pytest.approx(0.408248, abs=1e-6)


# JCGM 100:2008, 5.2.2 with its note: ten resistors of 1000 ohm against one standard of u = 0.1 ohm are uncertain by
# 1 ohm together, not by 0.32: a shared error adds up, it does not add in quadrature. As a scale: 10 loads of 1 kg.
def test_a_shared_error_adds_up():
    shared = 100e-6 * sqrt(3)  # so that the standard uncertainty of the span is 100 millionths
    one_scale = standard_uncertainty([Readings(1, 100, 0, 10 * 1_000_000)]) * sqrt(3)
    assert one_scale / 1e7 * 10_000 == pytest.approx(1.0, rel=1e-9)
    ten_scales = standard_uncertainty([Readings(1, 100, 0, 1_000_000)] * 10) * sqrt(3)
    assert ten_scales / 1e7 * 10_000 == pytest.approx(0.316228, rel=1e-5)
    assert shared > 0


# One net: the difference of two readings on one scale (model of JCGM 100:2008, F.2.2.1, 4.3.7 and 5.2.4): worked out.
@pytest.mark.parametrize(
    ("before", "after", "d", "span_ppm", "u", "expanded"),
    [
        (487.0, 147.5, 0.5, 1000, 0.2830, 0.57),
        (18_432, 17_757, 1, 500, 0.4524, 0.90),
        (18_430, 17_755, 5, 500, 2.0505, 4.10),
        (18_430, 17_755, 10, 1000, 4.1010, 8.20),
    ],
)
def test_one_net(before, after, d, span_ppm, u, expanded):
    terms = [Readings(grams(d), span_ppm, 2, grams(before) - grams(after))]
    assert standard_uncertainty(terms) / G == pytest.approx(u, abs=5e-5)
    assert expanded_uncertainty(terms) / G == pytest.approx(expanded, abs=0.006)


# A month: the same model over many readings.
@pytest.mark.parametrize(
    ("terms", "u"),
    [
        ([Readings(G, 500, 80, 20_000 * G)], 6.325),  # 40 nets of 500 g, each its own pair
        ([Readings(G, 500, 2, 20_000 * G)], 5.788),  # the same, chained: only the first and the last count
        ([Readings(G, 0, 80, 20_000 * G)], 2.582),  # rounding alone
        ([Readings(1, 500, 0, 20_000 * G)], 5.774),  # span alone
        ([Readings(G, 500, 54, 113 * G)], 2.122),  # 113 g left over on one scale: 2 readings and 26 pairs
        ([Readings(G, 500, 2, (31_250 - 11_890) * G), Readings(5 * G, 1000, 2, (19_185 - 24_310) * G)], 6.658),
    ],
)
def test_a_month(terms, u):
    assert standard_uncertainty(terms) / G == pytest.approx(u, abs=6e-4)


def test_a_loss_is_proven_only_beyond_what_weighing_explains():
    expanded = expanded_uncertainty([Readings(G, 500, 54, 113 * G)])
    assert expanded / G == pytest.approx(4.24, abs=0.01)
    assert proven(113 * G, expanded) and not proven(expanded, expanded) and proven(-expanded - 1, expanded)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([100, 500, 1000, 5000]),
            st.integers(0, 5000),
            st.lists(st.tuples(st.sampled_from([-1, 1, 2]), st.integers(0, 30_000_000)), min_size=1, max_size=8),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_it_is_what_the_uncertainties_package_says(scales):
    total, terms = 0, []
    for d, span, readings in scales:
        shared = ufloat(0, span / 1e6 / sqrt(3))
        for c, reading in readings:
            total = total + c * (ufloat(reading, d / sqrt(12)) + reading * shared)
        terms.append(Readings(d, span, sum(c * c for c, _ in readings), sum(c * r for c, r in readings)))
    assert standard_uncertainty(terms) == pytest.approx(total.std_dev, rel=1e-9)
