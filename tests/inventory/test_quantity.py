"""Quantities as people type them, as they are kept, and as they are shown again."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measures.numbers import ENGLISH, FRENCH, GERMAN
from inventory.measures.quantity import (
    NARROW,
    csv_value,
    exact,
    exact_number,
    parse,
    parse_mass,
    parse_volume,
    parse_water_capacity,
    show,
    show_in,
    ungrouped,
)
from inventory.measures.units import (
    DIMENSIONS,
    MASS,
    MASS_CHOICES,
    MASS_LIMIT_MG,
    MASS_UNITS,
    POUNDS_AND_OUNCES,
    VOLUME,
    VOLUME_CHOICES,
    VOLUME_LIMIT_UL,
    VOLUME_UNITS,
    WATER,
)
from inventory.text.refusal import Refused

MASS_STYLES = (*MASS_UNITS, POUNDS_AND_OUNCES)


def refusal(text, dimension=MASS, **options):
    """What the person is told, where the text is refused."""
    with pytest.raises(Refused) as caught:
        parse(text, dimension, **options)
    assert caught.value.message.endswith(".") and caught.value.message[0] in '"IACT'
    return caught.value.message


@pytest.mark.parametrize(
    ("text", "mg"),
    [
        ("412 g", 412_000),
        ("0.412 kg", 412_000),
        ("14.5 oz", 411_068),
        ("1 lb 2.5 oz", 524_466),
        ("250 mg", 250),
        ("30 lb", 13_607_771),
        ("0,75 kg", 750_000),
        ("12,3456 g", 12_346),
        ("1.250 g", 1_250),
        ("1,25 g", 1_250),
        ("1,2 g", 1_200),
        (".5 kg", 500_000),
        (",5 kg", 500_000),
        ("007 g", 7_000),
        ("0 g", 0),
        ("+5 g", 5_000),
        ("412g", 412_000),
        ("  412   g  ", 412_000),
        ("412\u00a0g", 412_000),
        ("412\u202fg", 412_000),
        ("412 G", 412_000),
        ("412 Mg", 412),
        ("0.412 KG", 412_000),
        ("412 g.", 412_000),
        ("14.5 oz.", 411_068),
        ("1lb2.5oz", 524_466),
        ("1 LB. 2,5 OZ.", 524_466),
        ("1 lb .5 oz", 467_767),
        ("0 lb 0 oz", 0),
    ],
)
def test_a_mass_is_read(text, mg):
    assert parse_mass(text) == mg


@pytest.mark.parametrize(
    ("text", "ul"),
    [
        ("35 mL", 35_000),
        ("35ml", 35_000),
        ("0,75 L", 750_000),
        ("1 l", 1_000_000),
        ("8 fl oz", 236_588),
        ("8 fl. oz.", 236_588),
        ("8 FL.OZ", 236_588),
        ("8floz", 236_588),
        ("8 fl\u00a0oz", 236_588),
    ],
)
def test_a_volume_of_oil_is_read(text, ul):
    assert parse_volume(text) == ul


@pytest.mark.parametrize(
    ("text", "mg"),
    [("47.6 lb", 21_590_997), ("27 L", 27_000_000), ("27 kg", 27_000_000), ("1 lb 2 oz", 510_291)],
)
def test_a_water_capacity_is_read_from_a_mass_or_a_volume_at_one_kilogram_a_litre(text, mg):
    assert parse_water_capacity(text) == mg


@pytest.mark.parametrize(
    ("text", "mg"),
    [("0.5 mg", 0), ("1.5 mg", 2), ("2.5 mg", 2), ("0.0005 g", 0), ("0.0015 g", 2), ("2.50001 mg", 3)],
)
def test_rounding_is_half_to_even(text, mg):
    assert parse_mass(text) == mg
    assert parse_mass(f"-{text}", signed=True) == -mg


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("1,250 g", ["1.25 g", "1250 g"]),
        ("0,412 kg", ["0.412 kg", "412 kg"]),
        ("12,000 mg", ["12 mg", "12000 mg"]),
        (",500 kg", ["0.5 kg", "500 kg"]),
        ("1 lb 2,500 oz", ["2.5 oz", "2500 oz"]),
    ],
)
def test_a_comma_before_three_digits_is_refused_with_both_readings(text, readings):
    told = refusal(text)
    assert f"can be {readings[0]} or {readings[1]}: write {readings[0]} or {readings[1]}, whichever is meant." in told


def test_both_readings_are_themselves_taken():
    assert parse_mass("1.250 g") == 1_250
    assert parse_mass("1250 g") == 1_250_000


@pytest.mark.parametrize(
    ("text", "mg"),
    [
        ("1,250,000 mg", 1_250_000),
        ("1.250.000 mg", 1_250_000),
        ("1,250.5 g", 1_250_500),
        ("1.250,5 g", 1_250_500),
        ("1 250 g", 1_250_000),
        ("1\u00a0250,50 g", 1_250_500),
        ("1'250 g", 1_250_000),
        ("1\u2019250.5 g", 1_250_500),
        ("0,000 g", 0),
    ],
)
def test_thousands_parted_so_that_one_reading_is_left_are_read(text, mg):
    assert parse_mass(text) == mg


def test_an_underscore_is_refused_with_what_it_may_mean():
    told = refusal("1_250 g")
    assert "separators between its digits" in told and told.endswith("if 1250 g is meant, write 1250 g.")


@pytest.mark.parametrize("text", ["1,25,0 g", "1..5 g", "1.2.3 g", "12 50 g", "1,.5 g", "1250,000,0 g", "1 2 3 g"])
def test_separators_that_mean_nothing_are_refused_without_a_guess(text):
    told = refusal(text)
    assert "at most one decimal point, thousands in groups of three or together." in told
    assert "is meant" not in told


@pytest.mark.parametrize("text", ["412. g", "412.", "412, g", "1. lb 2 oz"])
def test_a_decimal_mark_without_decimals_is_refused(text):
    assert "no digit follows the decimal" in refusal(text)


@pytest.mark.parametrize("text", ["412", "0", "14.5", "1 lb 2.5", "1 2.5 oz g 4"])
def test_a_number_without_a_unit_is_refused(text):
    told = refusal(text)
    assert "unit" in told
    assert "412 g" in told


@pytest.mark.parametrize("text", ["5 stone", "5 k", "5 m", "5 g/s", "5 xg", "5 \u212ag", "5 \uff47", "5 k g", "5 o.z"])
def test_an_unknown_unit_is_refused_with_the_list(text):
    assert "mg, g, kg, oz or lb" in refusal(text)


@pytest.mark.parametrize(
    ("text", "dimension", "name"),
    [
        ("5 lbs", MASS, "lb"),
        ("5 lbs.", MASS, "lb"),
        ("5 Pounds", MASS, "lb"),
        ("5 #", MASS, "lb"),
        ("5 ounces", MASS, "oz"),
        ("5 grams", MASS, "g"),
        ("5 kilos", MASS, "kg"),
        ("35 cc", VOLUME, "mL"),
        ("1 litre", VOLUME, "L"),
    ],
)
def test_another_name_of_a_unit_is_refused_with_the_name_that_is_taken(text, dimension, name):
    assert f"Write {name} for " in refusal(text, dimension)


def test_a_mass_given_for_oil_is_refused_with_the_fluid_ounce_named():
    told = refusal("8 oz", VOLUME)
    assert "a volume is wanted" in told and "8 fl oz" in told
    assert "fl oz, e.g. 8" not in refusal("8 lb", VOLUME)
    assert "a volume is wanted" in refusal("1 lb 2 oz", VOLUME)


@pytest.mark.parametrize("text", ["35 mL", "1 L", "8 fl oz"])
def test_a_volume_given_for_refrigerant_is_refused(text):
    told = refusal(text)
    assert "a mass is wanted" in told and "mg, g, kg, oz or lb" in told
    assert ("14.5 oz" in told) == ("fl oz" in text)


@pytest.mark.parametrize("text", ["-5 g", "- 5 g", "\u22125 g", "\u20135 g", "-0 g", "-1 lb 2 oz", "--5 g"])
def test_a_negative_is_refused_where_none_can_be(text):
    assert "is negative" in refusal(text)


def test_a_negative_is_read_where_it_can_be():
    assert parse_mass("-5 g", signed=True) == -5_000
    assert parse_mass("\u22121 lb 2.5 oz", signed=True) == -524_466
    assert parse_mass("5 g", signed=True) == 5_000
    assert "is negative" in refusal("-35 mL", VOLUME)


@pytest.mark.parametrize("text", ["nan", "NaN g", "inf", "-inf g", "+Infinity kg", "\u221e g", "\u221e"])
def test_what_is_not_finite_is_refused(text):
    assert "not a finite number" in refusal(text)


@pytest.mark.parametrize("text", ["1e400", "1e400 g", "4E2 g", "1e-3 kg", "1 e 3 g", "4.12e+2 g"])
def test_an_exponent_is_refused(text):
    assert "exponent" in refusal(text)


@pytest.mark.parametrize(
    ("dimension", "at", "over"),
    [
        (MASS, "2000 kg", "2000.000001 kg"),
        (MASS, "2000000000 mg", "2000000001 mg"),
        (MASS, "4409.245 lb", "4409.246 lb"),
        (VOLUME, "1000 L", "1000.000001 L"),
        (VOLUME, "1000000 mL", "1000000.001 mL"),
        (WATER, "2000 kg", "2001 kg"),
        (WATER, "1000 L", "1001 L"),
    ],
)
def test_the_limit_is_taken_and_more_is_refused(dimension, at, over):
    assert parse(at, dimension) > 0
    told = refusal(over, dimension)
    assert ("more than 1000 L" if "L" in over else "more than 2000 kg") in told


def test_an_absurd_number_of_digits_is_refused():
    assert "more than 2000 kg" in refusal("9" * 55 + " g")
    assert "more than 2000 kg" in refusal("-" + "9" * 55 + " g", signed=True)
    assert parse_mass("0." + "0" * 50 + "1 g") == 0


def test_the_limits_are_those_promised():
    assert parse_mass("2000 kg") == MASS_LIMIT_MG
    assert parse_volume("1000 L") == VOLUME_LIMIT_UL


@pytest.mark.parametrize("text", ["", " ", "\u00a0\u2003 "])
def test_a_blank_is_refused(text):
    assert "Type a quantity, e.g. 412 g." in refusal(text)
    assert "Type a quantity, e.g. 35 mL." in refusal(text, VOLUME)


@pytest.mark.parametrize(
    "text",
    [
        "4\x0012 g",
        "412\tg",
        "412 g\n",
        "\ufeff412 g",
        "412\u200b g",
        "412 \u202eg",
        "\ud800 g",
        "4\u2028g",
        "412 \x1fg",
    ],
)
def test_an_invisible_character_is_refused_by_its_number(text):
    told = refusal(text)
    assert "cannot be seen" in told and "U+" in told
    told.encode("utf-8")  # a page can hold it


@pytest.mark.parametrize("text", ["\uff14\uff11\uff12 g", "\u0664\u0661\u0662 g", "\u00bd lb", "4\u00b2 g", "\u2167 g"])
def test_figures_other_than_0_to_9_are_refused(text):
    assert "digits 0 to 9" in refusal(text)


@pytest.mark.parametrize("text", ["1/2 lb", "1\u20442 lb", "2 1/2 oz", "1 lb 1/2 oz"])
def test_a_fraction_is_refused_with_its_decimal_form(text):
    assert "Write it as a decimal, e.g. 0.5 for 1/2" in refusal(text)


@pytest.mark.parametrize("text", ["1 lb 16 oz", "1 lb 18.5 oz", "0 lb 16 oz"])
def test_sixteen_ounces_beside_pounds_are_refused(text):
    assert "A pound has 16 ounces" in refusal(text)


@pytest.mark.parametrize("text", ["1.5 lb 2 oz", "1,5 lb 2 oz"])
def test_broken_pounds_beside_ounces_are_refused(text):
    assert "pounds are not whole" in refusal(text)


@pytest.mark.parametrize(
    "text", ["1 kg 200 g", "2 oz 1 lb", "1 lb 2 oz 3 g", "1 lb 2 lb", "5 g 6 g", "5 - 6 g", "5 g - 6 g"]
)
def test_two_numbers_that_are_not_pounds_and_ounces_are_refused(text):
    told = refusal(text)
    assert "numbers" in told or "unit" in told
    assert "412 g" in told


@pytest.mark.parametrize(
    "text", ["g", "g 5", "about 5 g", "$5", "R-134a", "<b>5</b> g", ".", ",", "-", "+", "..5 g", "'5 g"]
)
def test_what_does_not_begin_with_a_number_is_refused(text):
    assert "412 g" in refusal(text, signed=True)


class Unread(str):
    """A text that says how long it is and nothing else."""

    def __getattribute__(self, name):
        raise AssertionError(f"{name} was read")


@pytest.mark.parametrize("text", ["4" * 10_000_000, " " * 10_000_000, "4," * 5_000_000, "\x00" * 10_000_000])
def test_ten_megabytes_are_refused_at_once(text):
    """Of their number alone, before anything reads them."""
    told = refusal(Unread(text))
    assert "10000000" in told and len(told) < 200


def test_bytes_and_numbers_are_not_read():
    for value in (412, 4.12, b"412 g", None):
        with pytest.raises(TypeError):
            parse_mass(value)


@given(st.text(max_size=70))
def test_any_text_is_read_or_refused_with_a_sentence(text):
    for dimension in DIMENSIONS:
        for options in ({}, {"signed": True}, {"assume": DIMENSIONS[dimension].default_unit}):
            try:
                assert type(parse(text, dimension, **options)) is int
            except Refused as refused:
                assert refused.message.endswith(".")


@given(st.text(alphabet="0123456789.,' -+eElLbBoOzZfgGkKmM\u00a0/", max_size=20))
def test_any_text_of_likely_characters_is_read_or_refused_with_a_sentence(text):
    for dimension in DIMENSIONS:
        try:
            assert parse(text, dimension) >= 0
        except Refused as refused:
            assert refused.message.endswith(".")


# A number beside whose field the unit stands in sight


def test_a_bare_number_is_read_in_the_unit_beside_the_field():
    assert parse("412", MASS, assume="g") == 412_000
    assert parse("14,5", MASS, assume="oz") == 411_068
    assert parse("-5", MASS, assume="g", signed=True) == -5_000
    assert parse("35", VOLUME, assume="mL") == 35_000
    assert parse("27", WATER, assume="L") == 27_000_000


def test_a_unit_that_is_typed_goes_before_the_unit_beside_the_field():
    assert parse("412 g", MASS, assume="oz") == 412_000
    assert parse("1 lb 2.5 oz", MASS, assume="g") == 524_466


def test_a_bare_number_is_refused_where_pounds_and_ounces_stand_beside_the_field():
    assert "2 lb or 2 oz" in refusal("2", assume=POUNDS_AND_OUNCES)
    assert "2.5 lb or 2500 lb" in refusal("2,500", assume=POUNDS_AND_OUNCES)
    assert parse("1 lb 2.5 oz", MASS, assume=POUNDS_AND_OUNCES) == 524_466


def test_a_bare_number_with_a_comma_before_three_digits_is_still_refused():
    assert "write 0.412 kg or 412 kg" in refusal("0,412", assume="kg")


def test_a_unit_of_another_dimension_cannot_be_assumed():
    for unit, dimension in (("mL", MASS), ("oz", VOLUME), (POUNDS_AND_OUNCES, VOLUME), ("stone", MASS)):
        with pytest.raises(ValueError, match="no unit"):
            parse("1", dimension, assume=unit)


# Showing


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (411_068, "oz", "14.5 oz"),
        (411_068, "g", "411.068 g"),
        (411_068, POUNDS_AND_OUNCES, "14.5 oz"),
        (524_466, POUNDS_AND_OUNCES, "1 lb 2.5 oz"),
        (453_592_370, POUNDS_AND_OUNCES, "1000 lb"),
        (-524_466, POUNDS_AND_OUNCES, "-1 lb 2.5 oz"),
        (0, POUNDS_AND_OUNCES, "0 oz"),
        (412_000, "g", "412 g"),
        (412_000, "kg", "0.412 kg"),
        (412_000, "mg", "412000 mg"),
        (1_250_000, "g", "1250 g"),
        (13_607_771, "lb", "30 lb"),
        (-1, "g", "-0.001 g"),
        (0, "kg", "0 kg"),
        (236_588, "fl oz", "8 fl oz"),
        (750_000, "L", "0.75 L"),
        (35_000, "mL", "35 mL"),
        (10**15, "kg", "1000000000 kg"),
    ],
)
def test_exact_writes_the_shortest_text(value, unit, text):
    assert exact(value, unit) == text


def test_exact_number_leaves_the_unit_to_the_page_but_for_pounds_and_ounces():
    assert exact_number(411_068, "oz") == "14.5"
    assert exact_number(236_588, "fl oz") == "8"
    assert exact_number(524_466, POUNDS_AND_OUNCES) == "1 lb 2.5 oz"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (412_000, "g", "412 g"),
        (411_068, "oz", "14.5 oz"),
        (411_068, "g", "411.1 g"),
        (410_960, "g", "411.0 g"),
        (411_050, "g", "411.0 g"),
        (411_150, "g", "411.2 g"),
        (411_100, "g", "411.1 g"),
        (-411_050, "g", "-411.0 g"),
        (-40, "g", "0.0 g"),
        (1_250_000_000, "kg", f"1{NARROW}250 kg"),
        (1_234_567, "g", f"1{NARROW}234.6 g"),
        (9_999_999, "g", f"10{NARROW}000.0 g"),
        (10_000_000, "g", "10 kg"),
        (-10_000_000, "g", "-10 kg"),
        (27_656_000, "g", "27.656 kg"),
        (27_656_400, "g", "27.6564 kg"),
        (27_656_040, "g", "27.6560 kg"),
        (1_027_656_000, "g", f"1{NARROW}027.656 kg"),
        (10_000_000, "mg", f"10{NARROW}000{NARROW}000 mg"),
        (9_999_000, "mL", f"9{NARROW}999 mL"),
        (12_500_000, "mL", "12.5 L"),
        (453_592_370, POUNDS_AND_OUNCES, f"1{NARROW}000 lb"),
        (412_500, "kg", "0.412 kg"),
        (412, "mg", "412 mg"),
        (412_000, "lb", "0.908 lb"),
        (13_607_771, "lb", "30 lb"),
        (453_590, POUNDS_AND_OUNCES, "1 lb 0.00 oz"),
        (524_466, POUNDS_AND_OUNCES, "1 lb 2.5 oz"),
        (524_500, POUNDS_AND_OUNCES, "1 lb 2.50 oz"),
        (35_500, "mL", "35.5 mL"),
        (236_588, "fl oz", "8 fl oz"),
        (240_000, "fl oz", "8.12 fl oz"),
        (750_001, "L", "0.750 L"),
    ],
)
def test_show_is_exact_where_the_places_hold_it_and_rounded_half_to_even_elsewhere(value, unit, text):
    assert show(value, unit) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0.000"),
        (1, "0.001"),
        (412_000, "412.000"),
        (1_234_567, "1234.567"),
        (-1, "-0.001"),
        (-999, "-0.999"),
        (-1_234_567, "-1234.567"),
        (10**18 + 1, "1000000000000000.001"),
    ],
)
def test_csv_value_is_exact_with_three_decimals(value, text):
    assert csv_value(value) == text


def test_only_whole_numbers_are_shown():
    for value in (1.0, True, "1", None):
        for shown in (lambda v: exact(v, "g"), lambda v: show(v, "g"), csv_value):
            with pytest.raises(TypeError):
                shown(value)


def test_an_unknown_unit_is_not_shown():
    for shown in (exact, show):
        with pytest.raises(ValueError, match="no unit"):
            shown(1, "stone")


def test_every_unit_that_a_person_can_choose_is_one_that_is_read():
    assert [unit for unit, _ in MASS_CHOICES] == [unit for unit in MASS_STYLES if unit != "mg"]
    assert [unit for unit, _ in VOLUME_CHOICES] == list(VOLUME_UNITS)


# What is typed comes back as typed

MASSES = st.integers(0, MASS_LIMIT_MG)
VOLUMES = st.integers(0, VOLUME_LIMIT_UL)
# The decimals that a unit's milligram or microlitre can tell apart.
DECIMALS = {"mg": 0, "g": 3, "kg": 6, "oz": 4, "lb": 5, "mL": 3, "L": 6, "fl oz": 4}


def typed(number, places, unit):
    whole, decimals = divmod(number, 10**places)
    return f"{whole}.{decimals:0{places}d}".rstrip("0").rstrip(".") + f" {unit}"


@given(st.data())
def test_what_is_typed_in_a_unit_and_shown_in_it_comes_back_as_typed(data):
    dimension = data.draw(st.sampled_from([MASS, VOLUME]))
    unit = data.draw(st.sampled_from(list(DIMENSIONS[dimension].units)))
    places = data.draw(st.integers(0, DECIMALS[unit]))
    largest = MASS_LIMIT_MG if dimension == MASS else VOLUME_LIMIT_UL
    most = largest * 10**places // DIMENSIONS[dimension].units[unit].size
    text = typed(data.draw(st.integers(0, int(most))), places, unit)
    assert exact(parse(text, dimension), unit) == text


@given(st.integers(1, 4_000), st.integers(1, 15_9999))
def test_pounds_and_ounces_come_back_as_typed(pounds, ten_thousandths):
    text = f"{pounds} lb {typed(ten_thousandths, 4, 'oz')}"
    assert exact(parse_mass(text), POUNDS_AND_OUNCES) == text


@given(MASSES, st.sampled_from(MASS_STYLES), st.booleans())
def test_any_mass_shown_exactly_in_any_unit_is_read_as_itself(mg, unit, negative):
    mg = -mg if negative else mg
    assert parse_mass(exact(mg, unit), signed=True) == mg
    assert parse(exact_number(mg, unit), MASS, signed=True, assume=unit) == mg


@given(VOLUMES, st.sampled_from(list(VOLUME_UNITS)))
def test_any_volume_shown_exactly_in_any_unit_is_read_as_itself(ul, unit):
    assert parse_volume(exact(ul, unit)) == ul


@pytest.mark.parametrize("unit", MASS_STYLES)
def test_the_largest_mass_shown_exactly_is_still_taken(unit):
    assert parse_mass(exact(MASS_LIMIT_MG, unit)) == MASS_LIMIT_MG


@given(MASSES, st.sampled_from(list(MASS_UNITS)))
def test_no_shorter_text_is_read_as_the_same_mass(mg, unit):
    number = exact_number(mg, unit)
    places = len(number.partition(".")[2])
    if places:
        size = MASS_UNITS[unit].size
        nearest = round(mg / size * 10 ** (places - 1))
        assert all(round(n * size / 10 ** (places - 1)) != mg for n in (nearest - 1, nearest, nearest + 1))


@given(st.integers(-(10**15), 10**15), st.sampled_from([*MASS_UNITS, *VOLUME_UNITS]))
def test_show_is_within_half_its_last_place(value, unit):
    known = MASS_UNITS.get(unit) or VOLUME_UNITS[unit]
    number = ungrouped(show_in(value, unit)).removesuffix(f" {unit}")
    shown = round(float(number) * 10**known.places) if abs(value) < 10**9 else None
    if shown is not None:
        assert abs(shown * known.size / 10**known.places - value) <= known.size / 10**known.places / 2
    assert len(number.partition(".")[2]) <= known.places
    assert not number.startswith("-0") or number.strip("-0.")


@given(st.integers(0, 2 * 10**9), st.sampled_from(["g", "kg"]), st.sampled_from([ENGLISH, GERMAN, FRENCH]))
def test_a_mass_that_is_shown_is_read_again_from_a_form(value, unit, style):
    """Copied from a page and put into a field, thousands and all; a comma is nobody's here."""
    said = show(value, unit)
    read = parse(said, MASS, style=ENGLISH)
    assert abs(read - value) <= (500 if unit == "kg" else 50)
    if "." not in said:
        assert parse(said, MASS, style=style) == read


@given(st.integers(-(10**12), 10**12), st.sampled_from(["g", "mL"]))
def test_large_ones_are_shown_in_the_larger_unit_as_finely(value, unit):
    said, larger = ungrouped(show(value, unit)), {"g": "kg", "mL": "L"}[unit]
    assert said.endswith(f" {larger}") == (abs(value) >= 10_000_000)
    number, of = said.split(" ")
    assert abs(Fraction(number) * {"g": 1_000, "mL": 1_000}.get(of, 1_000_000) - value) <= 50


@given(st.integers(-(10**18), 10**18))
def test_csv_value_is_read_back_exactly(value):
    text = csv_value(value)
    assert int(text.replace(".", "")) == value
    assert text[-4] == "."
