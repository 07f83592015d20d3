"""The one reader of numbers: the table of what is written and what is read, cell by cell, and what lies beside it."""

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inventory.measures.money import DECIMALS, LIMIT, decimals_of, parse_money, plain_money, show_money
from inventory.measures.numbers import (
    ENGLISH,
    FRENCH,
    GERMAN,
    SCALE,
    SPANISH,
    Ambiguous,
    read_number,
    read_with_unit,
    written,
)
from inventory.text.refusal import Refused

STYLES = {"English": ENGLISH, "German": GERMAN, "Spanish": SPANISH, "French": FRENCH, "scale": SCALE}
PERSONS = (ENGLISH, GERMAN, SPANISH, FRENCH)
BOTH, NONE = "both readings named", "refused"
SPACES = " \u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"

# A line for each text: in English, in German and Spanish, in French, as a scale's string.
TABLE = [
    ("0,75", "0.75", "0.75", "0.75", "0.75"),
    ("9,80", "9.80", "9.80", "9.80", "9.80"),
    ("12,5", "12.5", "12.5", "12.5", "12.5"),
    ("1,2505", "1.2505", "1.2505", "1.2505", "1.2505"),
    ("0.75", "0.75", "0.75", "0.75", "0.75"),
    ("12.5", "12.5", "12.5", "12.5", "12.5"),
    ("1,250", BOTH, "1.25", "1.25", "1.25"),
    ("12,000", BOTH, "12", "12", "12"),
    ("0,412", BOTH, "0.412", "0.412", "0.412"),
    ("1.250", "1.25", BOTH, BOTH, "1.25"),
    ("0.412", "0.412", BOTH, BOTH, "0.412"),
    *((f"27{space}656", "27656", "27656", "27656", NONE) for space in (*SPACES, "'", "\u2019")),
    ("1 234 567", "1234567", "1234567", "1234567", NONE),
    ("1'234'567,89", "1234567.89", "1234567.89", "1234567.89", NONE),
    ("27 656.5", "27656.5", "27656.5", "27656.5", NONE),
    ("27 656,500", "27656.5", "27656.5", "27656.5", NONE),
    ("27 656.500", "27656.5", "27656.5", "27656.5", NONE),
    ("1,234.5", "1234.5", "1234.5", "1234.5", NONE),
    ("1.234,5", "1234.5", "1234.5", "1234.5", NONE),
    ("1,234.567", "1234.567", "1234.567", "1234.567", NONE),
    ("1.234,567", "1234.567", "1234.567", "1234.567", NONE),
    ("1.234.567,5", "1234567.5", "1234567.5", "1234567.5", NONE),
    ("1,234,567", "1234567", "1234567", "1234567", NONE),
    ("1.234.567", "1234567", "1234567", "1234567", NONE),
    # What fits no group of three, and what is parted in two ways
    *((text, NONE, NONE, NONE, NONE) for text in ("12 50", "1 2500", "1234 567", "0 250", "1 250'000", "1 234,567.5")),
    *((text, NONE, NONE, NONE, NONE) for text in ("12,34.5", "1,234.567.5", "1.2.3", "1,2,3", "1,,2", "1,.5", "1_250")),
    # Beside the table: one reading, or none
    *((text, "1250", "1250", "1250", "1250") for text in ("1250", "+1250", "001250", " 1250 ", "1250.0", "1250,0")),
    (".5", "0.5", "0.5", "0.5", "0.5"),
    (",5", "0.5", "0.5", "0.5", "0.5"),
    (",500", BOTH, "0.5", "0.5", "0.5"),
    (".500", "0.5", BOTH, BOTH, "0.5"),
    ("0,000", "0", "0", "0", "0"),
    *(
        (text, NONE, NONE, NONE, NONE)
        for text in ("5.", "5,", "", " ", ".", "-", "1e3", "1E-3", "1/2", "\u00bd", "nan")
    ),
    *((text, NONE, NONE, NONE, NONE) for text in ("-5", "\u22125", "\u20135", "5-", "--5", "0x10", "5 g", "$5", "5 %")),
    *(
        (text, NONE, NONE, NONE, NONE)
        for text in ("\uff15", "\u0665", "4\u00b2", "5\u200b", "5\t000", "inf", "5\n", "9" * 61)
    ),
]


