"""What records say and how long they are kept. Expected values: 40 CFR 82.42, 82.156(a)(3), 82.157(l), 82.161(a)(4) and
84.106(l), and Regulation (EU) 2024/573 article 7, as read on 2026-11-28."""

import datetime as dt

import pytest

from inventory.reference.record_rules import FIELDS
from inventory.reference.rule import System
from inventory.reference.rulebook import parse_rulebook, rulebook
from inventory.reference.rulebook_file import milligrams
from inventory.verdicts.records import Asked, Disposed, is_logged, missing, monthly_totals, records
from inventory.verdicts.retention import OnFile, kept, may_go_from

US, EU = rulebook("us-federal"), rulebook("eu")
DAY = dt.date(2026, 6, 15)
G = 1000
CONTRACTOR = {"unit", "address", "day", "parts", "part-work", "person", "substance", "added"}
OWNER = CONTRACTOR | {"full-charge", "leak-rate", "leak-rate-method"}
APPLIANCE = {"owner", "address", "full-charge", "charge-how", "charge-range", "charge-revisions"}


def lb(number):
    return milligrams(f"{number} lb")


def rack(substance="R-404A", pounds=40, **more):
    return System("stationary/refrigeration", substance, lb(pounds), **more)


def one(found):
    (verdict,) = found
    return verdict


@pytest.mark.parametrize(("traits", "undecided"), [((), ()), (("light-commercial",), ()), ((), ("light-commercial",))])
def test_the_record_of_a_chiller_is_asked_for_once(traits, undecided):
    """84.106(l)(1): under it as stationary A/C that is not exempt, and as a chiller."""
    marks = {"traits": frozenset(traits), "undecided": frozenset(undecided)}
    chiller = System("stationary", "R-410A", lb(22), use="chiller", **marks)
    assert one(records(US, Asked("equipment", "owner", chiller), (), DAY)).is_breach
    assert one(records(US, Asked("job", "contractor", chiller), CONTRACTOR, DAY)).answer == "met"


# -- US-10: 82.157(b), (l)(1) and (l)(2); 84.106(b), (l)(1), (l)(2) and (l)(4) --------------------------


@pytest.mark.parametrize(
    ("by", "said", "answer"),
    [
        pytest.param("contractor", CONTRACTOR, "met", id="US-10.1"),
        pytest.param("owner", OWNER - {"leak-rate-method"}, "breach", id="US-10.2"),
    ],
)
def test_what_contractor_and_owner_keep_of_a_service(by, said, answer):
    for system in (rack(), rack("R-22", 60)):
        found = one(records(US, Asked("job", by, system), said, DAY))
        assert found.answer == answer
        assert ("84.106" if system.substance == "R-404A" else "82.157") in found.cited and not found.to_be_confirmed
        if answer == "breach":
            assert "how the leak rate is worked out" in found.said
            assert one(records(US, Asked("job", by, system), OWNER, DAY)).answer == "met"
            without = one(records(US, Asked("job", by, system), OWNER - {"person"}, DAY))
            assert "who did it" in without.said


@pytest.mark.parametrize(
    ("substance", "pounds", "answer"),
    [
        pytest.param("R-404A", 40, "breach", id="US-10.3-HFC"),
        pytest.param("R-22", 60, "met", id="US-10.3-ODS"),
    ],
)
def test_the_day_of_installation_is_asked_for_by_the_hfc_rule_only(substance, pounds, answer):
    system = rack(substance, pounds, installed_on=dt.date(2026, 5, 1))
    found = one(records(US, Asked("equipment", "owner", system), APPLIANCE, DAY))
    assert found.answer == answer
    assert ("the day it was installed" in found.said) is (answer == "breach")
    assert ("84.106(l)(1)" if answer == "breach" else "82.157(l)(1)") in found.cited
    assert one(records(US, Asked("equipment", "owner", system), APPLIANCE | {"installed-on"}, DAY)).answer == "met"


