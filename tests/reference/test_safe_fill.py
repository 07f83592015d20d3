"""Safe fill against published limits and figures worked from them."""

import csv
import datetime as dt
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.containers.safe_fill import (
    Cylinder,
    least_test_pressure_bar,
    limit,
    limits,
    liquid_full_mg,
    room_left,
    too_weak,
)
from inventory.reference.properties import PropertyUnavailable, bubble_pressure, liquid_density
from inventory.reference.refrigerants import refrigerant, refrigerants
from inventory.reference.rulebook import rulebook

LB = 453_592.37  # mg, 1 lb = 0.45359237 kg, NIST SP 811
DAY = dt.date(2026, 3, 2)
KG = 1_000_000

US, EU, GB, ANY = (rulebook(name).safe_fill("recovery", DAY) for name in ("us-federal", "eu", "gb", "generic"))

with (Path(__file__).parent / "safe_fill.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

# What the words of each limit are known by.
SAID = {
    "share": "0.80 × water capacity × liquid density at 25 °C",
    "table": "table 2",
    "5c": "(5)(c)",
    "5b": "(5)(b)",
    "cfr": "filling density",
    "full": "not full of liquid at 55 °C",
}


def stamped(litres: str | int, bar: str | int | None = None) -> Cylinder:
    return Cylinder(int(Decimal(litres) * KG), int(Decimal(bar) * 100) if bar else None)


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['designation']}-{row['test_pressure_bar']}" for row in ROWS])
def test_the_lowest_ratio_of_each_gas(row: dict[str, str]) -> None:
    """safe_fill.csv: the lowest of all limits that the United States rulebook names, with the source of each."""
    found = limit(stamped(10, row["test_pressure_bar"]), row["designation"], US)
    assert found.mg == int(10 * KG * Decimal(row["ratio_kg_per_kg_water"]))
    assert SAID[row["binding_rule"]] in found.rule
    assert found.binding == ("practice" if row["binding_rule"] == "share" else "law")
    assert found.worked_out == (row["binding_rule"] in ("5b", "5c", "full"))


@pytest.mark.parametrize(
    ("designation", "litres", "bar", "rules", "grams", "rule"),
    [
        ("R-134a", "27", None, US, 26064, "share"),
        ("R-134a", "27", None, EU, 26064, "share"),
        ("R-1234yf", "12", None, US, 10480, "share"),
        ("R-404A", "12", None, EU, 9840, "table"),
        ("R-410A", "21.6", None, US, 17614, "5c"),
        ("R-410A", "21.6", None, EU, 17614, "5c"),
        ("R-32", "12.5", None, US, 9610, "share"),
        ("R-22", "21.6", None, US, 20574, "share"),
        ("R-290", "12", None, US, 4726, "share"),
        ("R-717", "61", None, EU, 29424, "share"),
        ("R-125", "12", 35, EU, 10440, "table"),
        ("R-125", "12", 49, US, 11344, "full"),
        ("R-125", "12", 49, EU, 11400, "table"),  # 49 CFR 173.304(b) is no rule there
        ("R-125", "12", 49, GB, 11400, "table"),
        ("R-125", "12", None, EU, 10440, "table"),  # not known how strong: the weakest line
        ("R-744", "10", 190, EU, 6800, "table"),
        ("R-744", "10", 190, US, 6800, "table"),
        ("R-744", "10", 250, EU, 7600, "table"),
        ("R-744", "10", 250, US, 6800, "cfr"),
        ("R-507A", "12", None, US, 9673, "5c"),
        ("R-434A", "12", None, EU, 10392, "5c"),
    ],
)
def test_worked_cases(designation, litres, bar, rules, grams, rule) -> None:
    """ADR/RID P200, 49 CFR 173.304(b), 173.304a, 80 % at 25 °C; densities by CoolProp 8.0.0; whole grams, cut off."""
    found = limit(stamped(litres, bar), designation, rules)
    assert found.mg // 1000 == grams
    assert SAID[rule] in found.rule


@pytest.mark.parametrize(
    ("designation", "litres", "kg", "rule"),
    [
        # 0.80 x WC x SG(25 C): AHRI Guideline K, densities from CoolProp 8.0.0
        ("R-134a", 21.5910, 20.843, "share"),
        ("R-134a", 12, 11.584, "share"),
        ("R-1234yf", 11.8841, 10.379, "share"),
        ("R-1234yf", 61, 53.277, "share"),
        ("R-32", 21.5910, 16.599, "share"),
        ("R-290", 21.5910, 8.504, "share"),
        # ADR/RID 2025 P200, table 2: R-404A 0.82 kg/L, below the 80 % rule
        ("R-404A", 21.5910, 17.705, "table"),
        # ADR/RID P200 (5)(c) with CoolProp 8.0.0: R-410A 0.8155, R-507A 0.8061, R-452A 0.8930 kg/L
        ("R-410A", 21.5910, 17.607, "5c"),
        ("R-507A", 21.5910, 17.404, "5c"),
        ("R-452A", 21.5910, 19.280, "5c"),
    ],
)
@pytest.mark.parametrize("rules", [US, EU, GB, ANY], ids=["us", "eu", "gb", "generic"])
def test_the_lowest_limit_governs(rules, designation, litres, kg, rule) -> None:
    found = limit(Cylinder(round(litres * KG)), designation, rules)
    assert found.mg / KG == pytest.approx(kg, abs=0.003)
    assert SAID[rule] in found.rule


