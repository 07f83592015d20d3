"""Test pressures as stamped on cylinders. 1 psi is 6.894757 kPa: NIST SP 811, appendix B.8."""

import pytest

from inventory.measures.pressure import parse_pressure, show_pressure
from inventory.text.refusal import Refused


@pytest.mark.parametrize(
    ("typed", "kilopascals"),
    [
        ("48 bar", 4800),
        ("48bar", 4800),
        ("31,5 bar", 3150),
        ("4.8 MPa", 4800),
        ("4800 kPa", 4800),
        ("4 800 kPa", 4800),
        ("700 psi", 4826),  # 4826.33
        ("700 psig", 4826),
        ("400 psi", 2758),  # 2757.90
        ("1 bar", 100),
        ("1000 bar", 100_000),
    ],
)
def test_pressures(typed: str, kilopascals: int) -> None:
    assert parse_pressure(typed) == kilopascals


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("48", "no pressure"),
        ("-48 bar", "is negative"),
        ("48 lb", "no pressure"),
        ("", "is blank"),
        ("1,250 bar", "can be 1.25 bar or 1250 bar: write 1.25 bar or 1250 bar"),
        ("0.99 bar", "from 1 to 1000 bar"),
        ("1000.1 bar", "from 1 to 1000 bar"),
    ],
)
def test_what_is_no_test_pressure(typed: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        parse_pressure(typed)


@pytest.mark.parametrize(("kilopascals", "shown"), [(4800, "48 bar"), (4826, "48.26 bar"), (100_000, "1000 bar")])
def test_shown_exactly_and_read_as_the_same(kilopascals: int, shown: str) -> None:
    assert show_pressure(kilopascals) == shown
    assert parse_pressure(shown) == kilopascals
