"""The European Union's rulebook at each of its boundaries. Articles are of Regulation (EU) 2024/573 (Official Journal
text of 20 February 2024) unless another text is named."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.reference.refrigerants import co2e_tonnes, gwp
from inventory.reference.rule import Gas, System
from inventory.reference.rulebook import rulebook
from inventory.verdicts.buying import buying
from inventory.verdicts.detection import detection
from inventory.verdicts.reuse import reuse
from inventory.verdicts.service_ban import service_ban
from inventory.verdicts.work import Worker, working
from tests.reference.asking import leak_check, leak_repair

DAY = dt.date(2026, 6, 1)
BEFORE, FROM = dt.date(2027, 3, 11), dt.date(2027, 3, 12)  # article 5(5)


@pytest.fixture(scope="module")
def eu():
    return rulebook("eu")


def check(eu, equipment, substance, kg, day=DAY, **more):
    mg = int(Decimal(kg) * 1_000_000)
    return leak_check(eu, System(equipment, substance, mg, **more), co2e_tonnes(substance, eu.gwp_basis(day), mg), day)


def months(found):
    return None if found is None else (found.months, found.months_with_detection)


@pytest.mark.parametrize(
    ("kg", "expected"),
    [
        # articles 5(1) and 5(6); R-134a, 1430: 3.496 kg are 4.99928 t, 3.497 kg 5.00071 t, and so on
        ("3.496", None),
        ("3.497", (12, 24)),
        ("34.96", (12, 24)),
        ("34.97", (6, 12)),
        ("349.6", (6, 12)),
        ("349.7", (3, 6)),
    ],
)
def test_stationary_r134a_by_charge(eu, kg, expected):
    assert months(check(eu, "stationary", "R-134a", kg)) == expected


@pytest.mark.parametrize(
    ("tonnes", "expected"),
    [
        ("4.999", None),
        ("5", 12),
        ("5.001", 12),
        ("49.999", 12),
        ("50", 6),
        ("50.001", 6),
        ("499.999", 6),
        ("500", 3),
        ("500.001", 3),
    ],
)
def test_the_thresholds_themselves_belong_to_the_stricter_side(eu, tonnes, expected):
    found = leak_check(eu, System("stationary", "R-134a", 1), Decimal(tonnes), DAY)
    assert (None if found is None else found.months) == expected


def test_a_detection_system_is_asked_for_from_500_tonnes(eu):
    # article 6(1): 349.650 kg of R-134a are 499.9995 t, 349.651 kg are 500.0009 t
    found = [detection(eu, System("stationary", "R-134a", mg), DAY) for mg in (349_650_000, 349_651_000)]
    assert [one.answer for one in found] == ["free", "breach"]


@pytest.mark.parametrize(
    ("kg", "expected"),
    [
        ("0.99", None),
        ("1", 12),
        ("1.01", 12),
        ("9.99", 12),
        ("10", 6),
        ("99.99", 6),
        ("100", 3),
    ],
)
def test_r1234yf_counts_by_mass(eu, kg, expected):
    # articles 5(1) and 5(6), Annex II section 1
    found = check(eu, "stationary", "R-1234yf", kg)
    assert (None if found is None else found.months) == expected


@pytest.mark.parametrize(
    ("substance", "kg", "tonnes", "sealed", "dwelling", "asked"),
    [
        # article 5(1) second subparagraph: sealed and labelled, under 10 t or 2 kg
        ("R-134a", "6.9", "9.99", True, False, False),
        ("R-134a", "7.0", "10.0", True, False, True),
        ("R-134a", "6.9", "9.99", False, False, True),
        ("R-1234yf", "1.99", None, True, False, False),
        ("R-1234yf", "2.0", None, True, False, True),
        # third subparagraph: sealed, labelled, in a dwelling: under 3 kg
        ("R-1234yf", "2.99", None, True, True, False),
        ("R-1234yf", "3.0", None, True, True, True),
    ],
)
def test_what_is_sealed_and_labelled(eu, substance, kg, tonnes, sealed, dwelling, asked):
    mg = int(Decimal(kg) * 1_000_000)
    t = Decimal(tonnes) if tonnes else co2e_tonnes(substance, eu.gwp_basis(DAY), mg)
    found = leak_check(eu, System("stationary", substance, mg, sealed=sealed, dwelling=dwelling), t, DAY)
    assert (found is not None) == asked


@pytest.mark.parametrize(
    ("equipment", "substance", "kg", "day", "expected"),
    [
        ("transport", "R-452A", "6", DAY, 12),  # 12.836 t; trucks and trailers: already in force, article 5(3)(a)
        ("vehicle/heavy", "R-1234yf", "1.2", BEFORE, None),  # article 5(5)
        ("vehicle/heavy", "R-1234yf", "1.2", FROM, 12),
        ("vehicle/heavy", "R-134a", "4.5", BEFORE, None),
        ("vehicle/heavy", "R-134a", "4.5", FROM, 12),  # 6.435 t
        ("transport/light", "R-134a", "4.5", BEFORE, None),
        ("transport/light", "R-134a", "4.5", FROM, 12),
        ("vehicle/off-road", "R-134a", "3.4", FROM, None),  # 4.862 t
        ("vehicle", "R-134a", "0.5", FROM, None),  # a passenger car is in neither list of article 5
        ("vehicle", "R-134a", "50", FROM, None),
    ],
)
def test_mobile_equipment(eu, equipment, substance, kg, day, expected):
    found = check(eu, equipment, substance, kg, day)
    assert (None if found is None else found.months) == expected


@pytest.mark.parametrize(
    ("equipment", "hours", "within"),
    # article 4(5): not before 24 hours of running, within a month; mobile equipment may be checked at once
    [("stationary", 24, 1), ("stationary/refrigeration", 24, 1), ("vehicle/heavy", None, 1)],
)
def test_a_repaired_leak_is_checked_again(eu, equipment, hours, within):
    found = leak_repair(eu, equipment, "R-134a", DAY)
    assert (found.recheck_after_hours, found.recheck_within_months, found.stops_charge) == (hours, within, False)


def test_a_car_is_not_refilled_before_the_repair(eu):
    found = leak_repair(eu, "vehicle", "R-134a", DAY)  # Directive 2006/40/EC, article 6(3)
    assert (found.stops_charge, found.enforcement) == (True, "refuse")


# -- service bans ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("equipment", "substance", "grade", "day", "banned"),
    [
        # article 13(3): refrigeration, GWP of 2500 and more
        ("transport", "R-404A", "virgin", "2024-12-31", False),
        ("transport", "R-404A", "virgin", "2025-01-01", True),
        ("transport", "R-404A", "reclaimed", "2029-12-31", False),
        ("transport", "R-404A", "reclaimed", "2030-01-01", True),
        ("transport", "R-404A", "recycled", "2029-12-31", False),
        ("transport", "R-404A", "recycled", "2030-01-01", True),
        # article 13(4): A/C and heat pumps
        ("stationary", "R-404A", "virgin", "2025-12-31", False),
        ("stationary", "R-404A", "virgin", "2026-01-01", True),
        ("stationary", "R-404A", "reclaimed", "2031-12-31", False),
        ("stationary", "R-404A", "reclaimed", "2032-01-01", True),
        ("stationary", "R-410A", "virgin", "2026-06-01", False),  # 2087.5
        ("vehicle", "R-134a", "virgin", "2026-06-01", False),  # 1430
        # article 13(5): stationary refrigeration, 750 and more; reclaimed and recycled stay allowed
        ("stationary/refrigeration", "R-134a", "virgin", "2031-12-31", False),
        ("stationary/refrigeration", "R-134a", "virgin", "2032-01-01", True),
        ("stationary/refrigeration", "R-134a", "reclaimed", "2032-01-01", False),
        ("stationary", "R-134a", "virgin", "2032-01-01", False),
    ],
)
def test_service_bans(eu, equipment, substance, grade, day, banned):
    gas = Gas(grade, own=True, origins=frozenset({equipment}), labelled=True)
    system = System(equipment, substance, 5_000_000, use="walk-in")  # 19.6 t of R-404A
    said = service_ban(eu, system, gas, dt.date.fromisoformat(day))
    assert said.is_refused == banned and not said.is_open


@pytest.mark.parametrize(
    ("substance", "value", "banned"),
    # by Annexes I, II and VI: the gases on both sides of the limit
    [("R-452A", "2139.4003", False), ("R-438A", "2264.435102", False), ("R-422D", "2728.95", True)],
)
def test_the_ban_begins_at_a_gwp_of_2500(eu, substance, value, banned):
    assert gwp(substance, eu.gwp_basis(DAY)) == Decimal(value)
    assert service_ban(eu, System("transport", substance), Gas("virgin"), DAY).is_refused == banned
    (rule, *_) = [one for one in eu.section("service_ban", DAY) if one.gwp_at_least and "13(3)" in one.citation]
    assert rule.gwp_at_least == 2500  # article 13(3): 2 500 or more


# -- people ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scheme", "work", "equipment", "substance", "kg", "sealed", "allowed"),
    [
        # Implementing Regulation (EU) 2025/1893, article 2(2)
        ("M1", "charge", "vehicle", "R-1234yf", "0.5", False, True),
        ("M2", "recover", "vehicle/heavy", "R-134a", "5", False, True),
        ("M3", "charge", "vehicle", "R-744", "0.5", False, True),
        ("M3", "charge", "vehicle", "R-134a", "0.5", False, False),
        ("M4", "recover", "vehicle", "R-134a", "0.5", False, True),
        ("M4", "charge", "vehicle", "R-134a", "0.5", False, False),
        ("M1", "charge", "stationary", "R-134a", "0.5", False, False),
        # Implementing Regulation (EU) 2024/2215, article 3(2): A2 and D under 3 kg, sealed under 6 kg
        ("A1", "charge", "stationary", "R-410A", "300", False, True),
        ("A2", "charge", "stationary", "R-410A", "2.999", False, True),
        ("A2", "charge", "stationary", "R-410A", "3", False, False),
        ("A2", "charge", "stationary", "R-410A", "5.999", True, True),
        ("A2", "charge", "stationary", "R-410A", "6", True, False),
        ("D", "recover", "stationary", "R-410A", "2.999", False, True),
        ("D", "recover", "stationary", "R-410A", "3", False, False),
        ("D", "charge", "stationary", "R-410A", "1", False, False),
        ("E", "leak-check", "stationary", "R-410A", "300", False, True),
        ("E", "recover", "stationary", "R-410A", "1", False, False),
        ("B", "charge", "stationary", "R-744", "10", False, True),
    ],
)
def test_which_paper_allows_which_work(eu, scheme, work, equipment, substance, kg, sealed, allowed):
    mg = int(Decimal(kg) * 1_000_000)
    system = System(equipment, substance, mg, sealed, traits=frozenset({"paid", "by-station"}))
    assert (working(eu, work, system, Worker([scheme]), DAY).answer == "met") == allowed


@pytest.mark.parametrize(("day", "there"), [("2025-10-08", False), ("2025-10-09", True)])
def test_the_new_attestations_begin_with_their_regulation(eu, day, there):
    # Implementing Regulation (EU) 2025/1893, article 8
    assert (eu.scheme("M1", dt.date.fromisoformat(day)) is not None) == there


def test_buying_r1234yf_asks_for_a_certificate(eu):
    # article 11(6), Annex II section 1
    assert buying(eu, System(None, "R-1234yf"), [], DAY).is_breach
    assert buying(eu, System(None, "R-744"), [], DAY).answer == "free"


# -- refrigerant, containers, records --------------------------------------------------------------------


@pytest.mark.parametrize(("grade", "allowed"), [("recovered", False), ("recycled", True), ("reclaimed", True)])
def test_recovered_gas_is_recycled_or_reclaimed_first(eu, grade, allowed):
    for destination in ("same-unit", "same-owner", "other-owner"):  # article 8(6)
        said = reuse(eu, System("vehicle", "R-134a"), Gas(grade, destination), DAY)
        assert said.answer == ("met" if allowed else "refused")


def test_single_use_containers_are_banned(eu):
    for kind in ("can", "disposable"):  # article 11(3), Annex IV
        assert eu.single_use(kind, "R-134a", "use", DAY) and eu.single_use(kind, "R-134a", "fill", DAY)


def test_records_are_kept_five_years(eu):
    # article 7(2): a record of 15 March 2025 until 15 March 2030
    assert eu.retention("job", DAY).may_go_from(dt.date(2025, 3, 15)) == dt.date(2030, 3, 15)
    assert eu.retention("sale", DAY).years == 5


@pytest.mark.parametrize(
    ("substance", "kg", "tonnes"),
    [
        ("R-134a", "0.5", "0.715"),
        ("R-404A", "3.5", "13.7256"),
        ("R-452A", "6", "12.8364018"),
        ("R-134a", "4.5", "6.435"),
    ],
)
def test_tonnes_of_co2_equivalent(eu, substance, kg, tonnes):
    # article 3(3), Annexes I, II and VI
    assert co2e_tonnes(substance, eu.gwp_basis(DAY), int(Decimal(kg) * 1_000_000)) == Decimal(tonnes)


def test_r410a_of_2_395_kg_lies_under_five_tonnes_by_annex_vi(eu):
    # 2087.5 by composition; the rounded 2088 would reach 5.0008 t
    assert check(eu, "stationary", "R-410A", "2.395") is None
    assert check(eu, "stationary", "R-410A", "2.3953") is not None


@pytest.mark.parametrize(("day", "basis"), [("2024-03-10", "ar4"), ("2024-03-11", "eu-2024-573")])
def test_the_regulation_came_into_force_on_11_march_2024(eu, day, basis):
    assert eu.gwp_basis(dt.date.fromisoformat(day)) == basis  # article 38


def test_cars_are_not_filled_with_a_gas_over_150(eu):
    # Directive 2006/40/EC, article 6(2)
    assert any("150" in duty.sentence for duty in eu.duties("unit", System("vehicle", "R-134a"), DAY))
    assert not eu.duties("unit", System("stationary", "R-134a"), DAY)