@pytest.mark.parametrize("designation", ["R-134a", "R-1234yf", "R-32", "R-404A", "R-410A", "R-22", "R-290", "R-454B"])
def test_limits_from_densities_asked_of_coolprop(designation: str) -> None:
    """Each worked out anew from CoolProp 8.0.0: 80 % at 25 °C, full at 55 °C, min(95 % at 50 °C, full at 60 °C)."""
    said = {one.rule: one.mg / (10 * KG) for one in limits(stamped(10), designation, US)}
    by = {key: next((mg for rule, mg in said.items() if words in rule), None) for key, words in SAID.items()}
    assert by["share"] == pytest.approx(0.8 * liquid_density(designation, 25) / 1000, rel=2e-5)
    assert by["full"] == pytest.approx(liquid_density(designation, 55) / 1000, rel=2e-5)
    if by["5c"] is not None:
        ratio = min(0.95 * liquid_density(designation, 50), liquid_density(designation, 60)) / 1000
        assert by["5c"] == pytest.approx(ratio, rel=2e-5)
    assert (by["table"] is None) != (by["5c"] is None)


@pytest.mark.parametrize(
    ("designation", "bar"),
    [
        ("R-134a", "18"),
        ("R-32", "48"),
        ("R-22", "27"),
        ("R-744", "190"),
        ("R-125", "35"),
        # no line of their own: vapour pressure at 65 °C less 1 bar, at least 10
        ("R-410A", "41.82"),
        ("R-466A", "40.15"),
        ("R-452B", "39.95"),
        ("R-454B", "39.55"),
        ("R-1234yf", "17.35"),
        ("R-245fa", "10"),
        ("R-123", None),  # no gas of class 2
    ],
)
def test_how_strong_a_cylinder_must_be(designation: str, bar: str | None) -> None:
    """ADR/RID 2025 P200, table 2 and (5)(c)."""
    assert least_test_pressure_bar(designation) == (None if bar is None else Decimal(bar))


@pytest.mark.parametrize(
    "designation", [n for n, f in refrigerants().items() if f.least_test_pressure_bar and not f.p200_lines]
)
def test_least_test_pressures_from_coolprop(designation: str) -> None:
    """ADR/RID P200 (5)(c): the vapour pressure at 65 °C less 1 bar, at least 10 bar; CoolProp 8.0.0, blends 3 %."""
    try:
        theirs = max(10.0, bubble_pressure(designation, 65) / 1e5 - 1)
    except PropertyUnavailable:
        low, high = (bubble_pressure(designation, celsius) / 1e5 - 1 for celsius in (40, 60))
        assert low < float(refrigerant(designation).least_test_pressure_bar) < high * 1.35
        return
    assert float(refrigerant(designation).least_test_pressure_bar) == pytest.approx(theirs, rel=0.03)


def test_a_cylinder_for_r22_is_too_weak_for_r410a() -> None:
    """A 27-bar cylinder (P200 table 2 for R-22); R-410A asks for 41.8 bar. On the limit it is strong enough."""
    weak = too_weak(stamped(12, 27), "R-410A", EU)
    assert "27 bar" in weak and "at least 41.82 bar" in weak and "P200" in weak
    assert too_weak(stamped(12, "41.82"), "R-410A", EU) == ""
    assert too_weak(stamped(12, "41.81"), "R-410A", EU) != ""
    assert too_weak(stamped(12, 27), "R-22", EU) == ""
    assert too_weak(stamped(12), "R-410A", EU) == "", "not known how strong it is"
    assert too_weak(stamped(12, 27), "R-410A", ()) == "", "no rule asks for it"
    assert too_weak(stamped(12, 5), "R-123", EU) == "", "no gas of class 2"


@pytest.mark.parametrize("designation", ["R-744", "R-23", "R-116", "R-170", "R-508B"])
def test_no_share_of_liquid_where_there_is_no_level(designation: str) -> None:
    """Critical temperature below 65 °C: 80 % of R-170's liquid at 25 °C would be 0.2520, over the table's 0.25."""
    said = {one.rule for one in limits(stamped(10), designation, US)}
    assert not any(SAID["share"] in rule or "not full" in rule for rule in said)
    assert said
    if designation == "R-170":
        assert limit(stamped(10, 95), designation, US).mg == 2_500_000


