"""Unit conversions against published definitions and an outside package."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from inventory.measures.quantity import csv_value, exact, parse_mass, parse_volume
from inventory.measures.units import MASS_UNITS, VOLUME_UNITS

PINT_NAMES = {
    "mg": "milligram",
    "g": "gram",
    "kg": "kilogram",
    "oz": "ounce",  # avoirdupois
    "lb": "pound",
    "mL": "milliliter",
    "L": "liter",
    "fl oz": "fluid_ounce",  # US
}


@pytest.fixture(scope="module")
def registry():
    """Pint 0.25 with exact arithmetic: as floats it gives 28.349523125000005 g to the ounce."""
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize("symbol", MASS_UNITS)
def test_masses_agree_with_pint_exactly(registry, symbol):
    outside = registry.Quantity(Fraction(1), PINT_NAMES[symbol]).to("milligram").magnitude
    assert MASS_UNITS[symbol].size == outside


@pytest.mark.parametrize("symbol", VOLUME_UNITS)
def test_volumes_agree_with_pint_exactly(registry, symbol):
    outside = registry.Quantity(Fraction(1), PINT_NAMES[symbol]).to("microliter").magnitude
    assert VOLUME_UNITS[symbol].size == outside


def test_the_pound_is_453_59237_grams():
    # NIST SP 811, appendix B.8, and NIST Handbook 44, appendix C: exact.
    assert MASS_UNITS["lb"].size == Fraction("453592.37")


def test_the_pound_is_7000_grains_and_16_ounces():
    # NIST Handbook 44, appendix C: 1 grain = 64.79891 mg exactly, 7000 grains and 16 ounces to the pound.
    assert MASS_UNITS["lb"].size == 7_000 * Fraction("64.79891")
    assert MASS_UNITS["lb"].size == 16 * MASS_UNITS["oz"].size
    assert MASS_UNITS["oz"].size == Fraction("28349.523125")


def test_the_us_fluid_ounce_is_a_128th_of_231_cubic_inches():
    # NIST Handbook 44, appendix C: 1 US gallon = 231 cubic inches, 1 inch = 2.54 cm exactly.
    cubic_inch_ul = Fraction("2.54") ** 3 * 1_000
    assert VOLUME_UNITS["fl oz"].size == 231 * cubic_inch_ul / 128
    assert VOLUME_UNITS["fl oz"].size == Fraction("29573.5295625")


def test_the_fluid_ounce_is_not_the_imperial_one(registry):
    imperial_ul = registry.Quantity(Fraction(1), "imperial_fluid_ounce").to("microliter").magnitude
    assert imperial_ul == Fraction("28413.0625")  # 4.54609 L / 160
    assert VOLUME_UNITS["fl oz"].size != imperial_ul


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("1 lb", "453.592"),  # 453.59237, NIST SP 811
        ("1 oz", "28.350"),  # 28.349523125
        ("12 oz", "340.194"),  # a 12 oz can: 340.1942775
        ("30 lb", "13607.771"),  # a 30 lb cylinder: 13.6077711 kg
        ("0.5 oz", "14.175"),  # the charge accuracy of SAE J2788 (2006): 14.1747615625
        ("28 oz", "793.787"),  # 793.786647...
        ("47.6 lb", "21590.997"),  # 21590.996812
    ],
)
def test_masses_met_in_a_shop(text, grams):
    assert csv_value(parse_mass(text)) == grams


def test_a_label_that_gives_three_units_gives_one_charge():
    # A vehicle label of 1996 reads 1.75 lb and 28 oz and 0.794 kg; the kilograms are rounded to the gram.
    assert parse_mass("1.75 lb") == parse_mass("28 oz") == parse_mass("1 lb 12 oz")
    assert abs(parse_mass("0.794 kg") - parse_mass("28 oz")) < 500


@pytest.mark.parametrize(
    ("text", "millilitres"),
    [
        ("1 fl oz", "29.574"),
        ("8 fl oz", "236.588"),
        ("128 fl oz", "3785.412"),
    ],  # 3.785411784 L to the US gallon
)
def test_oil_volumes_met_in_a_shop(text, millilitres):
    assert csv_value(parse_volume(text)) == millilitres


@pytest.mark.parametrize("unit", [*MASS_UNITS, *VOLUME_UNITS])
def test_values_shown_in_a_unit_agree_with_pint(registry, unit):
    mass = unit in MASS_UNITS
    kept = 987_654_321  # 987.654321 kg or L
    number, _, symbol = exact(kept, unit).partition(" ")
    outside = registry.Quantity(Fraction(number), PINT_NAMES[symbol])
    back = outside.to("milligram" if mass else "microliter").magnitude
    assert abs(back - kept) <= Fraction(1, 2)
    assert Decimal(number) > 0
