"""What is said of a reading: fits, ask or cannot, with which readings, why, and from which source."""

from decimal import Decimal

import pytest

from inventory.measures.numbers import GERMAN
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.plausible.gauges import Pressure, Temperature, Vacuum
from inventory.plausible.judging import Answer, judge, read
from inventory.plausible.masses import Amount, Net, Tare, Weight
from inventory.plausible.oils import OilVolume
from inventory.plausible.typed import Typed
from inventory.plausible.vessels import COLDER, COLDER_NEAR_CRITICAL, HEAVIEST, Vessel
from inventory.reference.properties import PropertyUnavailable, liquid_density
from inventory.reference.refrigerants import refrigerants
from inventory.text.refusal import Refused

G, KG = 1_000, 1_000_000
SEA = 101_325.0
DENVER = 83_427.6  # Pa at 5,280 ft: ISO 2533

CAN = Vessel("can", "R-134a", 340 * G, 340 * G, 340 * G, tare=120 * G, last_readability=G)
NEW_CAN = Vessel("can", "R-134a", 340 * G, 340 * G, 340 * G)
DISPOSABLE = Vessel("disposable", "R-134a", 5_430 * G, 13_600 * G, 13_600 * G, tare=3 * KG, last_readability=5 * G)
RECOVERY = Vessel("recovery", "R-134a", 6 * KG, 0, 9 * KG, tare=12_500 * G, water_capacity=21_600 * G)
UNKNOWN = Vessel("recovery")
MACHINE = Vessel("machine", "R-134a", 8 * KG, 0, 12 * KG, water_capacity=22 * KG)

COUNTED = Weight(CAN, G)
FIRST = Weight(NEW_CAN, G)
OF_DISPOSABLE = Weight(DISPOSABLE, 5 * G)
ON_SMALL_SCALE = Weight(RECOVERY, 5 * G, capacity=30 * KG)
AFTER_CHARGE = Weight(DISPOSABLE, 5 * G, before=8_430 * G, moved="out", least=480 * G, most=520 * G)
AFTER_RECOVERY = Weight(RECOVERY, 5 * G, before=18_500 * G, moved="in", most=500 * G)


def said(text: str, known) -> Answer:
    return judge(read(text, known), known)


