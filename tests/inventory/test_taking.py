"""A weight out of what a scale sent, by the form that was confirmed for it: steady, whole, and kept as it came."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.scales.no_reading import NoReading, heard, visible
from inventory.scales.strings import ScaleForm
from inventory.scales.taking import meanings, shown, take, typed

G = 1_000
HEADED, BARE = ScaleForm(1, G), ScaleForm(11, G, "g")


def why(sent, scale):
    with pytest.raises(NoReading) as caught:
        take(sent, scale)
    return caught.value.why


def test_a_stable_line_is_taken_with_what_was_understood():
    taken = take("ST,GS,+0000.412kg<CR><LF>", HEADED)
    assert (taken.reading.mg, taken.value, taken.steady) == (412_000, "0.412 kg", "stable")
    assert taken.kept == "ST,GS,+0000.412kg<CR> | gross, stable"
    assert shown(taken.kept) == "ST,GS,+0000.412kg (gross, stable)"


def test_the_newest_whole_line_is_the_one():
    assert take("ST,GS,+0000.412kg<CR>ST,GS,+0000.413kg<CR>", HEADED).reading.mg == 413_000
    assert why("ST,GS,+0000.412kg<CR>ST,GS,+0000.4", HEADED) == "incomplete"
    assert why("ST,GS,+0000.412kg<CR>US,GS,+0000.413kg<CR>", HEADED) == "unstable"


def test_of_a_form_without_a_state_two_lines_agree_or_its_key_was_pressed():
    taken = take("412<CR>412<CR>", BARE)
    assert taken.steady == "state not sent, two lines agree"
    assert taken.kept == "412<CR>412<CR> | gross or net not sent, state not sent, two lines agree, unit g by its set-up"
    assert take("412<CR>413<CR>", BARE).reading.mg == 413_000, "one division apart"
    assert why("412<CR>414<CR>", BARE) == "not still"
    assert take("412<TAB>", BARE).steady == "state not sent, sent by its key"


def test_a_ticket_is_taken_whole():
    taken = take("G 18.432 kg<CR><LF>T 17.757 kg<CR><LF>N 0.675 kg<CR><LF>", ScaleForm(12, G))
    assert (taken.reading.mg, taken.reading.basis) == (18_432_000, "gross")
    assert shown(taken.kept).startswith("G 18.432 kg  T 17.757 kg  N 0.675 kg (gross, ")


def test_a_comma_is_written_as_a_field_for_weights_reads_it():
    assert take("  0,412 kg<CR>", ScaleForm(10, G)).value == "0.412 kg"


def test_a_line_that_was_typed_ends_where_enter_was_pressed():
    assert typed("   412.3 g") == "   412.3 g\r"
    assert typed("<STX> 00412.3G<ETX>") == "\x02 00412.3G\x03"
    assert typed("412.3\r\n") == "412.3\r"


def test_several_lines_mean_a_ticket_or_nothing():
    found = meanings("G 18.432 kg\r\nT 17.757 kg\r\nN 0.675 kg", G)
    assert {(one.form.form, one.reading.mg) for one in found} == {(12, 18_432_000), (12, 675_000)}
    assert [one.reading for one in meanings("412.3 g\r\n412.3 g", G) if one.reading] == []


@given(st.text("ST,+012.gk >CRLF\r\n\t\x02\x03", max_size=60))
def test_what_is_written_out_comes_back(raw):
    assert heard(visible(raw)) == raw and visible(raw).isprintable()
