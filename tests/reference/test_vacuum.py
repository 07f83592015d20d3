"""Vacuum readings against the standard atmosphere and published tables."""

import pytest

from inventory.reference.properties import water_boiling_temperature
from inventory.text.refusal import Refused
from jobs.planning.vacuum import absolute_pa, air_pressure_pa, highest_vacuum_inhg, hold_verdict

FOOT = 0.3048


@pytest.mark.parametrize(
    ("feet", "pascal", "inhg"),
    [
        # ISO 2533 / ICAO Doc 7488, computed from its formula; psia at 5,000 ft and 10,000 ft agree with printed tables.
        (0, 101325.0, 29.92),
        (500, 99507.5, 29.38),
        (1000, 97716.6, 28.86),
        (2000, 94212.9, 27.82),
        (3000, 90811.7, 26.82),
        (4000, 87510.5, 25.84),
        (5000, 84307.3, 24.90),
        (5280, 83427.6, 24.64),
        (6000, 81199.6, 23.98),
        (7000, 78185.4, 23.09),
        (8000, 75262.4, 22.22),
        (9000, 72428.5, 21.39),
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
        ("-29 inHg", 0, 3119.73),  # some gauges write the vacuum with a minus
        ("\u221295 kPa", 0, 6325.0),  # under 101,325 Pa of air
        ("-840 mbar", 1524, 307.3),  # under 84,307.3 Pa of air at 5,000 ft
        ("500 \u00b5m", 0, 66.661),
        ("500 \u03bcmHg", 0, 66.661),
        ("500 microns", 0, 66.661),
        ("1 250 micron", 0, 166.653),
        ("101.325 kPa", 0, 101325.0),
    ],
)
def test_readings_become_absolute_pressure(reading, altitude, pascal):
    assert absolute_pa(reading, altitude) == pytest.approx(pascal, abs=0.6)


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        ("29 inHg", "no gauge can read more than 24.9 inHg"),
        ("-95 kPa", "no gauge can read more than 84.3 kPa"),
        ("200 kPa", "no vacuum"),
        ("500", "write a number and one of"),
        ("-500 micron", "without the minus"),
        ("5e2 micron", "written with an exponent"),
        ("nan Pa", "not a finite number"),
        ("1,250 micron", "can be 1.25 micron or 1250 micron: write 1.25 micron or 1250 micron"),
        ("\u0665\u0660\u0660 micron", "digits 0 to 9"),
    ],
)
def test_what_cannot_be_read_there_is_refused(reading, said):
    with pytest.raises(Refused, match=said):
        absolute_pa(reading, 1524)


@pytest.mark.parametrize(
    ("altitude_ft", "at_500_micron", "at_1000_micron"),
    # What a gauge shows there at 500 and at 1,000 micron, inHg: air of ISO 2533 less 1 micron = 0.133322387 Pa.
    [(0, 29.90, 29.88), (1000, 28.84, 28.82), (5000, 24.88, 24.86), (8000, 22.21, 22.19), (10000, 20.56, 20.54)],
)
def test_a_gauge_and_a_micron_meter_agree_at_any_altitude(altitude_ft, at_500_micron, at_1000_micron):
    altitude = altitude_ft * FOOT
    for gauge, micron in ((at_500_micron, 500), (at_1000_micron, 1000)):
        difference = absolute_pa(f"{gauge} inHg", altitude) - absolute_pa(f"{micron} micron", altitude)
        assert abs(difference) <= 0.006 * 3386.389  # the gauge is printed to 0.01 inHg


@pytest.mark.parametrize(
    ("reading", "celsius"),
    # IAPWS-95 over water and IAPWS R14-08(2011) over ice, of the pressure in micron.
    [("25400 micron", 26.11), ("5000 micron", 1.20), ("1000 micron", -17.31), ("500 micron", -24.48)],
)
def test_what_water_does_at_a_reading(reading, celsius):
    assert water_boiling_temperature(absolute_pa(reading, 0)) == pytest.approx(celsius, abs=0.006)


def test_a_hold_is_judged_by_its_end_and_its_length():
    micron = 0.133322387415
    limits = {"most_pa": 1000 * micron, "least_minutes": 10}
    assert hold_verdict(300 * micron, 1000 * micron, 10, **limits).passed
    assert not hold_verdict(300 * micron, 1001 * micron, 10, **limits).passed
    assert not hold_verdict(300 * micron, 400 * micron, 9.9, **limits).passed
    assert hold_verdict(300 * micron, 400 * micron, 10, **limits).rate_pa_min == pytest.approx(10 * micron)