@pytest.mark.parametrize(
    ("text", "known", "answer", "question"),
    [
        # a can of 120 g with 340 g in it
        ("460 g", COUNTED, "fits", ""),
        ("458.7 g", COUNTED, "fits", ""),
        ("16.2 oz", COUNTED, "fits", ""),
        ("1.01 lb", COUNTED, "fits", ""),
        ("300 g", COUNTED, "fits", ""),  # it leaked, or was used without a word: not typed wrong
        ("460 kg", COUNTED, "cannot", "460 kg cannot be: is 460 g meant?"),
        ("0.46 g", COUNTED, "cannot", "0.46 g cannot be: is 0.46 kg meant?"),
        ("16.2 g", COUNTED, "cannot", "16.2 g cannot be: is 16.2 oz meant?"),
        ("460 oz", COUNTED, "cannot", "460 oz cannot be: is 460 g meant?"),
        ("1.01 kg", COUNTED, "cannot", "1.01 kg cannot be: is 1.01 lb meant?"),
        ("46 g", COUNTED, "cannot", "46 g cannot be: is 460 g meant?"),
        ("340 g", COUNTED, "ask", "460 g or 340 g?"),  # the net typed for the gross
        # the same, never weighed: only what it came with is known
        ("460 g", FIRST, "fits", ""),
        ("340 g", FIRST, "ask", "Is 340 g right?"),
        ("1.01 kg", FIRST, "ask", "1.01 lb or 1.01 kg?"),
        ("412 kg", FIRST, "ask", "412 g or 412 kg?"),
        ("0.412 g", FIRST, "cannot", "0.412 g cannot be: is 0.412 kg meant?"),
        ("300 g", FIRST, "cannot", "300 g cannot be."),  # less than is in it by the book
        # a disposable cylinder of 3 kg with 5.43 kg in it
        ("8.43 kg", OF_DISPOSABLE, "fits", ""),
        ("18.58 lb", OF_DISPOSABLE, "fits", ""),
        ("18.58 kg", OF_DISPOSABLE, "ask", "18.58 lb or 18.58 kg?"),
        ("8.43 lb", OF_DISPOSABLE, "ask", "8.43 kg or 8.43 lb?"),
        ("8430 g", OF_DISPOSABLE, "fits", ""),
        ("843 g", OF_DISPOSABLE, "cannot", "843 g cannot be: is 8430 g meant?"),
        ("88.43 kg", OF_DISPOSABLE, "cannot", "88.43 kg cannot be: is 8.43 kg meant?"),
        ("4.43 kg", OF_DISPOSABLE, "fits", ""),
        ("5.43 kg", OF_DISPOSABLE, "ask", "8.43 kg or 5.43 kg?"),
        # on a scale that shows nothing above 30 kg
        ("18.5 kg", ON_SMALL_SCALE, "fits", ""),
        ("40.78 kg", ON_SMALL_SCALE, "cannot", "40.78 kg cannot be: is 40.78 lb meant?"),
        # after a charge out of it: it was 8.43 kg, and 480 to 520 g are the unit's
        ("7.93 kg", AFTER_CHARGE, "fits", ""),
        ("8.2 kg", AFTER_CHARGE, "fits", ""),  # less than was wanted is nobody's slip
        ("7.84 kg", AFTER_CHARGE, "fits", ""),  # nor is a little more
        ("8.5 kg", AFTER_CHARGE, "cannot", None),
        ("17.48 kg", AFTER_CHARGE, "cannot", "17.48 kg cannot be: is 17.48 lb meant?"),
        ("6.93 kg", AFTER_CHARGE, "ask", None),
        # after a recovery into a cylinder that was 18.5 kg, from a unit of 500 g
        ("18.98 kg", AFTER_RECOVERY, "fits", ""),
        ("18.53 kg", AFTER_RECOVERY, "fits", ""),  # it was nearly empty
        ("19.2 kg", AFTER_RECOVERY, "fits", ""),  # it was overfilled
        ("18.2 kg", AFTER_RECOVERY, "cannot", None),
        ("41.84 kg", AFTER_RECOVERY, "ask", "41.84 lb or 41.84 kg?"),
        ("28.98 kg", AFTER_RECOVERY, "ask", "Is 28.98 kg right?"),
    ],
)
def test_weights(text, known, answer, question):
    found = said(text, known)
    assert found.answer == answer, found
    if question is not None:
        assert found.question == question


@pytest.mark.parametrize(
    ("text", "known", "answer", "question"),
    [
        ("500 g", Amount("charge", MACHINE, 480 * G, 520 * G), "fits", ""),
        ("500 kg", Amount("charge", MACHINE, 480 * G, 520 * G), "cannot", "500 kg cannot be: is 500 g meant?"),
        ("17.6 g", Amount("charge", MACHINE, 480 * G, 520 * G), "ask", "17.6 oz or 17.6 g?"),
        ("300 g", Amount("recover", MACHINE, most=500 * G), "fits", ""),
        ("9.12 kg", Amount("shown", MACHINE), "fits", ""),
        ("8 lb", Amount("shown", MACHINE), "ask", "8 kg or 8 lb?"),
        ("80 g", Amount("loss"), "fits", ""),
        ("80 oz", Amount("loss"), "ask", "80 g or 80 oz?"),
        ("500 g", Amount("charge", CAN), "cannot", None),  # more than it ever held, and a quarter
        # deliveries
        ("340 g", Net("can"), "fits", ""),
        ("340 kg", Net("can"), "cannot", "340 kg cannot be: is 340 g meant?"),
        ("12 g", Net("can"), "ask", None),
        ("12 oz", Net("can", (340_194,)), "fits", ""),
        ("30 kg", Net("disposable"), "ask", "30 lb or 30 kg?"),
        ("13.6 kg", Net("disposable"), "fits", ""),
        ("13.6 lb", Net("disposable", (13_600 * G,)), "ask", "13.6 kg or 13.6 lb?"),
        ("980 kg", Net("refillable"), "ask", None),
        # a tare that would leave less than nothing
        ("130 g", Tare(NEW_CAN, 460 * G), "fits", ""),
        ("470 g", Tare(NEW_CAN, 460 * G), "cannot", None),
        ("12.5 kg", Tare(Vessel("recovery", water_capacity=21_600 * G)), "fits", ""),
        ("12.5 g", Tare(Vessel("recovery", water_capacity=21_600 * G)), "ask", "12.5 kg or 12.5 g?"),
        # oil
        ("35 mL", OilVolume("add", 200 * G, 237 * G), "fits", ""),
        ("35 L", OilVolume("add", 200 * G, 237 * G), "cannot", "35 L cannot be: is 35 mL meant?"),
        ("0.03 mL", OilVolume("add", 200 * G, 237 * G), "ask", "0.03 L or 0.03 mL?"),
        ("2 mL", OilVolume("add", 200 * G, 237 * G, 50 * G, 70 * G), "ask", "2 fl oz or 2 mL?"),
        ("5 mL", OilVolume("drain"), "fits", ""),
        ("200 mL", OilVolume("level", 200 * G, 237 * G), "fits", ""),
        ("6.8 mL", OilVolume("level", 200 * G, 237 * G), "ask", "6.8 fl oz or 6.8 mL?"),
        ("8 L", OilVolume("bought", sizes=(237 * G,)), "fits", ""),
    ],
)
def test_quantities(text, known, answer, question):
    found = said(text, known)
    assert found.answer == answer, found
    if question is not None:
        assert found.question == question