def test_a_blend_of_both_is_under_both_and_small_or_exempt_units_under_neither():
    """84.106(a): 15 lb or more, not the residential and light commercial A/C; 82.157(a): 50 lb or more."""
    both = records(US, Asked("equipment", "owner", rack("R-408A", 55)), APPLIANCE, DAY)
    assert [found.answer for found in both] == ["met", "breach"]
    assert len(records(US, Asked("equipment", "owner", rack("R-408A", 20)), APPLIANCE, DAY)) == 1
    assert records(US, Asked("equipment", "owner", rack("R-404A", "14.99")), (), DAY) == []
    assert records(US, Asked("equipment", "owner", rack("R-22", "49.99")), (), DAY) == []
    rooftop = {"equipment": "stationary", "substance": "R-410A", "charge_mg": lb(22)}
    exempt = System(**rooftop, traits=frozenset({"light-commercial"}))
    assert records(US, Asked("equipment", "owner", exempt), (), DAY) == []
    open_one = System(**rooftop, undecided=frozenset({"light-commercial"}))
    found = one(records(US, Asked("equipment", "owner", open_one), (), DAY))
    assert found.is_open and "light commercial" in found.ask[0]
    chiller = System(**rooftop, use="chiller", traits=frozenset({"light-commercial"}))
    assert one(records(US, Asked("equipment", "owner", chiller), (), DAY)).is_breach
    unknown = System("stationary/refrigeration", "R-404A")
    assert one(records(US, Asked("equipment", "owner", unknown), (), DAY)).ask == ("what its full charge is",)


def test_a_car_has_no_such_record():
    car = System("vehicle", "R-134a", 500 * G)
    for book in (US, EU):
        assert not [
            found for kind in ("equipment", "job", "disposal") for found in records(book, Asked(kind, "", car), (), DAY)
        ]


# -- US-17: 82.156(a)(3) -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pounds", "logged"),
    [
        pytest.param("5.00", False, id="US-17.1-5.00lb"),
        pytest.param("5.01", True, id="US-17.1-5.01lb"),
        pytest.param("49.99", True, id="US-17.1-49.99lb"),
        pytest.param("50.00", False, id="US-17.1-50.00lb"),
    ],
)
def test_appliances_over_5_and_below_50_lb_are_in_the_log_of_disposals(pounds, logged):
    system = System("stationary", "R-410A", lb(pounds))
    assert is_logged(US, Disposed(DAY, system, 1)) is logged
    found = records(US, Asked("disposal", "technician", system), ("company", "address", "day", "substance"), DAY)
    assert [verdict.answer for verdict in found] == (["breach"] if logged else [])
    if logged:
        assert "how much was recovered in each month" in found[0].said and "82.156(a)(3)" in found[0].cited


@pytest.mark.parametrize("equipment", [pytest.param("vehicle", id="US-17.2"), "vehicle/heavy", "stationary/small"])
def test_cars_and_small_appliances_are_not_in_it(equipment):
    assert is_logged(US, Disposed(DAY, System(equipment, "R-134a", lb(6)), 1)) is False


def test_an_off_road_machine_is_in_it_where_it_is_not_like_an_mvac():
    """82.152: MVAC-like is open-drive and of 20 lb or less."""
    tractor = {"equipment": "vehicle/off-road", "substance": "R-134a"}
    assert (
        is_logged(US, Disposed(DAY, System(**tractor, charge_mg=lb(20), traits=frozenset({"open-drive"})), 1)) is False
    )
    assert is_logged(US, Disposed(DAY, System(**tractor, charge_mg=lb(6)), 1)) is True
    assert (
        is_logged(US, Disposed(DAY, System(**tractor, charge_mg=lb(6), undecided=frozenset({"open-drive"})), 1)) is None
    )
    assert (
        is_logged(US, Disposed(DAY, System(**tractor, charge_mg=lb(24), traits=frozenset({"open-drive"})), 1)) is True
    )


@pytest.mark.parametrize("case", [pytest.param(3, id="US-17.3"), pytest.param(4, id="US-17.4")])
def test_the_log_has_one_total_a_month_and_refrigerant(case):
    june = [
        Disposed(dt.date(2026, 6, 2), System("stationary", "R-22", lb(8)), lb(8)),
        Disposed(dt.date(2026, 6, 28), System("stationary", "R-22", lb(12)), lb(12)),
        Disposed(dt.date(2026, 6, 28), System("vehicle", "R-134a", lb(6)), lb(6)),
        Disposed(dt.date(2026, 8, 3), System("stationary", "R-22", lb(7)), lb(7)),
    ]
    totals = monthly_totals(US, june)
    if case == 3:
        assert totals[2026, 6, "R-22"] == lb(8) + lb(12) and abs(totals[2026, 6, "R-22"] - lb(20)) <= 1
    else:
        assert list(totals) == [(2026, 6, "R-22"), (2026, 8, "R-22")], "July has no line"
        assert monthly_totals(US, []) == {}


