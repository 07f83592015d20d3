"""What is caught of every slip, and how often an honest reading is asked about: measured, printed, and held.

The limits of the room were set on other seeds than those of this file. `pytest -s` shows the table.
"""

import pytest

from inventory.plausible.judging import judge
from tests.inventory.plausible.honest import readings
from tests.inventory.plausible.slipping import Measured, by_kind, measure, table

SEED = 20_261_129
MORE_SEED = 17_018

# Shares caught that hold on this seed, a little below what was reached. The rest is measured and not held: what is
# not known cannot be told, see test_what_cannot_be_told in test_answers.py.
FLOORS = {
    "g/kg": 0.97,
    "g/oz": 0.97,
    "oz/lb": 0.93,
    "lb/kg": 0.76,
    "F for C": 0.75,
    "C for F": 0.60,
    "inHg/mbar": 0.95,
    "inHg/micron": 0.97,
    "mbar/micron": 0.97,
    "psi/bar": 0.80,
    "mL/L": 0.97,
    "tare left on": 0.93,
    "a doubled digit": 0.80,
    "a lost digit": 0.50,
    "the mark moved": 0.78,
}


@pytest.fixture(scope="module")
def measured() -> Measured:
    found = measure(readings(SEED, 1_000), SEED)
    print("", table(found), by_kind(found, "lb/kg"), sep="\n\n")
    return found


def test_honest_readings_are_hardly_ever_asked_about(measured):
    assert measured.honest.total() == 1_000
    assert measured.false_alarms < 1 / 300


def test_nor_are_they_in_the_long_run():
    cases = readings(MORE_SEED, 5_000)
    asked = [case for case in cases if not judge(case.typed, case.known).fits]
    print(f"\nhonest readings asked about: {len(asked)} of {len(cases)}")
    assert len(asked) / len(cases) < 1 / 300


def test_a_known_tare_tells_every_wrong_unit(measured):
    for slip in ("g/kg", "g/oz", "oz/lb", "lb/kg"):
        counts = [count for (one, kind), count in measured.by_kind.items() if one == slip and "known tare" in kind]
        assert sum(caught for _, caught in counts) >= 0.97 * sum(wrong for wrong, _ in counts), slip


@pytest.mark.parametrize("slip", FLOORS)
def test_what_is_caught_of_each_slip(measured, slip):
    assert measured.share(slip) >= FLOORS[slip]


def test_an_honest_reading_is_among_those_named_where_it_can_be(measured):
    for slip in ("g/kg", "g/oz", "mbar/micron", "inHg/micron"):
        assert measured.named[slip] >= 0.95 * measured.caught[slip], slip