LATELY = (18.0, 30.0)


@pytest.mark.parametrize(
    ("text", "known", "answer", "question"),
    [
        ("25 °C", Temperature("ambient", recent=LATELY), "fits", ""),
        ("77 °F", Temperature("ambient", recent=LATELY), "fits", ""),
        ("77 °C", Temperature("ambient", recent=LATELY), "cannot", "77 °C cannot be: is 77 °F meant?"),
        ("25 °F", Temperature("ambient", recent=LATELY), "ask", "25 °C or 25 °F?"),
        ("298 °C", Temperature("ambient", recent=LATELY), "cannot", "298 °C cannot be: is 298 K meant?"),
        ("50 °C", Temperature("ambient"), "ask", "50 °F or 50 °C?"),
        ("-18 °C", Temperature("ambient"), "fits", ""),
        ("-300 °C", Temperature("engine"), "cannot", None),
        ("45 °C", Temperature("vent", ambient_c=30), "ask", "45 °F or 45 °C?"),
        ("7 °C", Temperature("vent", ambient_c=30), "fits", ""),
        ("31 °C", Temperature("vent", ambient_c=30), "fits", ""),  # it does not cool
        ("50 °C", Temperature("vent", ambient_c=5), "fits", ""),  # it heats
        ("105 °C", Temperature("engine"), "fits", ""),
        ("85 psi", Pressure("static", SEA, "R-134a", 25), "fits", ""),
        ("590 kPa", Pressure("static", SEA, "R-134a", 25), "fits", ""),
        ("5.9 psi", Pressure("static", SEA, "R-134a", 25), "ask", "5.9 bar or 5.9 psi?"),
        ("85 bar", Pressure("static", SEA, "R-134a", 25), "ask", "85 psi or 85 bar?"),
        ("590 bar", Pressure("static", SEA, "R-134a", 25), "cannot", "590 bar cannot be: is 590 kPa meant?"),
        ("0 bar", Pressure("static", SEA, "R-134a", 25), "fits", ""),  # it is empty
        ("11 bar", Pressure("static", SEA, "R-134a", 25), "fits", ""),  # beside a hot engine
        ("60 bar", Pressure("static", SEA, "R-744", 25), "fits", ""),
        ("15 bar", Pressure("high", SEA, "R-134a", 30), "fits", ""),
        ("15 psi", Pressure("high", SEA, "R-134a", 30), "ask", "15 bar or 15 psi?"),
        ("2.1 bar", Pressure("low", SEA, "R-134a", 30), "fits", ""),
        ("30 bar", Pressure("low", SEA, "R-134a", 30), "ask", "30 psi, 30 kPa or 30 bar?"),
        ("-2 bar", Pressure("low", SEA, "R-134a", 30), "cannot", None),
        ("25 bar", Pressure("test", SEA), "fits", ""),
        ("500 micron", Vacuum("reached", SEA), "fits", ""),
        ("0.7 mbar", Vacuum("reached", SEA), "fits", ""),
        ("29.5 inHg", Vacuum("reached", SEA), "fits", ""),
        ("-0.99 mbar", Vacuum("reached", SEA), "ask", None),
        ("500 mbar", Vacuum("reached", SEA), "ask", "500 micron or 500 mbar?"),
        ("500 inHg", Vacuum("reached", SEA), "cannot", "500 inHg cannot be: is 500 micron meant?"),
        ("0.7 micron", Vacuum("reached", SEA), "ask", None),
        ("0.7 inHg", Vacuum("reached", SEA), "ask", "0.7 mbar or 0.7 inHg?"),
        ("29.5 mbar", Vacuum("reached", SEA), "ask", "29.5 inHg or 29.5 mbar?"),
        ("29.5 micron", Vacuum("reached", SEA), "ask", "29.5 inHg, 29.5 Pa or 29.5 micron?"),
        ("500 Pa", Vacuum("reached", SEA), "ask", "500 micron or 500 Pa?"),
        ("2000 mbar", Vacuum("reached", SEA), "cannot", "2000 mbar cannot be: is 2000 micron meant?"),
        ("24.5 inHg", Vacuum("reached", DENVER), "fits", ""),  # all there is at 5,280 ft
        ("28 inHg", Vacuum("reached", DENVER), "cannot", None),
        ("700 micron", Vacuum("end", SEA, 66.7), "fits", ""),
        ("20000 micron", Vacuum("end", SEA, 66.7), "fits", ""),  # it leaks
        ("100 micron", Vacuum("end", SEA, 66.7), "ask", None),
        ("700 mbar", Vacuum("end", SEA, 66.7), "ask", "700 micron or 700 mbar?"),
    ],
)
def test_instruments(text, known, answer, question):
    found = said(text, known)
    assert found.answer == answer, found
    if question is not None:
        assert found.question == question


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("27.5 kg", Weight(UNKNOWN, 10 * G)),  # 27.5 lb: an empty cylinder of which nothing is known weighs either
        ("27.5 lb", Weight(UNKNOWN, 10 * G)),
        ("12.5 lb", Tare(UNKNOWN)),  # 12.5 kg
        ("10 kg", Net("disposable")),  # 10 lb, where no such cylinder came before
        ("0.5 lb", Amount("recover", MACHINE, most=500 * G)),  # 0.5 kg: units come half empty
        ("5 °C", Temperature("ambient")),  # 41 °F, where nothing was read lately
        ("8.42 kg", OF_DISPOSABLE),  # 8.43 kg: a digit that nobody's scale would miss
        ("30 mL", OilVolume("drain")),  # 3 mL, or 300
    ],
)
def test_what_cannot_be_told(text, known):
    """Slips that lead from one reading that can be to another, with nothing known that tells them apart."""
    assert said(text, known).fits