# -- US-18: 82.156(a)(3), 82.161(a)(4), 82.157(l)(1) ----------------------------------------------------


@pytest.mark.parametrize("case", [pytest.param(None, id="US-18.1")])
def test_a_disposal_may_go_after_three_years(case):
    record = OnFile("disposal", dt.date(2026, 5, 10))
    assert may_go_from(US, record, DAY) == dt.date(2029, 5, 10)
    assert kept(US, record, dt.date(2029, 5, 9)).answer == "due"
    assert kept(US, record, dt.date(2029, 5, 10)).answer == "free"
    assert not kept(US, record, DAY).to_be_confirmed


@pytest.mark.parametrize("case", [pytest.param(None, id="US-18.2")])
def test_the_certificate_of_someone_still_working_never_goes(case):
    working = OnFile("certificate", dt.date(1995, 1, 1))
    assert may_go_from(US, working, DAY) is None
    found = kept(US, working, dt.date(2090, 1, 1))
    assert found.answer == "due" and found.by is None and "82.161(a)(4)" in found.cited
    left = OnFile("certificate", dt.date(1995, 1, 1), ended_on=dt.date(2026, 5, 31))
    assert may_go_from(US, left, DAY) == dt.date(2029, 5, 31)
    assert may_go_from(EU, OnFile("certificate", dt.date(2026, 1, 1)), DAY) == dt.date(2031, 1, 1)


@pytest.mark.parametrize("case", [pytest.param(None, id="US-18.3")])
def test_the_data_of_a_unit_stay_until_three_years_after_it_was_retired(case):
    for system, citation in ((rack(), "84.106(l)(1)"), (rack("R-22", 60), "82.157(l)(1)")):
        retired = OnFile("equipment", dt.date(2019, 1, 1), dt.date(2026, 7, 1), system)
        assert may_go_from(US, retired, DAY) == dt.date(2029, 7, 1)
        assert citation in kept(US, retired, DAY).cited
        assert may_go_from(US, OnFile("equipment", dt.date(2019, 1, 1), None, system), DAY) is None
    car = OnFile("equipment", dt.date(2026, 1, 1), None, System("vehicle", "R-134a", 500 * G))
    assert kept(US, car, DAY).answer == "free", "no rule keeps the data of a car"
    unknown = OnFile("equipment", dt.date(2019, 1, 1), None, System("stationary/refrigeration", "R-404A"))
    assert kept(US, unknown, DAY).is_open and may_go_from(US, unknown, DAY) is None


# -- EU-10: Regulation (EU) 2024/573, article 7 ---------------------------------------------------------

CHILLER = System("stationary", "R-410A", 10_000 * G)
WORK = {"day", "substance", "added", "recovered"}
WHO = {"company", "person", "certificate-number"}


@pytest.mark.parametrize("case", [pytest.param(None, id="EU-10.1")])
def test_a_job_names_the_person_too(case):
    found = records(EU, Asked("job", "contractor", CHILLER), WORK | {"company"}, DAY)
    assert [verdict.answer for verdict in found] == ["met", "breach"]
    assert "who did it" in found[1].said and "7(1)(e)" in found[1].cited
    assert all(one.answer == "met" for one in records(EU, Asked("job", "contractor", CHILLER), WORK | WHO, DAY))


@pytest.mark.parametrize("case", [pytest.param(None, id="EU-10.2")])
def test_reclaimed_gas_names_its_facility(case):
    asked = Asked("job", "contractor", CHILLER, frozenset({"reclaimed"}))
    found = [one for one in records(EU, asked, WORK | WHO | {"grade"}, DAY) if one.is_breach]
    assert "name and address of the facility" in one(found).said and "7(1)(d)" in one(found).cited
    assert not [one for one in records(EU, asked, WORK | WHO | {"grade", "facility"}, DAY) if one.is_breach]
    virgin = Asked("job", "contractor", CHILLER, frozenset({"virgin"}))
    assert not [one for one in records(EU, virgin, WORK | WHO, DAY) if one.is_breach]


