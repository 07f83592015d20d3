"""Vacuum readings against the standard atmosphere and published tables."""

import pytest

from inventory.ledger.refusal import Refused
from jobs.work.vacuum import absolute_pa, air_pressure_pa, highest_vacuum_inhg, hold_verdict

FOOT = 0.3048


@pytest.mark.parametrize(
    ("feet", "pascal", "inhg"),
    [
        # ISO 2533 / ICAO Doc 7488, computed from its formula; psia at 5,000 ft and 10,000 ft agree with printed tables.
        (0, 101325.0, 29.92),
        (1000, 97716.6, 28.86),
        (5000, 84307.3, 24.90),
        (5280, 83427.6, 24.64),
        (10000, 69681.6, 20.58),
    ],
)
def test_the_air_gets_thinner_with_altitude(feet, pascal, inhg):
    assert air_pressure_pa(feet * FOOT) == pytest.approx(pascal, abs=0.5)
    assert highest_vacuum_inhg(feet * FOOT) == pytest.approx(inhg, abs=0.01)


@pytest.mark.parametrize(
    ("reading", "altitude", "pascal"),
    [
        ("500 micron", 0, 66.661),  # 1 micron = 0.133322387 Pa, NIST SP 811
        ("0,7 mbar", 0, 70.0),
        ("0.07 kPa", 1500, 70.0),
        ("29 inHg", 0, 3119.73),  # 29.92126 - 29 inHg of 3386.389 Pa
        ("24 inHg", 1524, 3034.0),  # 5,000 ft: 24.896 inHg of air
        ("29.92126 in Hg", 0, 0.0),
    ],
)
def test_readings_become_absolute_pressure(reading, altitude, pascal):
    assert absolute_pa(reading, altitude) == pytest.approx(pascal, abs=0.6)


@pytest.mark.parametrize(
    ("reading", "said"),
    [("29 inHg", "no gauge can read more than 24.9"), ("200 kPa", "no vacuum"), ("500", "write a number and one of")],
)
def test_what_cannot_be_read_there_is_refused(reading, said):
    with pytest.raises(Refused, match=said):
        absolute_pa(reading, 1524)


def test_a_hold_is_judged_by_its_end_and_its_length():
    micron = 0.133322387415
    limits = {"most_pa": 1000 * micron, "least_minutes": 10}
    assert hold_verdict(300 * micron, 1000 * micron, 10, **limits).passed
    assert not hold_verdict(300 * micron, 1001 * micron, 10, **limits).passed
    assert not hold_verdict(300 * micron, 400 * micron, 9.9, **limits).passed
    assert hold_verdict(300 * micron, 400 * micron, 10, **limits).rate_pa_min == pytest.approx(10 * micron)
