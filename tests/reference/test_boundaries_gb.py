"""Great Britain's rulebook at each of its boundaries. Articles are of Regulation (EU) 517/2014 as retained, which was
known from guidance and reproductions (secondary) or from memory; the pages show it as to be confirmed."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.reference.refrigerants import co2e_tonnes
from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook
from inventory.verdicts.work import Worker, working
from tests.reference.asking import leak_check, leak_repair

DAY = dt.date(2026, 6, 1)


@pytest.fixture(scope="module")
def gb():
    return rulebook("gb")


@pytest.mark.parametrize(
    ("tonnes", "expected"),
    [
        # articles 4(1), 4(3) and 5, as the Isle of Man's leak-check table gives them (secondary)
        ("4.999", None),
        ("5", (12, 24)),
        ("5.001", (12, 24)),
        ("49.999", (12, 24)),
        ("50", (6, 12)),
        ("499.999", (6, 12)),
        ("500", (3, 6)),
        ("500.001", (3, 6)),
    ],
)
def test_leak_checks_by_tonnes(gb, tonnes, expected):
    for equipment in ("stationary", "stationary/refrigeration", "transport"):
        found = leak_check(gb, System(equipment, "R-134a", 1), Decimal(tonnes), DAY)
        assert (None if found is None else (found.months, found.months_with_detection)) == expected
        assert found is None or found.to_be_confirmed


@pytest.mark.parametrize(
    # GOV.UK, Calculate the carbon dioxide equivalent quantity of an F gas: kg at 5, 50 and 500 t, as printed
    ("substance", "five", "fifty", "five_hundred"),
    [
        ("R-404A", "1.3", "12.7", "127"),
        ("R-410A", "2.4", "23.9", "239"),
        ("R-407A", "2.4", "23.7", "237"),
        ("R-407F", "2.7", "27.4", "274"),
        ("R-507A", "1.3", "12.5", "125"),
        ("R-134a", "3.5", "35", "350"),
    ],
)
def test_the_printed_table_of_kilograms(gb, substance, five, fifty, five_hundred):
    basis = gb.gwp_basis(DAY)
    for tonnes, printed in ((5, five), (50, fifty), (500, five_hundred)):
        kg = Decimal(tonnes) / co2e_tonnes(substance, basis, 1_000_000)
        last_digit = Decimal(1).scaleb(-len(printed.partition(".")[2]))
        assert 0 <= abs(kg - Decimal(printed)) < last_digit  # the page cuts some figures and rounds others


@pytest.mark.parametrize(
    ("tonnes", "sealed", "asked"),
    # article 4(1): sealed and labelled, under 10 t (from memory)
    [("9.999", True, False), ("10", True, True), ("10.001", True, True), ("9.999", False, True)],
)
def test_what_is_sealed_and_labelled(gb, tonnes, sealed, asked):
    assert (leak_check(gb, System("stationary", "R-134a", 1, sealed=sealed), Decimal(tonnes), DAY) is not None) == asked


@pytest.mark.parametrize("equipment", ["vehicle", "vehicle/heavy", "vehicle/off-road", "transport/light"])
def test_cars_and_vans_have_no_leak_checks(gb, equipment):
    assert leak_check(gb, System(equipment, "R-134a", 10**9), Decimal(1430), DAY) is None  # article 4(2)


def test_r1234yf_lies_outside(gb):
    # Annex II: reporting only (from memory)
    assert leak_check(gb, System("stationary", "R-1234yf", 10**9), Decimal(4000), DAY) is None
    assert working(gb, "charge", System("stationary", "R-1234yf"), Worker(), DAY).answer == "free"


@pytest.mark.parametrize(("work", "asked"), [("recover", True), ("charge", False)])
def test_a_car_asks_for_a_certificate_when_recovering_only(gb, work, asked):
    # GOV.UK guidance for wholesalers and resellers; DEFRA statement of September 2015
    assert working(gb, work, System("vehicle", "R-134a"), Worker(), DAY).is_refused == asked


def test_trainees_have_12_months(gb):
    # Regulation (EC) 307/2008 as retained, article 2
    car = System("vehicle", "R-134a")
    for since, refused in ((dt.date(2025, 6, 2), False), (dt.date(2025, 6, 1), True)):
        assert working(gb, "recover", car, Worker((), since, supervised=True), DAY).is_refused == refused


@pytest.mark.parametrize(
    ("kg", "sealed", "allowed"),
    [("2.999", False, True), ("3", False, False), ("5.999", True, True), ("6", True, False)],
)
def test_category_two_works_on_small_charges(gb, kg, sealed, allowed):
    # article 10 (from memory)
    mg = int(Decimal(kg) * 1_000_000)
    system = System("stationary", "R-410A", mg, sealed)
    assert (working(gb, "charge", system, Worker(["Category II"]), DAY).answer == "met") == allowed


def test_a_leaking_car_is_not_refilled(gb):
    found = leak_repair(gb, "vehicle", "R-134a", DAY)  # SI 2009/2194, regulations 3 to 5
    assert (found.stops_charge, found.enforcement) == (True, "refuse")


def test_a_repaired_leak_is_checked_within_a_month(gb):
    found = leak_repair(gb, "stationary", "R-134a", DAY)  # article 3(3) (secondary)
    assert (found.recheck_after_hours, found.recheck_within_months, found.stops_charge) == (None, 1, False)


def test_records_are_kept_five_years(gb):
    # GOV.UK, record keeping of wholesalers and resellers; operators: article 6(2), from memory
    for record in ("purchase", "sale", "job", "shipment"):
        assert gb.retention(record, DAY).may_go_from(dt.date(2026, 2, 28)) == dt.date(2031, 2, 28)
    assert gb.retention("purchase", DAY).to_be_confirmed and gb.retention("job", DAY).to_be_confirmed


def test_ten_kilograms_of_r404a(gb):
    # GOV.UK's worked example: 39.2 t, 39.22 unrounded
    assert co2e_tonnes("R-404A", gb.gwp_basis(DAY), 10_000_000).quantize(Decimal("0.1")) == Decimal("39.2")


def test_single_use_containers_are_banned(gb):
    assert gb.single_use("disposable", "R-134a", "fill", DAY).to_be_confirmed  # article 11(1), Annex III (secondary)
