"""UN numbers, names and codes against a copy of what was read: ADR/RID 2025 chapter 3.2 table A, 49 CFR 172.101.

transport.csv beside this file names the source of each value; blank means that there is none.
"""

import csv
from pathlib import Path

import pytest

from inventory.reference.refrigerants import refrigerants
from inventory.reference.transport import Entry, _entries, entry, entry_of, small_load_points, waste_code

with (Path(__file__).parent / "transport.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

QUANTITIES = {
    "un_number": "number",
    "name": "name",
    "technical_name": "technical_name",
    "labels": "labels",
    "code": "code",
    "category": "category",
    "tunnel_code": "tunnel_code",
    "limited_quantity": "limited_quantity",
    "us_division": "us_division",
}
# What stands for each code of the List of Waste.
OF_WASTE = {
    "CFC, HCFC, HFC": "R-134a",
    "HFO": "R-1234yf",
    "hydrocarbon or ammonia": "R-290",
    "CO2": "R-744",
    "oil, mineral": "Mineral 100",
    "oil, synthetic": "PAG 46",
    "oil, unknown": "used oil",
}


@pytest.mark.parametrize(
    ("subject", "quantity", "value", "source"),
    [tuple(row.values()) for row in ROWS],
    ids=[f"{row['subject']}-{row['quantity']}" for row in ROWS],
)
def test_the_program_says_what_the_list_says(subject: str, quantity: str, value: str, source: str) -> None:
    assert source
    if quantity == "waste_code":
        assert waste_code(OF_WASTE[subject]).code == value
    else:
        assert getattr(_entries()[subject], QUANTITIES[quantity]) == value


@pytest.mark.parametrize("designation", list(refrigerants()))
def test_every_refrigerant_has_an_entry(designation: str) -> None:
    found = entry(designation)
    assert isinstance(found, Entry)
    assert found.is_dangerous == (refrigerants()[designation].is_gas_for_transport or designation == "R-601a")
    assert str(found.source) and str(found.us_source).endswith("(from memory, to be confirmed)")


@pytest.mark.parametrize(
    ("designation", "said"),
    [
        # ADR 5.4.1.1.1: number, proper shipping name, label numbers, tunnel restriction code
        ("R-134a", "UN 3159 1,1,1,2-TETRAFLUOROETHANE (REFRIGERANT GAS R 134a), 2.2, (C/E)"),
        ("R-410A", "UN 3163 LIQUEFIED GAS, N.O.S. (difluoromethane, pentafluoroethane), 2.2, (C/E)"),
        ("R-1234yf", "UN 3161 LIQUEFIED GAS, FLAMMABLE, N.O.S. (2,3,3,3-tetrafluoroprop-1-ene), 2.1, (B/D)"),
        ("R-290", "UN 1978 PROPANE, 2.1, (B/D)"),
        ("R-717", "UN 1005 AMMONIA, ANHYDROUS, 2.3 + 8, (C/D)"),
        ("R-744", "UN 1013 CARBON DIOXIDE, 2.2, (C/E)"),
    ],
)
def test_the_line_of_a_transport_document(designation: str, said: str) -> None:
    assert entry(designation).description() == said


def test_waste_and_empty_receptacles() -> None:
    """ADR 5.4.1.1.3.1: WASTE before the name; 5.4.1.1.6 (from memory): the words of what is empty and not cleaned."""
    found = entry("R-22")
    assert found.description(waste=True) == ("UN 1018 WASTE CHLORODIFLUOROMETHANE (REFRIGERANT GAS R 22), 2.2, (C/E)")
    assert found.description(empty=True).startswith("EMPTY, UNCLEANED, UN 1018 CHLORODIFLUOROMETHANE")


def test_small_cans_are_gas_cartridges_and_mixed_gas_may_be_flammable() -> None:
    """UN 2037; "take the flammable entry when in doubt": UN 3161."""
    assert entry_of("R-134a", "virgin", "can").description() == (
        "UN 2037 RECEPTACLES, SMALL, CONTAINING GAS (GAS CARTRIDGES), 2.2, (E)"
    )
    assert (entry_of("R-1234yf", "virgin", "can").labels, entry_of("R-1234yf", "virgin", "can").code) == ("2.1", "5F")
    assert entry_of("R-134a", "mixed", "recovery").number == "3161"
    assert entry_of("R-134a", "recovered", "recovery").number == "3159"
    assert entry_of("PAG 46", "", "oil") is None
    assert entry_of("R-123", "recovered", "recovery").un_number == ""


@pytest.mark.parametrize(
    ("designation", "kilograms"),
    [("R-134a", 1000), ("R-1234yf", 333), ("R-32", 333), ("R-290", 333), ("R-717", 50), ("R-123", None)],
)
def test_small_loads(designation: str, kilograms: int | None) -> None:
    """ADR 1.1.3.6.3: 333 kg flammable, 1000 kg others (a guild repeats them); 50 kg of UN 1005 (from memory)."""
    assert entry(designation).small_load_kg() == kilograms


def test_points_of_a_mixed_load() -> None:
    """ADR 1.1.3.6.4: kg × 1 of category 3, × 3 of category 2, × 20 of UN 1005; up to 1000 is a small load."""
    one, other, third = entry("R-134a"), entry("R-290"), entry("R-717")
    assert small_load_points([(one, 400_000_000), (other, 200_000_000)]) == 1000
    assert small_load_points([(one, 400_000_001), (other, 200_000_000)]) == 1001
    assert small_load_points([(third, 50_000_000)]) == 1000
    assert small_load_points([(entry("R-123"), 5_000_000)]) == 0
    assert small_load_points([(entry("R-601a"), 1)]) is None


@pytest.mark.parametrize(
    ("substance", "code"),
    [("R-454C", "14 06 01* or 16 05 04*"), ("R-717", "16 05 04*"), ("R-22", "14 06 01*"), ("POE 68", "13 02 06*")],
)
def test_codes_of_the_list_of_waste(substance: str, code: str) -> None:
    """Decision 2000/532/EC."""
    assert waste_code(substance).code == code