def cells():
    for text, english, german, french, scale in TABLE:
        said = {"English": english, "German": german, "Spanish": german, "French": french, "scale": scale}
        yield from (pytest.param(text, style, is_, id=f"{text[:20]!a}-{style}") for style, is_ in said.items())


@pytest.mark.parametrize(("text", "style", "says"), list(cells()))
def test_the_table_of_separators(text, style, says):
    if says not in {BOTH, NONE}:
        assert read_number(text, STYLES[style]) == Decimal(says)
        return
    with pytest.raises(Refused) as caught:
        read_number(text, STYLES[style])
    told = caught.value.message
    assert told.endswith(".") and len(told) < 250
    assert isinstance(caught.value, Ambiguous) == (says == BOTH)
    if says == BOTH:
        one, two = (written(reading, STYLES[style]) for reading in caught.value.readings)
        assert told == f'"{text}" can be {one} or {two}: write {one} or {two}, whichever is meant.'
        assert caught.value.readings == (read_number(one, STYLES[style]), read_number(two, STYLES[style]))


def test_each_refusal_says_what_would_be_right():
    for text, style, said in [
        ("1,250", ENGLISH, "can be 1.25 or 1250: write 1.25 or 1250"),
        ("1.250", GERMAN, "can be 1,25 or 1250: write 1,25 or 1250"),
        ("1.125", FRENCH, "can be 1,125 or 1125"),
        ("12 50", ENGLISH, "at most one decimal point, thousands in groups of three or together"),
        ("12 50", GERMAN, "at most one decimal comma"),
        ("27 656", SCALE, "if 27656 is meant, write 27656"),
        ("5,", ENGLISH, "no digit follows the decimal comma. Leave it out or add the digits, e.g. 12.5"),
        ("-5", ENGLISH, "cannot be. Type it without a minus, e.g. 12.5"),
        ("1e3", ENGLISH, "Write the number out"),
        ("1/2", ENGLISH, "0.5 for 1/2"),
        ("\u0665", ENGLISH, "the digits 0 to 9"),
        ("5 g", ENGLISH, "Write the number alone, e.g. 12.5"),
        ("five", FRENCH, "Write one with digits, e.g. 12,5"),
    ]:
        with pytest.raises(Refused) as caught:
            read_number(text, style)
        assert said in caught.value.message


def test_a_minus_is_read_where_one_can_be():
    for text in ("-5,5", "- 5.5", "\u22125.5", "\u20135,5"):
        assert read_number(text, signed=True) == Decimal("-5.5")
    with pytest.raises(Ambiguous) as caught:
        read_number("-1,250", signed=True)
    assert '"-1,250" the number 1,250 can be 1.25 or 1250' in caught.value.message


def test_no_digit_is_lost_however_many_there_are():
    long = "1" * 30 + "." + "2" * 25
    assert str(read_number(f"-{long}", signed=True)) == f"-{long}"


NUMBERS = st.decimals(min_value=-(10**12), max_value=10**12, places=6) | st.integers(-(10**15), 10**15).map(Decimal)


@given(NUMBERS, st.sampled_from(list(STYLES.values())))
def test_what_is_shown_is_read_back_in_the_same_style(number, style):
    assert read_number(written(number, style), style, signed=True) == number


@given(NUMBERS.map(abs), st.sampled_from(PERSONS), st.sampled_from([*SPACES, "'", "\u2019", ".", ","]))
def test_what_is_parted_in_groups_is_that_number_or_refused(number, style, part):
    """Never another one: what is written with groups is read as meant, or both readings are named, meant among them."""
    whole, _, decimals = written(number).partition(".")
    mark = "," if part == "." else "."
    text = f"{int(whole):,}".replace(",", part) + (mark + decimals if decimals else "")
    # One group parted by the style's own decimal mark says decimals, by the table: 1.250 is 1.25 in English.
    assume(part != style.mark or decimals or text.count(part) != 1)
    try:
        assert read_number(text, style) == number
    except Ambiguous as ambiguous:
        assert number in ambiguous.readings and text.count(part) + text.count(mark) == 1


