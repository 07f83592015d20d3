"""What weighing scales send: thirteen general forms, what is read of each, and what is not.

No open standard defines them. Sources, by the number of the form: manuals of instruments (1 to 5), Sensors 2010,
10(10), table 1 (6 and 7), common practice from memory (8 to 13; underload written UL; the marks `*`, `^` and `-`).
A pound is 453.59237 g and an ounce its sixteenth: NIST SP 811, appendix B.8.
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inventory.measures.units import MASS_LIMIT_MG
from inventory.scales.no_reading import NOT_STILL, REASONS, NoReading, visible
from inventory.scales.string_forms import ALIKE, FORMS, GROSS, NET, NOT_SAID, STABLE, WITHOUT_UNIT
from inventory.scales.string_lines import LINE_LIMIT, TYPED_ENDS, LineBuffer
from inventory.scales.strings import UNITS, ScaleForm, forms_that_read, read, two_agree

G, KG = 1_000, 1_000_000
MG = {"g": Fraction(G), "kg": Fraction(KG), "lb": Fraction(45_359_237, 100), "oz": Fraction(45_359_237, 1600)}
SAID, NOT_SENT = True, None  # whether it is stable


def received(shown):
    """As it comes, from how it is printed here: `_` is a space, and a line without an end of its own has CR and LF."""
    for name, character in (("_", " "), ("<STX>", "\x02"), ("<ETX>", "\x03"), ("<CR>", "\r"), ("<TAB>", "\t")):
        shown = shown.replace(name, character)
    return shown if shown[-1] in "\x03\r\t" else f"{shown}\r\n"


def scale(form, unit="", expects=GROSS, division=G, **letters):
    return ScaleForm(form, division, unit, expects, letters)


def refused(raw, set_up):
    with pytest.raises(NoReading) as caught:
        read(raw, set_up)
    told = caught.value.message
    assert told[0] in '"ITW' and told.endswith(".") and len(told) < 200 and told.isprintable()
    return caught.value.why


# The test lines as they were compiled on 28 November 2026, with the form that each is of.
READ = [
    ("ST,GS,+0000.412kg", scale(1), 412_000, SAID, GROSS),
    ("ST,NT,-0000.050kg", scale(1, expects=NET), -50_000, SAID, NET),
    ("ST,GS,+__18.432_kg", scale(1), 18_432_000, SAID, GROSS),
    ("ST,+00412.3__g", scale(3), 412_300, SAID, NOT_SAID),
    ("______412.3_g", scale(5), 412_300, SAID, NOT_SAID),
    ("S_S_____412.3_g", scale(8), 412_300, SAID, NOT_SAID),
    ("<STX>_00412.3G<ETX>", scale(6, "g"), 412_300, SAID, GROSS),
    ("412,3 g", scale(10), 412_300, NOT_SENT, NOT_SAID),
    ("_26.2_lb", scale(10), 11_884_120, NOT_SENT, NOT_SAID),  # 26.2 x 453.59237 = 11 884.120094 g
]
NOT_READ = [
    ("US,GS,+0000.412kg", scale(1), "unstable"),
    ("OL,GS,+9999.999kg", scale(1), "overload"),
    ("QT,+00000012PC", scale(3), "count"),
    ("______412.3_g__?", scale(5), "unstable"),
    ("S_D_____412.3_g", scale(8), "unstable"),
    ("S_+", scale(8), "overload"),
    ("<STX>_00412.3M<ETX>", scale(6, "g"), "unstable"),
    ("412.3", scale(11), "unit not set"),
    ("1.234,5 g", scale(10), "two decimal signs"),
]

# The examples of the table of forms, and lines made up for each form after its description.
READ_TOO = [
    ("ST,GS,+0000412_g", scale(1), 412_000, SAID, GROSS),
    ("ST,GS,+0026.20LB", scale(1), 11_884_120, SAID, GROSS),
    ("ST,GS,-_0.0005_kg", scale(1), -500, SAID, GROSS),  # within a division of zero
    ("ST,NT,_12.345,kg", scale(2, expects=NET), 12_345_000, SAID, NET),
    ("ST,NT,-_12.345_kg", scale(2, expects=NET), -12_345_000, SAID, NET),
    ("ST,NT,12,345,kg", scale(1, expects=NET), 12_345_000, SAID, NET),
    ("ST,+0412.3G", scale(3), 412_300, SAID, NOT_SAID),
    ("ST,GS,+00000.5kg", scale(4), 500_000, SAID, GROSS),
    ("ST,+00000.5kg", scale(4), 500_000, SAID, NOT_SAID),
    ("______412.3_g___NET", scale(5, expects=NET), 412_300, SAID, NET),
    ("-_____12.5_kg_G", scale(5, division=20 * KG), -12_500_000, SAID, GROSS),
    ("_____1_lb_12.0_oz", scale(5), 793_787, SAID, NOT_SAID),  # 28 oz = 793.786647 g
    ("<STX>-00001.2N<ETX>", scale(6, "kg", NET), -1_200_000, SAID, NET),
    ("<STX>_012.345G<ETX>\r\n", scale(6, "oz"), 349_975, SAID, GROSS),  # 12.345 / 16 x 453.59237 = 349.974863 g
    ("<STX>_00412.3S<ETX>", scale(6, "g", S=STABLE), 412_300, SAID, NOT_SAID),
    ("<STX>_00412.3GS Z_kg<ETX>", scale(7), 412_300_000, SAID, GROSS),
    ("<STX>_00412.3G____g<ETX>", scale(7), 412_300, SAID, GROSS),
    ("<STX>_00412.3G_Z1kg<ETX>", scale(7), 412_300_000, SAID, GROSS),
    ("<STX>-0012.50N__2lb<ETX>", scale(7, expects=NET), -5_669_905, SAID, NET),  # 12.5 x 453.59237 = 5 669.904625 g
    ("<STX>_0000000G_Z_kg<ETX>", scale(7), 0, SAID, GROSS),
    ("S S -0.5 g", scale(8), -500, SAID, NOT_SAID),
    ("SI_S_____18.432_kg", scale(8), 18_432_000, SAID, NOT_SAID),
    ("+___412.3_g__", scale(9), 412_300, SAID, NOT_SAID),
    ("N_____+___0.675_kg__", scale(9, expects=NET), 675_000, SAID, NET),
    ("G#____+__18.432_kg__", scale(9), 18_432_000, SAID, GROSS),
    ("________0.00_lb_", scale(9), 0, SAID, NOT_SAID),
    ("-_____0.5_g___", scale(9), -500, SAID, NOT_SAID),
    ("412.3g", scale(10), 412_300, NOT_SENT, NOT_SAID),
    ("0.4123 kg<TAB>", scale(10), 412_300, NOT_SENT, NOT_SAID),
    ("1:12.0 lb:oz", scale(10), 793_787, NOT_SENT, NOT_SAID),
    ("1,234 kg", scale(10), 1_234_000, NOT_SENT, NOT_SAID),  # no scale parts thousands
    ("2A9D 00 5C 00", scale(13, division=5 * G), 460_000, NOT_SENT, NOT_SAID),  # 92 steps of 0.005 kg
    ("2A9D 02 10 0E EA 07 0B 1D 11 00 00", scale(13, division=5 * G), 18_000_000, NOT_SENT, NOT_SAID),  # 3600 steps
    ("2A9D 01 3C 0A", scale(13, division=5 * G), 11_884_120, NOT_SENT, NOT_SAID),  # 2620 steps of 0.01 lb
    ("412.3<CR>", scale(11, "g"), 412_300, NOT_SENT, NOT_SAID),
    ("0,4123<TAB>", scale(11, "kg"), 412_300, NOT_SENT, NOT_SAID),
    ("G 18.432 kg<CR>T 17.757 kg<CR>N 0.675 kg", scale(12), 18_432_000, NOT_SENT, GROSS),
    ("G 18.432 kg<CR>T 17.757 kg<CR>N 0.675 kg", scale(12, expects=NET), 675_000, NOT_SENT, NET),
    (
        "SHOP 4<CR>26-11-28 14:05<CR>No. 12<CR>N: 0.675 kg<CR>PT: 17.757 kg<CR>B: 18.432 kg",
        scale(12),
        18_432_000,
        None,
        GROSS,
    ),
    ("GROSS____40.64_lb<CR>TARE_____39.15_lb<CR>NET_______1.50_lb", scale(12, division=4536), 18_433_994, None, GROSS),
]
NOT_READ_TOO = [
    ("US,NT,-_12.345_kg", scale(2, expects=NET), "unstable"),
    ("OL,+9999999_g", scale(4), "overload"),
    ("OL,GS,+______kg", scale(4), "overload"),
    ("OL,GS,+0000000kg", scale(1), "overload"),
    ("OL,-9999999_g", scale(3), "underload"),
    ("UL,GS,-9999999kg", scale(1), "underload"),
    ("ST,TR,+0017.757kg", scale(1), "tare"),
    ("ST,GS,+00000012PC", scale(1), "count"),
    ("ST,+000012.5_%", scale(3), "percent"),
    ("ST,GS,+0000.412", scale(1), "no unit"),
    ("ST,GS,+0000.412_t", scale(1), "unit not taken"),
    ("ST,NT,+0000.412kg", scale(1), "net sent"),
    ("ST,GS,+0000.412kg", scale(1, expects=NET), "gross sent"),
    ("ST,GS,-0000.050kg", scale(1), "zero is off"),
    ("ST,+0000.412kg", scale(1), "other form"),
    ("ST,GS,+0000.412kg", scale(3), "other form"),
    ("XX,GS,+0000.412kg", scale(1), "unknown mark"),
    ("GS,+0000.412kg", scale(3), "other form"),  # its front is lost
    ("NT,+0000.412kg", scale(4), "other form"),
    ("ST,GS,+2000.001kg", scale(1), "no weight"),
    ("______412.3_g___*", scale(5), "unstable"),
    ("______412.3_g___U", scale(5), "unstable"),
    ("______412.3_g___U", scale(5, U="underload"), "underload"),
    ("______412.3_g___T", scale(5), "tare"),
    ("______412.3_g___NET_G", scale(5), "unknown mark"),
    ("______412.3_g___X", scale(5), "unknown mark"),
    ("412.3_g", scale(5), "other form"),  # its front may be lost
    ("_____^^^^^^_g", scale(5), "overload"),
    ("_______-----_g", scale(5), "overload"),
    ("_________--__g", scale(5), "error"),
    ("<STX>_00412.3U<ETX>", scale(6, "g"), "underload"),
    ("<STX>_00412.3U<ETX>", scale(6, "g", U="unstable"), "unstable"),
    ("<STX>_9999999O<ETX>", scale(6, "g"), "overload"),
    ("<STX>________E<ETX>", scale(6, "g"), "error"),
    ("<STX>_00412.3X<ETX>", scale(6, "g"), "unknown mark"),
    ("<STX>_00412.3G<ETX>", scale(6), "unit not set"),
    ("<STX>_0012.3G<ETX>", scale(6, "g"), "other form"),  # a figure was lost
    ("<STX>_00412.3GS Z___<ETX>", scale(7), "unstable"),
    ("<STX>_00412.3GM  _kg<ETX>", scale(7), "unstable"),
    ("<STX>_00412.3U   _kg<ETX>", scale(7), "underload"),
    ("<STX>_9999999O   _kg<ETX>", scale(7), "overload"),
    ("<STX>_00412.3G  Q_kg<ETX>", scale(7), "unknown mark"),
    ("S_I", scale(8), "busy"),
    ("S_-", scale(8), "underload"),
    ("SD____412.3_g", scale(8), "unstable"),
    ("T_S____17.757_kg", scale(8), "other form"),  # the answer to another command
    ("+___412.3____", scale(9), "unstable"),
    ("+______H______", scale(9), "overload"),
    ("N_____+_____Low_____", scale(9), "underload"),
    ("_____Err_54___", scale(9), "error"),
    ("T_____+__17.757_kg__", scale(9), "tare"),
    ("Nnom__+__18.432_kg__", scale(9), "nominal"),
    ("___412.3_g__", scale(9), "other form"),  # its sign is lost
    ("412.3 g ?", scale(10), "unstable"),
    ("412.3 ozt", scale(10), "unit not taken"),
    ("412.3 N", scale(10), "unit not taken"),
    ("412.3 G", scale(10), "unit not taken"),  # gram or gross
    ("412.3 mg", scale(10), "unit not taken"),
    ("1.75 lb:oz", scale(10), "unit not taken"),
    ("12 pcs", scale(10), "count"),
    ("1,234.5 g", scale(10), "two decimal signs"),
    ("1 lb 16.0 oz", scale(10), "no weight"),
    ("1.5 lb 2.0 oz", scale(10), "no weight"),
    ("412. g", scale(10), "other form"),
    ("-5 g", scale(10), "zero is off"),
    ("412.3 g", scale(11, "g"), "other form"),
    ("2A9D 00 FF FF", scale(13, division=5 * G), "error"),
    ("2A9D 00 5C", scale(13, division=5 * G), "other form"),
    ("2A9D 02 5C 00", scale(13, division=5 * G), "other form"),  # says that a time stamp follows
    ("2A9D 00 5C 00", scale(13), "coarse"),
    ("G 18.432 kg<CR>T 17.757 kg<CR>N 0.685 kg", scale(12), "ticket"),
    ("G 18.432 kg<CR>T 17.757 kg<CR>N 675 g", scale(12), "ticket"),
    ("G 18.432 kg<CR>G 18.433 kg<CR>T 17.757 kg<CR>N 0.675 kg", scale(12), "ticket"),
    ("G 18.432 kg<CR>T 17.757 kg<CR>PT 17.757 kg<CR>N 0.675 kg", scale(12), "ticket"),
    ("G 18.432 kg<CR>N 0.675 kg", scale(12), "incomplete"),
    ("G 18.432 kg<CR>T 17.757 kg<CR>N OL kg", scale(12), "overload"),
    ("G -0.100 kg<CR>T 0.200 kg<CR>N -0.300 kg", scale(12, expects=NET), "zero is off"),
    ("18.432 kg<CR>17.757 kg<CR>0.675 kg", scale(12), "incomplete"),
]


@pytest.mark.parametrize(("line", "set_up", "mg", "stable", "basis"), READ + READ_TOO)
def test_a_line_that_carries_a_weight_is_read(line, set_up, mg, stable, basis):
    raw = received(line)
    found = read(raw, set_up)
    assert (found.mg, found.stable, found.basis, found.raw) == (mg, stable, basis, raw)
    assert type(found.mg) is int and found.unit_sent == (set_up.form not in WITHOUT_UNIT)


@pytest.mark.parametrize(("line", "set_up", "why"), NOT_READ + NOT_READ_TOO)
def test_a_line_that_carries_none_is_refused_and_says_why(line, set_up, why):
    assert refused(received(line), set_up) == why


def test_a_line_without_its_end_waits():
    assert refused("ST,GS,+0000.4", scale(1)) == "incomplete"
    lines = LineBuffer(from_start=True)
    assert lines.feed("ST,GS,+0000.4") == [] and lines.waiting == "ST,GS,+0000.4"
    assert lines.feed("12kg\r") == ["ST,GS,+0000.412kg\r"] and lines.feed("\n") == []


def test_every_form_and_every_reason_has_a_line_here():
    lines = [*READ, *READ_TOO, *NOT_READ, *NOT_READ_TOO]
    assert {set_up.form for _, set_up, *_ in lines} == set(FORMS)
    found = {why for *_, why in NOT_READ + NOT_READ_TOO}
    assert found == set(REASONS) - {NOT_STILL}, "that is said of two lines (test_taking.py)"


def test_a_reading_says_what_the_display_shows_and_in_which_unit():
    found = read("ST,GS,+0012.340kg\r", scale(1))
    assert (found.figure, found.unit) == ("12.340 kg", "kg")
    found = read("1 lb 12.0 oz\r", scale(10))
    assert (found.figure, found.unit) == ("1 lb 12.0 oz", "lb oz")
    assert read("-0000,5\r", scale(11, "g")).figure == "-0,5 g"


def test_a_ticket_says_its_tare_and_whether_it_was_typed():
    weighed = read("G 18.432 kg\rT 17.757 kg\rN 0.675 kg\r", scale(12))
    typed = read("G 18.432 kg\rPT 17.757 kg\rN 0.675 kg\r", scale(12, expects=NET))
    assert (weighed.tare_mg, weighed.preset_tare) == (17_757_000, False)
    assert (typed.mg, typed.tare_mg, typed.preset_tare) == (675_000, 17_757_000, True)


def test_a_refusal_says_what_to_do():
    for line, set_up, said in [
        ("US,GS,+0000.412kg", scale(1), "wait until the display stands still"),
        (
            "412.3 ozt",
            scale(10),
            'The unit "ozt" (ounce of precious metals) is not taken from a scale: switch the scale',
        ),
        ("412.3 G", scale(10), 'The unit "G", which can be gram or gross, is not taken'),
        ("ST,GS,-0000.050kg", scale(1), "The scale shows -0.050 kg, so its zero is off: empty it, set it to zero"),
        ("412.3", scale(11), '"412.3" carries no unit: say once, with the scale, which unit it sends.'),
        ("1.234,5 g", scale(10), '"1.234,5" has two decimal signs'),
        ("G 9 kg<CR>T 5 kg<CR>N 3 kg", scale(12), "for gross 9 kg less tare 5 kg is not net 3 kg: print it again."),
        ("G 9 kg<CR>N 3 kg", scale(12), "for its line for tare is missing"),
    ]:
        with pytest.raises(NoReading) as caught:
            read(received(line), set_up)
        assert said in caught.value.message


# Which form a line is of


def guesses(line):
    return {
        (one.form.form, one.form.unit, one.reading.figure if one.reading else one.refusal.why)
        for one in forms_that_read(received(line), G)
    }


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("ST,GS,+0000.412kg", {(1, "", "0.412 kg")}),
        ("ST,+00412.3__g", {(3, "", "412.3 g")}),
        ("S_S_____412.3_g", {(8, "", "412.3 g")}),
        ("_26.2_lb", {(5, "", "26.2 lb"), (10, "", "26.2 lb")}),
        ("412.3", {(11, unit, f"412.3 {unit}") for unit in UNITS}),
        ("<STX>_00412.3G<ETX>", {(6, unit, f"412.3 {unit}") for unit in UNITS}),
        ("<STX>_00412.3U<ETX>", {(6, "g", "underload"), (6, "g", "unstable")}),
        ("OL,+9999999_g", {(1, "", "overload"), (3, "", "overload")}),
        ("G 18.432 kg<CR>T 17.757 kg<CR>N 0.675 kg", {(12, "", "18.432 kg"), (12, "", "0.675 kg")}),
        ("nothing of a scale", set()),
    ],
)
def test_every_form_that_a_line_can_be_in_is_shown(line, found):
    assert guesses(line) == found


def test_what_differs_between_forms_is_shown_with_them():
    found = forms_that_read("+   412.3 g  \r\n", G)
    assert {(one.form.form, one.reading.stable) for one in found} == {(5, True), (9, True), (10, None)}
    one, two = forms_that_read("\x02 00412.3U\x03", G)
    assert (one.form.letters, two.form.letters) == ({}, {"U": "unstable"})
    (net,) = forms_that_read("ST,NT,-0000.050kg\r", G)
    assert net.form.expects == NET and net.reading.mg == -50_000


def test_an_incomplete_line_has_no_form():
    with pytest.raises(NoReading, match="the end of the line is missing"):
        forms_that_read("412.3", G)


def test_every_line_that_is_read_is_offered_in_its_form_and_as_that_weight():
    for line, set_up, mg, _, _ in READ + READ_TOO:
        if set_up.division_mg == G and set_up.form not in ALIKE and not set_up.letters:
            offered = {(one.form.form, one.reading.mg) for one in forms_that_read(received(line), G) if one.reading}
            assert (set_up.form, mg) in offered, line


@pytest.mark.parametrize(
    "wrong",
    [
        {"form": 0},
        {"form": 14},
        {"form": 1, "division_mg": 0},
        {"form": 6, "unit": "t"},
        {"form": 1, "expects": "tare"},
        {"form": 1, "letters": {"U": "unstable"}},
        {"form": 6, "letters": {"U": "anything"}},
        {"form": 6, "letters": {"M": STABLE}},
        {"form": 6, "letters": {"U": GROSS}},
        {"form": 5, "letters": {"?": STABLE}},
        {"form": 6, "letters": {"UU": "unstable"}},
    ],
)
def test_a_set_up_that_cannot_be_is_an_error(wrong):
    with pytest.raises(ValueError):
        ScaleForm(**{"division_mg": G} | wrong)


# Two lines of a form without a state


@pytest.mark.parametrize(
    ("one", "two", "division", "agree"),
    [
        ("412.3 g", "412.3 g", 100, True),
        ("412.3 g", "412.4 g", 100, True),
        ("412.3 g", "412.5 g", 100, False),
        ("26.2 lb", "26.3 lb", 45_359, True),  # rounded: 45 359.237 mg is a division
        ("26.2 lb", "26.4 lb", 45_359, False),
        ("412.0 g", "0.412 kg", 1000, False),  # somebody switched it between
    ],
)
def test_two_lines_agree_within_one_division(one, two, division, agree):
    a, b = (read(f"{line}\r", scale(10, division=division)) for line in (one, two))
    assert two_agree(a, b, division) is agree and two_agree(b, a, division) is agree


# Lines out of what comes bit by bit


def test_what_comes_before_the_first_end_may_be_the_rest_of_a_line():
    assert LineBuffer().feed("2.3 g\r\n412.3 g\r\n") == ["412.3 g\r"]
    assert LineBuffer(from_start=True).feed("412.3 g\r\n") == ["412.3 g\r"]
    assert LineBuffer().feed("3G\x03\x02 00412.3G\x03") == ["\x02 00412.3G\x03"]
    assert LineBuffer().feed("\x02 0041\x02 00412.3G\x03") == ["\x02 00412.3G\x03"]


def test_a_tab_ends_what_is_typed_and_noise_is_dropped():
    assert LineBuffer(from_start=True, ends=TYPED_ENDS).feed("412.3\t412.4\r") == ["412.3\t", "412.4\r"]
    noisy = LineBuffer(from_start=True)
    assert noisy.feed("x" * 3 * LINE_LIMIT) == [] and len(noisy.waiting) <= LINE_LIMIT
    assert noisy.feed("12 g\r\n \r\n412.3 g\r\n") == ["412.3 g\r"]


@given(st.lists(st.text("ST,GN+0123.kg \r\n\x02\x03", max_size=8), max_size=12))
def test_lines_are_the_same_however_they_come(pieces):
    whole, bits = LineBuffer(), LineBuffer()
    assert whole.feed("".join(pieces)) == [line for piece in pieces for line in bits.feed(piece)]
    assert whole.waiting == bits.waiting


def test_what_cannot_be_seen_is_written_out_to_be_kept():
    assert visible("\x02 00412.3G\x03\r\n\t\x00\ud800") == "<STX> 00412.3G<ETX><CR><LF><TAB><U+0000><U+D800>"


# What a form writes is read back


def written(form, number, unit, basis):
    """How a scale of that form writes a weight that stands still. number: signed, as its display has it."""
    sign = "-" if number.startswith("-") else "+"
    blank = "-" if sign == "-" else " "
    digits = number.lstrip("-")
    letter, mark = ("G", "GS") if basis == GROSS else ("N", "NT")
    return {
        1: f"ST,{mark},{sign}{digits:0>8}{unit:>2}\r\n",
        2: f"ST,{mark},{sign}{digits:>8},{unit}\r\n",
        3: f"ST,{sign}{digits:0>8}{unit:>3}\r\n",
        4: f"ST,{mark},{sign}{digits:0>8}{unit:<2}\r\n",
        5: f"{number:>12} {unit:<2} {mark}\r\n",
        6: f"\x02{blank}{digits:0>8}{letter}\x03",
        7: f"\x02{blank}{digits:0>8}{letter} Z1{unit:>2}\x03",
        8: f"S S {number:>10} {unit}\r\n",
        9: f"{'G#' if basis == GROSS else 'N':<6}{sign}{digits:>9} {unit:<3}\r\n",
        10: f"{number} {unit}\r\n",
        11: f"{number}\t",
    }[form]


NUMBERS = st.tuples(st.integers(-9_999_999, 9_999_999), st.integers(0, 3)).map(
    lambda drawn: f"{Decimal(drawn[0]).scaleb(-drawn[1]):f}"
)
LINES = st.tuples(st.integers(1, 11), NUMBERS, st.sampled_from(UNITS), st.sampled_from((GROSS, NET)))


def milligrams(number, unit):
    return round(Fraction(number) * MG[unit])


def set_up_of(form, unit, basis):
    """So wide a division that a weight under zero is no fault."""
    return scale(form, unit if form in WITHOUT_UNIT else "", basis, division=10**13)


@given(LINES)
def test_what_a_form_writes_is_read_back(line):
    form, number, unit, basis = line
    mg, set_up = milligrams(number, unit), set_up_of(form, unit, basis)
    if abs(mg) > MASS_LIMIT_MG:
        assert refused(written(*line), set_up) == "no weight"
        return
    found = read(written(*line), set_up)
    assert (found.mg, found.unit) == (mg, unit)
    assert found.basis == (NOT_SAID if form in {3, 8, 10, 11} else basis)
    assert found.stable is (None if form in {10, 11} else True)


@given(LINES, st.data())
def test_a_line_whose_end_has_not_come_yields_nothing(line, data):
    raw = written(*line)
    set_up = set_up_of(line[0], line[2], line[3])
    cut = raw[: data.draw(st.integers(0, len(raw.rstrip("\r\n\t\x03"))))]
    assert refused(cut, set_up) == "incomplete"
    # ... nor does it where the next line, or the end alone, follows what is left of it.
    assume(set_up.form not in {10, 11} and cut)
    for joined in (cut + raw, cut + "\r"):
        try:
            found = read(joined, set_up)
        except NoReading:
            continue
        assert found.mg == milligrams(line[1], line[2])


@given(LINES, st.data())
def test_a_line_that_lost_its_front_is_never_another_weight(line, data):
    """Forms 10 and 11 have nothing to tell it by: what comes first is dropped, and two lines must agree."""
    form, number, unit, basis = line
    assume(form not in {10, 11} and abs(milligrams(number, unit)) <= MASS_LIMIT_MG)
    raw = written(*line)
    left = raw[data.draw(st.integers(1, len(raw) - 1)) :]
    try:
        found = read(left, set_up_of(form, unit, basis))
    except NoReading:
        return
    assert found.mg == milligrams(number, unit) and form in {5, 9}


@given(st.integers(0, 10**7), st.integers(0, 10**7), st.sampled_from(UNITS), st.sampled_from((GROSS, NET)), st.data())
def test_a_ticket_is_read_whole_or_not_at_all(tare, net, unit, expects, data):
    digits = [f"{Decimal(number).scaleb(-3):.3f}" for number in (tare + net, tare, net)]
    assume(milligrams(digits[0], unit) <= MASS_LIMIT_MG)
    lines = [f"{mark} {number} {unit}\r\n" for mark, number in zip("GTN", digits, strict=True)]
    raw = "".join(data.draw(st.permutations(lines)))
    set_up = scale(12, expects=expects, division=round(MG[unit] / 1000) or 1)
    found = read(raw, set_up)
    assert (found.mg, found.basis) == (milligrams(digits[0 if expects == GROSS else 2], unit), expects)
    cut = data.draw(st.integers(1, len(raw) - 3))
    assert refused(raw[:cut], set_up) == "incomplete"
    assert refused(raw[cut:], set_up) in {"incomplete", "other form"}


ANYTHING = st.text(max_size=40) | st.text("STUSGNOLQ,+-0123.kglboz%?*^_: \r\n\t\x02\x03", max_size=40)


@given(ANYTHING | ANYTHING.map(lambda text: f"{text}\r"), st.sampled_from(list(FORMS)), st.sampled_from((GROSS, NET)))
def test_no_text_makes_it_raise_anything_but_its_refusal(text, form, expects):
    for unit in ("", "g"):
        try:
            found = read(text, scale(form, unit, expects))
        except NoReading as refusal:
            assert refusal.why in REASONS and refusal.message.isprintable()
        else:
            assert abs(found.mg) <= MASS_LIMIT_MG and found.raw == text
    try:
        forms_that_read(text, G)
    except NoReading as refusal:
        assert refusal.why == "incomplete"


@given(LINES, st.data())
def test_a_spoilt_line_is_refused_or_read_but_breaks_nothing(line, data):
    raw = list(written(*line))
    raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.characters())
    for form in FORMS:
        try:
            read("".join(raw), set_up_of(form, line[2], line[3]))
        except NoReading as refusal:
            assert refusal.message.endswith(".")
