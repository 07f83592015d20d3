"""Vacuum readings against the standard atmosphere and published tables."""

import pytest

from inventory.reference.properties import water_boiling_temperature
from inventory.text.refusal import Refused
from jobs.planning.vacuum import (
    absolute_pa,
    air_pressure_pa,
    beyond_the_air,
    highest_vacuum_inhg,
    hold_verdict,
    water_in,
)

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


# -- water, and what altitude allows -----------------------------------------------------------------------

# CoolProp's water and, over ice, IAPWS R14-08: micron, Pa, where it boils in °C.
BOILS = [
    (760_000, 101325.014, 99.97),
    (300_000, 39996.716, 75.85),
    (150_000, 19998.358, 60.06),
    (100_000, 13332.239, 51.55),
    (75_000, 9999.179, 45.80),
    (50_000, 6666.119, 38.09),
    (25_400, 3386.389, 26.11),
    (20_000, 2666.448, 22.13),
    (10_000, 1333.224, 11.23),
    (5_000, 666.612, 1.20),
    (4587.8, 611.656, 0.01),
    (2_000, 266.645, -9.71),
    (1_500, 199.984, -12.92),
    (1_000, 133.322, -17.31),
    (750, 99.992, -20.33),
    (500, 66.661, -24.48),
    (300, 39.997, -29.51),
    (250, 33.331, -31.25),
    (200, 26.664, -33.36),
]


@pytest.mark.parametrize(("micron", "pascal", "celsius"), BOILS)
def test_water_boils_where_it_is_published_to(micron, pascal, celsius):
    assert absolute_pa(f"{micron} micron", 0) == pytest.approx(pascal, abs=0.06)
    found = water_in(pascal, 20)
    assert found.boils_at_c == pytest.approx(celsius, abs=0.01)
    assert water_in(pascal, celsius + 0.2).goes and not water_in(pascal, celsius - 0.2).goes
    assert f"water boils at {celsius:.0f} °C. The unit is at 20 °C:" in found.sentence.replace("-0 °C", "0 °C")


@pytest.mark.parametrize(
    ("unit_c", "pascal"),  # pressure of water vapour, CoolProp and IAPWS R14-08
    [(-30, 38.01), (-20, 103.24), (-10, 259.87), (0.01, 611.65), (5, 872.58), (20, 2339.32), (40, 7384.94)],
)
def test_the_pressure_that_would_do_is_that_of_water_in_the_unit(unit_c, pascal):
    assert water_in(500, unit_c).needed_pa == pytest.approx(pascal, rel=2e-4)
    assert water_in(pascal * 0.999, unit_c).goes and not water_in(pascal * 1.001, unit_c).goes


def test_what_a_vacuum_does_to_water_is_said_in_words():
    assert water_in(66.661, 5).sentence == (
        "At 500 micron (67 Pa) water boils at -24 °C. The unit is at 5 °C: water in it boils off."
    )
    assert water_in(1333.224, 5).sentence == (
        "At 10000 micron (1333 Pa) water boils at 11 °C. The unit is at 5 °C: water in it does not boil off. It would "
        "under 6545 micron (873 Pa); or warm the unit."
    )
    assert "ice in it goes off as vapour. Ice goes slowly: warm the unit." in water_in(66.661, -10).sentence
    assert "ice in it does not go off. It would under 285 micron (38 Pa)" in water_in(66.661, -30).sentence
    assert water_in(0, 20) is None and water_in(500, -250) is None


ALTITUDES = [  # feet, most that a gauge reads, at 500 and at 1,000 micron, in inHg: the standard atmosphere, ISO 2533
    (0, 29.92, 29.90, 29.88),
    (500, 29.38, 29.36, 29.35),
    (1000, 28.86, 28.84, 28.82),
    (2000, 27.82, 27.80, 27.78),
    (3000, 26.82, 26.80, 26.78),
    (4000, 25.84, 25.82, 25.80),
    (5000, 24.90, 24.88, 24.86),
    (5280, 24.64, 24.62, 24.60),
    (6000, 23.98, 23.96, 23.94),
    (7000, 23.09, 23.07, 23.05),
    (8000, 22.22, 22.21, 22.19),
    (9000, 21.39, 21.37, 21.35),
    (10000, 20.58, 20.56, 20.54),
]


@pytest.mark.parametrize(("feet", "most", "at_500", "at_1000"), ALTITUDES)
def test_a_gauge_is_believed_up_to_what_the_altitude_allows(feet, most, at_500, at_1000):
    """To the hundredth of an inch of mercury, and doubted from there to what weather may add; refused beyond."""
    metres = feet * FOOT
    for reading, pascal in ((at_500, 66.7), (at_1000, 133.3)):
        assert beyond_the_air(f"{reading} inHg", metres) == ""
        assert absolute_pa(f"{reading} inHg", metres) == pytest.approx(pascal, abs=20)  # half a hundredth of an inch
    for over in (0.02, 0.5):
        said = beyond_the_air(f"{most + over:.2f} inHg", metres)
        assert f"more than a gauge reads at {metres:.0f} m: {highest_vacuum_inhg(metres):.1f} inHg at most" in said
        assert absolute_pa(f"{most + over:.2f} inHg", metres) == 0.0
    with pytest.raises(Refused, match=f"can read more than {highest_vacuum_inhg(metres):.1f} inHg of vacuum"):
        absolute_pa(f"{most + 0.62:.2f} inHg", metres)


def test_what_is_no_gauge_s_vacuum_is_not_doubted_by_the_air():
    assert beyond_the_air("500 micron", 1524) == "" and beyond_the_air("70 Pa", 1524) == ""
    assert "at most, but for weather" in beyond_the_air("-85 kPa", 1524)