def test_the_slip_in_words_and_the_exact_quantity_come_with_each_reading():
    found = said("0.412 g", FIRST)
    assert [(one.value, one.text, one.slip, one.how) for one in found.readings] == [
        (412_000, "0.412 kg", "unit", "another unit")
    ]
    assert (found.typed.value, found.typed.slip, found.typed.how) == (412, "", "")


def test_what_is_asked_names_the_typed_reading_last_and_decides_nothing():
    found = said("340 g", COUNTED)
    assert [one.text for one in found.readings] == ["460 g", "340 g"]
    assert found.typed in found.readings
    assert found.said == "460 g or 340 g? By the book it weighs 460 g."
    assert found.question == "460 g or 340 g?"  # for a count that hides the book: `readings` give it away all the same


def test_what_cannot_be_says_what_would_be_right():
    found = said("300 g", FIRST)
    assert found.said == (
        "300 g cannot be. The book says that 340 g are in it, which leaves nothing for the container. If it is right, "
        "mend what it came with first."
    )
    assert found.source == "the book"


ASKED = (
    ("460 kg", COUNTED),
    ("340 g", FIRST),
    ("40.78 kg", ON_SMALL_SCALE),
    ("6.93 kg", AFTER_CHARGE),
    ("28.98 kg", AFTER_RECOVERY),
    ("80 oz", Amount("loss")),
    ("30 kg", Net("disposable")),
    ("12.5 g", Tare(Vessel("recovery", water_capacity=21_600 * G))),
    ("35 L", OilVolume("add", 200 * G, 237 * G)),
    ("77 °C", Temperature("ambient")),
    ("85 bar", Pressure("static", SEA, "R-134a", 25)),
    ("28 inHg", Vacuum("reached", DENVER)),
    ("95 kg", Weight(RECOVERY, 5 * G)),
)


