"""VINs against published worked examples and the tables of 49 CFR 565.15."""

import pytest

from jobs.units.vin import VALUES, WEIGHTS, check_digit, model_year, warnings, weighted_sum


@pytest.mark.parametrize(
    ("vin", "total", "digit"),
    [
        # 49 CFR 565.15, table VI: the rule's own worked example.
        ("1G4AH59H45G118341", 411, "4"),
        # pandsauto.ca, "Do you have a valid VIN number": a remainder of 10 is written X.
        ("1M8GDM9AXKP042788", 351, "X"),
        # scientificgems.wordpress.com, 27 April 2018, "Mathematics in action: VINs" (title shortened).
        ("LJCPCBLCX11000237", 186, "X"),
        # The encyclopaedia article "Vehicle identification number": seventeen ones are their own check.
        ("1" * 17, 89, "1"),
    ],
)
def test_published_examples_have_the_sum_and_the_digit_printed_there(vin, total, digit):
    assert weighted_sum(vin) == total
    assert check_digit(vin) == digit == vin[8]
    assert warnings(vin) == []


def test_the_rules_example_rounds_to_the_same_digit_by_its_decimal_table():
    """49 CFR 565.15, table V gives the digit for the decimal part of sum / 11 to three places."""
    decimals = {0.091: 1, 0.182: 2, 0.273: 3, 0.364: 4, 0.455: 5, 0.545: 6, 0.727: 8, 0.818: 9}
    part = round(weighted_sum("1G4AH59H45G118341") / 11 % 1, 3)
    assert str(decimals[part]) == check_digit("1G4AH59H45G118341")


def test_letters_have_the_values_and_positions_the_weights_of_the_tables():
    """49 CFR 565.15. S is 2, not 1; I, O and Q have no value."""
    printed = "A1 B2 C3 D4 E5 F6 G7 H8 J1 K2 L3 M4 N5 P7 R9 S2 T3 U4 V5 W6 X7 Y8 Z9"
    assert {pair[0]: int(pair[1]) for pair in printed.split()} == {
        letter: value for letter, value in VALUES.items() if letter.isalpha()
    }
    weights = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
    assert weights == WEIGHTS


def test_one_digit_changed_is_seen():
    """The rule's example with its last digit one higher: 413, remainder 6."""
    assert weighted_sum("1G4AH59H45G118342") == 413
    assert check_digit("1G4AH59H45G118342") == "6"
    (sentence,) = warnings("1G4AH59H45G118342")
    assert "position 9 is 4" in sentence and "give 6" in sentence


@pytest.mark.parametrize("letter", "IOQ")
def test_letters_that_the_rule_leaves_out_are_named_with_their_position(letter):
    (sentence,) = warnings("1G4AH59H45G11834" + letter)
    assert f"Position 17 is the letter {letter}" in sentence


@pytest.mark.parametrize("vin", ["1G4AH59H45G11834", "1G4AH59H45G1183411"])
def test_sixteen_and_eighteen_characters_are_counted(vin):
    (sentence,) = warnings(vin)
    assert f"has {len(vin)} characters" in sentence


@pytest.mark.parametrize(
    ("position_7", "position_10", "year"),
    [
        # 49 CFR 565.15, with the reading of position 7 that it gives.
        *[("9", code, year) for code, year in zip("56789", range(2005, 2010), strict=True)],
        *[("A", code, year) for code, year in zip("ABCDEFGHJKLMNPRSTVWXY", range(2010, 2031), strict=True)],
        *[("A", code, year) for code, year in zip("123456789", range(2031, 2040), strict=True)],
        ("A", "U", None),
        ("A", "Z", None),
        ("A", "0", None),
    ],
)
def test_position_10_names_the_model_year(position_7, position_10, year):
    assert model_year(f"1G4AH5{position_7}H4{position_10}G118341") == year