@pytest.mark.parametrize(("bar", "ratio"), [(100, "0.6381"), (199, "0.9482"), (200, "0.9660"), (500, "1.0918")])
def test_r508b_by_the_pressure_at_65_degrees(bar: int, ratio: str) -> None:
    """ADR/RID P200 (5)(b): at 65 °C not over the test pressure; density of CoolProp 8.0.0's mixture there."""
    import CoolProp
    from CoolProp.CoolProp import PropsSI

    found = limit(stamped(10, bar), "R-508B", EU)
    assert found.mg == int(10 * KG * Decimal(ratio)) and found.worked_out
    line = max(line for line, _ in refrigerant("R-508B").p200_5b_lines if line <= bar)
    moles = [0.46 / PropsSI("M", "R23"), 0.54 / PropsSI("M", "R116")]
    state = CoolProp.AbstractState("HEOS", "R23&R116")
    state.set_mole_fractions([one / sum(moles) for one in moles])
    state.specify_phase(CoolProp.iphase_supercritical)
    state.update(CoolProp.PT_INPUTS, float(line) * 1e5 + 101_325, 65 + 273.15)
    assert float(ratio) == pytest.approx(state.rhomass() / 1000, abs=0.0002)


def test_no_gas_of_class_2_is_filled_by_the_share_alone() -> None:
    """R-123, R-1336mzz(Z), R-11: neither P200 nor 49 CFR 173.304a; what is left is practice and not liquid-full."""
    for designation in ("R-123", "R-1336mzz(Z)", "R-11"):
        assert [one.binding for one in limits(stamped(10), designation, EU)] == ["practice"]


def test_what_is_stamped_on_it_is_a_limit_too() -> None:
    own = replace(stamped(12), most_mg=10_000_000)
    assert limit(own, "R-134a", EU).mg == 10_000_000
    assert str(limit(own, "R-134a", EU)) == "the most that is stamped on it"
    assert limit(replace(own, most_mg=12_000_000), "R-134a", EU).mg == limit(stamped(12), "R-134a", EU).mg
    assert limit(Cylinder(None, None, 5_000_000), "R-999", EU).mg == 5_000_000, "whatever gas it is"


def test_a_limit_says_whether_it_is_law_or_practice_and_where_it_stands() -> None:
    assert str(limit(stamped(12), "R-404A", EU)) == (
        "filling ratio of 0.82 kg/L, table 2, for cylinders tested at 36 bar, "
        "ADR/RID 2025, packing instruction P200, table 2, (5)(b) and (5)(c)"
    )
    assert "worked out here" in str(limit(stamped(12), "R-410A", EU))
    practice = str(limit(stamped(12), "R-134a", EU))
    assert "practice, AHRI Guideline K" in practice and "to be confirmed" in practice
    assert str(limit(stamped(10, 250), "R-744", US)) == (
        "filling density of 68 % of the water, 49 CFR part 173, 49 CFR 173.304a(a)(2) and (d)(1)"
    )


def test_the_rulebook_says_which_limits_count() -> None:
    assert {rule.method for rule in US} == {"share-of-liquid", "p200", "filling-density", "liquid-full"}
    assert {rule.method for rule in EU} == {rule.method for rule in GB} == {"share-of-liquid", "p200"}
    assert limits(stamped(12), "R-134a", ()) == []
    assert rulebook("us-federal").safe_fill("can", DAY) == ()


def test_the_example_of_guideline_k_within_the_spread_of_density_tables():
    """R-22, water capacity 1,000 lb, SG 1.197: 957.60 lb net (AHRI Guideline K, as explained in ACHR News 111771).
    CoolProp's liquid is 0.5 % lighter."""
    assert limit(Cylinder(round(1000 * LB)), "R-22", US).mg / LB == pytest.approx(957.60, rel=0.006)


def test_room_left_goes_below_zero_where_too_much_is_in_it():
    most = limit(stamped(12), "R-134a", US).mg
    assert room_left(stamped(12), "R-134a", most, US) == 0
    assert room_left(stamped(12), "R-134a", most + 1, US) == -1


def test_nothing_is_made_up_for_a_gas_that_is_not_known():
    assert limit(stamped(12), "R-999", US) is None
    assert room_left(stamped(12), "R-999", 0, US) is None
    assert limit(Cylinder(None), "R-134a", US) is None
    assert limit(stamped(12), "R-1224yd(Z)", EU) is None, "no density of it is known here"
    assert liquid_full_mg(12 * KG, "R-1224yd(Z)") is None
    assert liquid_full_mg(12 * KG, "R-134a") == int(12 * KG * Decimal("1.20671"))