@pytest.mark.parametrize("case", [pytest.param(None, id="EU-10.3")])
def test_a_car_has_no_record_to_be_kept(case):
    for kind in ("equipment", "job", "leak-check", "disposal"):
        assert records(EU, Asked(kind, "", System("vehicle", "R-1234yf", 500 * G)), (), DAY) == []
    small = System("stationary", "R-404A", 1_270 * G)  # 4.980 t: below 5 t CO2e
    assert records(EU, Asked("job", "contractor", small), (), DAY) == []
    assert records(EU, Asked("job", "contractor", System("stationary", "R-404A", 1_280 * G)), (), DAY) != []


@pytest.mark.parametrize("case", [pytest.param(None, id="EU-10.4")])
def test_a_record_is_kept_five_years(case):
    found = kept(EU, OnFile("job", dt.date(2026, 3, 15)), DAY)
    assert may_go_from(EU, OnFile("job", dt.date(2026, 3, 15)), DAY) == dt.date(2031, 3, 15)
    assert "7(2)" in found.cited and found.by == dt.date(2031, 3, 14)


# -- the verdicts themselves ----------------------------------------------------------------------------

HEAD = """
name = "made-up"
title = "Made up"
area = "Nowhere"
edition = 2026-01-01
deference = "Check local rules."
[texts.act]
title = "An act"
confidence = "seen"
read_on = 2026-01-01
[[gwp]]
basis = "ar4"
text = "act"
"""


def test_every_figure_of_a_record_rule_is_followed():
    """An invented rulebook: keeper, needs, grades, charge and equipment each change the answer."""
    book = parse_rulebook(
        HEAD
        + '[[record]]\nrecord = "job"\ntitle = "Book"\nby = "sender"\nfields = ["document"]\ngrades = ["mixed"]\n'
        + 'equipment = ["other"]\ncharge_at_least = "2 kg"\ncharge_below = "3 kg"\ntext = "act"\n'
    )

    def asked(by="sender", equipment="other", kilograms=2, grade="mixed"):
        system = System(equipment, "R-22", kilograms * 10**6)
        return [found.answer for found in records(book, Asked("job", by, system, frozenset({grade})), (), DAY)]

    assert asked() == ["breach"]
    assert asked(by="owner") == asked(equipment="vehicle") == asked(kilograms=1) == asked(kilograms=3) == []
    assert asked(grade="virgin") == []
    (rule,) = book.section("record", DAY)
    assert missing(rule, {"document"}) == () and missing(rule, set(FIELDS) - {"document"}) == ("document",)


def test_of_several_retentions_the_longest_counts():
    book = parse_rulebook(
        HEAD
        + '[[retention]]\nrecords = ["job"]\nyears = 2\ntext = "act"\n'
        + '[[retention]]\nrecords = ["*"]\nyears = 1\ncounted_from = "end"\ntext = "act"\n'
    )
    day = dt.date(2024, 2, 29)
    assert may_go_from(book, OnFile("job", day, ended_on=day), DAY) == dt.date(2026, 3, 1)
    assert may_go_from(book, OnFile("job", day, ended_on=dt.date(2026, 1, 2)), DAY) == dt.date(2027, 1, 2)
    assert may_go_from(book, OnFile("sale", day), DAY) is None
    none = parse_rulebook(HEAD)
    assert kept(none, OnFile("job", day), DAY).answer == "free" and may_go_from(none, OnFile("job", day), DAY) == day


@pytest.mark.parametrize(
    ("equipment", "gas", "logged"),
    [
        ("vehicle/bus", "R-22", True),
        ("vehicle/bus", "R-134a", False),
        ("vehicle/off-road", "R-22", True),
        ("vehicle/off-road", "R-134a", False),
    ],
)
def test_what_holds_r22_is_no_mvac_in_the_log_of_disposals(equipment, gas, logged):
    """82.156(a)(3) with 82.32(d) and 82.152: a bus or an open-drive machine on R-22 is no MVAC nor like one."""
    open_drive = System(equipment, gas, lb(10), traits=frozenset({"open-drive"}))
    assert is_logged(US, Disposed(DAY, open_drive, 1)) is logged