@pytest.mark.parametrize(("text", "known"), ASKED)
def test_every_doubt_has_a_reason_and_a_source(text, known):
    found = said(text, known)
    assert not found.fits
    assert found.why.endswith(".")
    assert found.source
    for bound in known.expects(found.typed.text.split(" ", 1)[1]).bounds:
        assert bound.why.endswith(".") and bound.source and bound.right.endswith("."), bound


def test_figures_are_written_in_the_units_of_whoever_typed():
    assert "13.600 kg" not in said("60.5 lb", OF_DISPOSABLE).why
    assert said("60.5 lb", OF_DISPOSABLE).why == "It came with 29.983 lb, and nobody can fill it."
    assert said("60.5 kg", OF_DISPOSABLE).why == "It came with 13.6 kg, and nobody can fill it."
    assert str(Typed(Decimal("0.412"), "kg", GERMAN)) == "0,412 kg"


@pytest.mark.parametrize(
    "text", ["412 g", "0.412 kg", "14.5 oz", "1.01 lb", "0.0005 g", "0.0015 g", "7 mg", "18.40 kg"]
)
def test_a_mass_is_the_same_as_where_it_is_read(text):
    typed = read(text, COUNTED)
    assert COUNTED.value(typed.number, typed.unit) == parse_mass(text)
    assert str(typed) == text


@pytest.mark.parametrize("text", ["35 mL", "0.75 L", "8 fl oz", "0.3 fl oz"])
def test_a_volume_is_the_same_as_where_it_is_read(text):
    known = OilVolume("drain")
    typed = read(text, known)
    assert known.value(typed.number, typed.unit) == parse_volume(text)


def test_a_quantity_without_its_text():
    assert str(Typed.quantity(parse_mass("1 lb 2.5 oz"), "lb oz")) == "18.5 oz"
    assert str(Typed.quantity(412_000, "kg")) == "0.412 kg"


@pytest.mark.parametrize(("said_so", "unit"), [("", "g"), ("KG", "kg"), ("Lb.", "lb")])
def test_units_as_they_are_typed(said_so, unit):
    assert read(f"5 {said_so}", COUNTED, assume="g").unit == unit
    assert read("5 in. Hg", Vacuum("reached", SEA)).unit == "inHg"
    assert read("5 µm", Vacuum("reached", SEA)).unit == "micron"


def test_an_unknown_unit_is_refused():
    with pytest.raises(Refused, match="stone"):
        read("5 stone", COUNTED)


def test_a_weight_after_needs_the_one_before():
    with pytest.raises(ValueError, match="after"):
        Weight(CAN, G, moved="out")


def test_no_liquid_kept_here_is_denser_than_the_bounds_say():
    for name, gas in refrigerants().items():
        at_25 = gas.liquid_density_25_kg_m3
        if at_25 is None:
            continue
        assert at_25 / 1000 < HEAVIEST
        cold = gas.critical_temperature_c is not None and gas.critical_temperature_c < 65
        try:
            at_30_below = liquid_density(name, -30)
        except PropertyUnavailable:
            continue
        assert at_30_below <= float(at_25) * float(COLDER_NEAR_CRITICAL if cold else COLDER), name
