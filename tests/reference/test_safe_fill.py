"""Safe fill against published limits and figures worked from them."""

import pytest

from inventory.containers.safe_fill import limit, room_left

LB = 453_592.37  # mg, 1 lb = 0.45359237 kg, NIST SP 811


@pytest.mark.parametrize(
    ("designation", "litres", "kg", "rule"),
    [
        # 0.80 x WC x SG(25 C): AHRI Guideline K, densities from CoolProp 8.0.0
        ("R-134a", 21.5910, 20.843, "Guideline K"),
        ("R-134a", 12, 11.584, "Guideline K"),
        ("R-1234yf", 11.8841, 10.379, "Guideline K"),
        ("R-1234yf", 61, 53.277, "Guideline K"),
        ("R-32", 21.5910, 16.599, "Guideline K"),
        ("R-290", 21.5910, 8.504, "Guideline K"),
        # ADR/RID 2025 P200, table 2: R-404A 0.82 kg/L, below the 80 % rule
        ("R-404A", 21.5910, 17.705, "P200, table 2"),
        # ADR/RID P200 (5)(c) with CoolProp 8.0.0: R-410A 0.8155, R-507A 0.8061, R-452A 0.8930 kg/L
        ("R-410A", 21.5910, 17.607, "(5)(c)"),
        ("R-507A", 21.5910, 17.404, "(5)(c)"),
        ("R-452A", 21.5910, 19.280, "(5)(c)"),
    ],
)
def test_the_lowest_limit_governs(designation, litres, kg, rule):
    found = limit(round(litres * 1_000_000), designation)
    assert found.mg / 1e6 == pytest.approx(kg, abs=0.003)
    assert rule in found.rule


def test_the_example_of_guideline_k_within_the_spread_of_density_tables():
    """R-22, water capacity 1,000 lb, SG 1.197: 957.60 lb net (AHRI Guideline K, as explained in ACHR News 111771).
    CoolProp's liquid is 0.5 % lighter."""
    assert limit(round(1000 * LB), "R-22").mg / LB == pytest.approx(957.60, rel=0.006)


def test_room_left_goes_below_zero_where_too_much_is_in_it():
    most = limit(12_000_000, "R-134a").mg
    assert room_left(12_000_000, "R-134a", most) == 0
    assert room_left(12_000_000, "R-134a", most + 1) == -1


def test_nothing_is_made_up_for_a_gas_that_is_not_known():
    assert limit(12_000_000, "R-999") is None
    assert room_left(12_000_000, "R-999", 0) is None
