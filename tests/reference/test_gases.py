"""Every value of gases.csv, a copy of what was read or worked out elsewhere, against what the program says of each gas.

Each row of that file names its source; a blank value says that nothing is published, which is no value and never 0.
"""

import csv
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from inventory.reference.pressure_class import KPA_PER_PSI
from inventory.reference.properties import PropertyUnavailable, bubble_pressure, dew_pressure, liquid_density
from inventory.reference.refrigerants import gwp, refrigerant, refrigerants

with (Path(__file__).parent / "gases.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

FIELDS = {
    "cas": "cas",
    "safety_class": "safety_class",
    "odp": "odp",
    "molar_mass_g_mol": "molar_mass_g_mol",
    "critical_temperature_c": "critical_temperature_c",
    "pressure_40_kpa": "pressure_40_kpa",
    "pressure_class": "pressure_class",
    "least_test_pressure_bar": "least_test_pressure_bar",
    "cfr_filling_density_pct": "cfr_filling_density_pct",
    "p200_5c": "computed_filling_ratio_kg_l",
    "vapour_25": "vapour_density_25_kg_m3",
}


def said(designation: str, quantity: str):
    """What the program says of that quantity."""
    found = refrigerant(designation)
    name, _, of = quantity.partition(":")
    if name == "gwp":
        return gwp(designation, of)
    if name == "part":
        return dict(found.composition)[of]
    if name == "p200":
        return dict(found.p200_lines)[Decimal(of)]
    if name == "pressure_class_to_confirm":
        return "yes" if found.pressure_class_to_confirm else "no"
    if name.startswith("liquid_"):
        return found.liquid_density(Decimal(name.removeprefix("liquid_")))
    if name in ("bubble_25_bar", "dew_25_bar"):
        function = bubble_pressure if name.startswith("bubble") else dew_pressure
        try:
            return Decimal(str(function(designation, 25))) / 100_000
        except PropertyUnavailable:
            return None
    return getattr(found, FIELDS[name])


@pytest.mark.parametrize(
    ("designation", "quantity", "value", "source"),
    [tuple(row.values()) for row in ROWS],
    ids=[f"{row['designation']}-{row['quantity']}" for row in ROWS],
)
def test_the_program_says_what_the_sources_say(designation: str, quantity: str, value: str, source: str) -> None:
    assert source
    ours = said(designation, quantity)
    if not value:
        assert ours is None
    elif isinstance(ours, Decimal):
        theirs = Decimal(value)
        places = Decimal("0.001") if quantity.startswith("gwp") else Decimal("0.0001")
        assert ours.quantize(places, ROUND_HALF_UP) == pytest.approx(theirs, abs=Decimal("0.0001"))
    else:
        assert ours == value


def test_no_gas_is_left_out_of_the_copy() -> None:
    assert {row["designation"] for row in ROWS} == set(refrigerants())


@pytest.mark.parametrize(
    ("designation", "quantity"),
    [(row["designation"], row["quantity"]) for row in ROWS if row["quantity"].startswith("liquid_") and row["value"]],
)
def test_stored_liquid_densities_are_those_of_the_equations(designation: str, quantity: str) -> None:
    """CoolProp 8.0.0 asked directly, wherever it finds the state."""
    celsius = Decimal(quantity.removeprefix("liquid_"))
    exact = Decimal(98) / Decimal("1.8") if celsius == Decimal("54.4") else celsius  # 130 °F
    try:
        theirs = liquid_density(designation, exact)
    except PropertyUnavailable:
        name = f"{quantity.replace('.', '_').replace('liquid', 'liquid_density')}_kg_m3"
        assert "solver fails here" in refrigerant(designation).sources[name].note
        return
    assert float(said(designation, quantity)) == pytest.approx(theirs, abs=0.02)


@pytest.mark.parametrize(
    ("designation", "psia", "its_class"),
    [
        # 40 CFR 82.152, "low-pressure appliance" names and R-245fa
        ("R-11", "25.30", "low"),
        ("R-123", "22.40", "low"),
        ("R-113", "11.35", "low"),
        ("R-245fa", "36.35", "low"),
        # worked out: R-1233zd(E) 31.3 psia, R-600a 77 and R-1234yf 148 psia at 104 °F
        ("R-1233zd(E)", "31.34", "low"),
        ("R-600a", "77.05", "medium"),
        ("R-1234yf", "147.72", "medium"),
        ("R-22", "222.43", "high"),
        ("R-32", "359.45", "very high"),
    ],
)
def test_pressure_at_104_fahrenheit(designation: str, psia: str, its_class: str) -> None:
    """CoolProp 8.0.0 at 40 °C; 1 psi is 6.894757 kPa by the exact definitions of the pound and the inch."""
    found = refrigerant(designation)
    assert found.pressure_40_kpa / KPA_PER_PSI == pytest.approx(Decimal(psia), abs=Decimal("0.01"))
    assert found.pressure_class == its_class
    assert bubble_pressure(designation, 40) / 1000 == pytest.approx(float(found.pressure_40_kpa), abs=0.06)


@pytest.mark.parametrize("designation", ["R-744", "R-23", "R-116", "R-170", "R-508B"])
def test_very_high_by_critical_temperature(designation: str) -> None:
    """40 CFR 82.152 (from memory): a critical temperature below 104 °F, 40 °C."""
    found = refrigerant(designation)
    assert found.pressure_40_kpa is None
    assert (found.pressure_class, found.pressure_class_to_confirm) == ("very high", False)


@pytest.mark.parametrize(
    ("designation", "kinds", "part"),
    [
        ("R-454C", {"HFO"}, "0.785"),
        ("R-454C", {"HFC"}, "0.215"),
        ("R-455A", {"HFC", "HFO"}, "0.97"),
        ("R-502", {"CFC"}, "0.512"),
        ("R-502", {"CFC", "HCFC"}, "1"),
        ("R-508B", {"PFC"}, "0.54"),
        ("R-441A", {"HC"}, "1"),
        ("R-134a", {"HFC"}, "1"),
        ("R-134a", {"HFO"}, "0"),
        ("R-1233zd(E)", {"HCFO"}, "1"),
        ("R-1224yd(Z)", {"HCFO", "HFO"}, "1"),
        ("R-466A", {"iodofluorocarbon"}, "0.395"),
    ],
)
def test_part_of_a_gas_that_is_of_some_kinds(designation: str, kinds: set[str], part: str) -> None:
    """By the compositions of ISO 817 / ASHRAE 34."""
    assert refrigerant(designation).part_of(frozenset(kinds)) == Decimal(part)


def test_a_gas_of_the_ozone_regulation_with_a_range() -> None:
    """Regulation (EU) 2024/590, Annex II: R-13I1 0.01 to 0.02; R-466A holds 39.5 % of it."""
    assert refrigerant("R-13I1").odp_range == (Decimal("0.01"), Decimal("0.02"))
    assert refrigerant("R-466A").odp_range == (Decimal("0.00395"), Decimal("0.0079"))
    assert refrigerant("R-466A").odp is None
    assert refrigerant("R-466A").depletes_ozone
    assert refrigerant("R-410A").odp_range is None


@pytest.mark.parametrize("designation", ["R-116", "R-218"])
def test_perfluorocarbons_are_a_kind_and_fluorinated(designation: str) -> None:
    """Regulation (EU) 2024/573, Annex I section 2."""
    found = refrigerant(designation)
    assert (found.kind, found.is_fluorinated, found.depletes_ozone) == ("PFC", True, False)


@pytest.mark.parametrize("designation", ["R-11", "R-113", "R-123", "R-601a", "R-1336mzz(Z)"])
def test_liquids_are_no_gases_for_transport(designation: str) -> None:
    """ADR 2.2.2.1.1: a gas is over 3 bar at 50 °C or wholly gaseous at 20 °C. Vapour pressures by CoolProp 8.0.0."""
    assert bubble_pressure(designation, 50) < 300_000
    assert bubble_pressure(designation, 20) < 101_325
    assert not refrigerant(designation).is_gas_for_transport
    for other in refrigerants().values():
        if other.is_gas_for_transport and not other.is_blend and other.designation != "R-1224yd(Z)":
            critical = float(other.critical_temperature_c)
            assert critical < 50 or bubble_pressure(other.designation, 50) > 293_000