@given(st.text(alphabet="0123456789.,' \u00a0\u2019-+", max_size=14), st.sampled_from(list(STYLES.values())))
def test_a_text_is_read_as_its_own_digits_or_refused(text, style):
    """Whatever is read is what is left where the marks that part thousands are taken out: no digit is lost or made."""
    try:
        number = read_number(text, style, signed=True)
    except Refused as refused:
        assert refused.message.endswith(".")
        return
    digits = "".join(character for character in text if character.isdigit())
    assert any(abs(number) == Decimal(digits).scaleb(-places) for places in range(len(digits) + 1))
    if style is not SCALE:  # no other style reads another number, without saying that it can be one
        for other in PERSONS:
            try:
                assert read_number(text, other, signed=True) == number
            except Ambiguous as ambiguous:
                assert abs(number) in ambiguous.readings


@given(st.text(max_size=70), st.sampled_from(list(STYLES.values())))
def test_any_text_is_read_or_refused_with_a_sentence(text, style):
    for read in (
        lambda: read_number(text, style),
        lambda: read_with_unit(text, style, what="pressure", right="48 bar"),
    ):
        try:
            read()
        except Refused as refused:
            assert refused.message.endswith(".")
            refused.message.encode("utf-8")


def test_a_number_and_its_unit_come_apart():
    read = {"what": "pressure", "right": "48 bar"}
    assert read_with_unit("4,8 MPa", **read) == (Decimal("4.8"), "MPa")
    assert read_with_unit("27 656kPa", **read) == (Decimal(27656), "kPa")
    assert read_with_unit("12", **read) == (Decimal(12), "")
    assert read_with_unit("\u22120.5 bar", signed=True, **read) == (Decimal("-0.5"), "bar")
    with pytest.raises(Ambiguous, match="can be 1.25 kPa or 1250 kPa"):
        read_with_unit("1,250 kPa", **read)
    for text in ("bar", "5. bar", "-5 bar", ""):
        with pytest.raises(Refused, match="48 bar"):
            read_with_unit(text, **read)


# Money


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [
        ("9,80", "USD", 980),
        ("9.80", "EUR", 980),
        ("9.8", "EUR", 980),
        ("1 250", "EUR", 125_000),
        ("1'250.50", "CHF", 125_050),
        ("1,234.50", "USD", 123_450),
        ("0", "USD", 0),
        ("1250", "JPY", 1_250),
        ("1250.0", "JPY", 1_250),
        ("1.250", "KWD", 1_250),
        ("1.2505", "CLF", 12_505),
        ("999999999", "USD", 99_999_999_900),
    ],
)
def test_an_amount_is_kept_in_minor_units_of_its_currency(text, currency, minor):
    assert parse_money(text, currency) == minor
    assert parse_money(plain_money(minor, currency), currency) == minor


@pytest.mark.parametrize(
    ("text", "currency", "said"),
    [
        ("1,250", "USD", "can be 1.25 or 1250"),
        ("9.805", "USD", "2 decimals at most. Write it so, e.g. 129.50."),
        ("9." + "0" * 50 + "1", "USD", "2 decimals at most"),
        ("9.5", "JPY", "no decimals. Write it so, e.g. 129."),
        ("1.2505", "KWD", "3 decimals at most. Write it so, e.g. 129.500."),
        ("1000000000", "USD", "more than 999999999 USD"),
        ("9" * 60, "USD", "more than 999999999 USD"),
        ("-1", "USD", "is negative"),
        ("9.80 USD", "USD", "Write the number alone"),
    ],
)
def test_an_amount_that_cannot_be_is_refused(text, currency, said):
    with pytest.raises(Refused) as caught:
        parse_money(text, currency)
    assert said in caught.value.message


def test_amounts_are_shown_with_all_their_decimals():
    assert show_money(123_450, "USD") == "1\u202f234.50 USD"
    assert show_money(-5, "USD") == "-0.05 USD"
    assert show_money(0, "USD") == "0.00 USD"
    assert show_money(1_234_567, "JPY") == "1\u202f234\u202f567 JPY"
    assert show_money(1_250, "KWD") == "1.250 KWD"
    assert plain_money(123_450, "USD") == "1234.50"
    assert plain_money(10**13, "JPY") == "10000000000000"


@given(st.integers(0, LIMIT), st.sampled_from(["USD", *DECIMALS]))
def test_every_amount_is_read_back(minor, currency):
    assert parse_money(plain_money(minor, currency), currency) == minor
    assert decimals_of(currency) <= 4
