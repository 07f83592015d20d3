"""Australia and Canada. Sources: Ozone Protection and Synthetic Greenhouse Gas Management Regulations 1995 (Cth),
regulations 141 and 2AAA; Federal Halocarbon Regulations, 2022, SOR/2022-110. Both read on 2026-11-28."""

import datetime as dt

import pytest

from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook
from inventory.verdicts.binding import binding
from inventory.verdicts.charging import designed_for_another, leak_tested
from inventory.verdicts.containers_checked import container_checked
from inventory.verdicts.leak_deadlines import check_by, repaired_by
from inventory.verdicts.period_figures import copies_by, figures_asked
from inventory.verdicts.releases import released
from inventory.verdicts.single_use import single_use

DAY = dt.date(2026, 6, 1)
KG = 1_000_000
AUSTRALIA, CANADA = rulebook("australia"), rulebook("canada-federal")
BOUND = frozenset({"bound"})


def case(number: str):
    """The one test of that number of the list of cases."""
    return pytest.mark.parametrize("case", [number], ids=[number])


@case("AU-1.1")
def test_a_car_designed_for_r1234yf_is_not_charged_with_r134a(case) -> None:
    """Regulation 2AAA: a GWP refrigerant of a higher GWP than that which the equipment was designed for."""
    said = designed_for_another(AUSTRALIA, System("vehicle", "R-134a"), "R-1234yf", DAY)
    assert said.is_refused and said.cited.endswith("regulations 2AAA and 141(1)(ba)")
    assert "R-1234yf" in said.said and "1430" in said.said
    assert any("essential for health or safety" in one for one in said.changes)
    assert designed_for_another(AUSTRALIA, System("vehicle", "R-134a"), "R-134a", DAY).answer == "free"


@case("AU-1.2")
def test_a_car_designed_for_r134a_may_take_r1234yf_by_this_rule(case) -> None:
    said = designed_for_another(AUSTRALIA, System("vehicle", "R-1234yf"), "R-134a", DAY)
    assert said.answer == "free" and "other law" in said.said


def test_what_would_not_be_prohibited_depends_on_whether_its_own_gas_is_listed() -> None:
    """Regulation 2AAA: where the design gas is not scheduled, any GWP refrigerant is prohibited, whatever its GWP."""
    unlisted = designed_for_another(AUSTRALIA, System("vehicle", "R-134a"), "R-744", DAY)
    assert unlisted.is_refused and "R-744, or one that is no GWP refrigerant, is not" in unlisted.changes[0]
    listed = designed_for_another(AUSTRALIA, System("stationary", "R-410A"), "R-32", DAY)
    assert listed.is_refused and "R-32, or a refrigerant of no higher GWP, is not" in listed.changes[0]


def test_section_6_is_named_for_halocarbons_alone() -> None:
    """s. 6: halocarbons in refillable containers alone; that nothing single-use is refilled is practice beyond it."""
    assert single_use(CANADA, "can", "R-134a", "fill", DAY).cited.endswith("section 6")
    for gas in ("R-290", "R-744", ""):
        said = single_use(CANADA, "can", gas, "fill", DAY)
        assert said.is_refused and said.cited == "Common practice, no source"


@case("AU-1.3")
def test_a_container_checked_92_days_ago_is_due(case) -> None:
    """Regulation 141(1)(e): every quarter. The longest quarter has 92 days, so that one has ended since; where a whole
    one went by besides, that is a breach."""
    came = dt.date(2025, 1, 1)
    said = container_checked(AUSTRALIA, "recovery", came, DAY - dt.timedelta(days=92), DAY)
    assert said.answer == "due" and said.by == dt.date(2026, 6, 30)
    assert said.cited.endswith("regulation 141(1)(e)") and said.readings
    for day in (dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365)):
        last = day - dt.timedelta(days=92)
        assert container_checked(AUSTRALIA, "recovery", came, last, day).answer in {"due", "breach"}
    met, missed = dt.date(2026, 4, 1), dt.date(2025, 12, 31)
    assert container_checked(AUSTRALIA, "recovery", came, met, DAY).answer == "met"
    assert container_checked(AUSTRALIA, "recovery", came, missed, DAY).answer == "breach"
    assert container_checked(AUSTRALIA, "recovery", dt.date(2026, 1, 2), None, DAY).answer == "due"
    assert container_checked(AUSTRALIA, "recovery", dt.date(2026, 1, 1), None, DAY).answer == "breach"


@case("AU-1.4")
def test_the_report_of_a_quarter_has_four_figures_a_gas(case) -> None:
    """Regulation 141(1)(a): "bought, recovered, sold and otherwise disposed of during each quarter"; (b): 14 days."""
    asked = figures_asked(AUSTRALIA, DAY)
    assert [rule.title for rule in asked.rules] == ["Bought", "Recovered", "Sold", "Otherwise disposed of"]
    assert asked.of(DAY) == (dt.date(2026, 4, 1), dt.date(2026, 6, 30))
    counted = {"received": 5, "recovered": 3, "charged": 2, "sold": 4, "returned": 1, "reclaimed": 1, "destroyed": 0}
    counted |= dict.fromkeys(("line_loss", "heel_loss", "other_loss", "unexplained_loss"), 1)
    assert asked.figures("R-134a", counted) == (5, 3, 6, 6)
    assert copies_by(AUSTRALIA, DAY).by == dt.date(2026, 6, 15)


@case("CA-1.1")
def test_a_charge_without_a_leak_test_on_the_same_visit_is_refused(case) -> None:
    """SOR/2022-110 s. 10."""
    bound = System("stationary", "R-410A", 4 * KG, traits=BOUND)
    said = leak_tested(CANADA, bound, "", DAY)
    assert said.is_refused and said.cited.endswith("section 10")
    assert leak_tested(CANADA, bound, "none found", DAY).answer == "met"
    undecided = System("stationary", "R-410A", 4 * KG, undecided=BOUND)
    assert leak_tested(CANADA, undecided, "", DAY).is_open


@case("CA-1.2")
def test_a_leak_is_dealt_with_within_7_days(case) -> None:
    """s. 18: repair, isolate or recover."""
    said = repaired_by(CANADA, System("stationary", "R-410A", 40 * KG, traits=BOUND), dt.date(2026, 6, 1))
    assert said.by == dt.date(2026, 6, 8) and said.cited.endswith("sections 10 and 18")
    assert not said.late_on(dt.date(2026, 6, 8)) and said.late_on(dt.date(2026, 6, 9))


@case("CA-1.3")
def test_a_large_system_is_tested_each_calendar_year_and_within_15_months(case) -> None:
    """s. 17: large is more than 10 kg."""
    (rule,) = CANADA.section("leak_check", DAY)
    assert check_by(rule, dt.date(2025, 9, 1)) == dt.date(2026, 12, 1)
    assert check_by(rule, dt.date(2025, 12, 1)) == dt.date(2026, 12, 31)  # the year after ends first
    assert not rule.applies(System("stationary", "R-410A", 10 * KG, traits=BOUND), None)
    assert rule.applies(System("stationary", "R-410A", 10 * KG + 1, traits=BOUND), None)
    assert rule.cited().endswith("section 17")


@case("CA-1.4")
def test_what_is_reported_of_a_release(case) -> None:
    """ss. 24 and 25: 100 kg and more, told within 24 hours, reported within 30 days; more than 10 kg by 31 July or
    31 January; 10 kg not at all."""
    system = System("stationary", "R-410A", 200 * KG, traits=BOUND)
    june = dt.date(2026, 6, 20)
    assert released(CANADA, system, 10 * KG, june).answer == "free"
    twelve = released(CANADA, system, 12 * KG, june)
    assert (twelve.by, twelve.cited.split(", ")[-1]) == (dt.date(2026, 7, 31), "section 25")
    assert released(CANADA, system, 12 * KG, dt.date(2026, 7, 1)).by == dt.date(2027, 1, 31)
    assert released(CANADA, system, 100 * KG - 1, june).by == dt.date(2026, 7, 31)
    hundred = released(CANADA, system, 100 * KG, june)
    assert (hundred.by, hundred.cited.split(", ")[-1]) == (dt.date(2026, 7, 20), "section 24")
    assert "24 hours" in hundred.said


@case("CA-1.5")
def test_an_ordinary_shops_own_car_is_not_bound(case) -> None:
    """s. 2: systems of the federal Crown, Crown corporations, federal works or undertakings, federal or aboriginal
    lands, and no others."""
    car = System("vehicle", "R-134a", KG)
    said = binding(CANADA, car)
    assert said.answer == "free" and "law of the province" in said.said
    assert leak_tested(CANADA, car, "", DAY).answer == "free"
    assert released(CANADA, car, 200 * KG, DAY).answer == "free"
    assert repaired_by(CANADA, car, DAY).answer == "free"
    for section in ("leak_check", "leak_test", "leak_repair", "release_report", "certificate_demand"):
        assert CANADA.about(section, car, DAY) == [], section
    assert binding(CANADA, System("vehicle", "R-134a", KG, undecided=BOUND)).is_open


def test_what_was_not_found_is_said() -> None:
    """Retention, licence classes and the automotive code are not confirmed; nor are the provinces' rules."""
    assert AUSTRALIA.retention("job", DAY).to_be_confirmed and "not found" in AUSTRALIA.retention("job", DAY).note
    said = " ".join(AUSTRALIA.missing)
    assert "How long records" in said and "licence" in said and "automotive code" in said
    assert "province" in " ".join(CANADA.missing)
    assert CANADA.retention("job", DAY).years == 5 and not CANADA.retention("job", DAY).to_be_confirmed  # s. 26


def test_how_well_each_rule_of_the_two_is_known() -> None:
    """What was not read in the text itself is to be confirmed, and cited so."""
    for book in (AUSTRALIA, CANADA):
        for rule in (rule for rules in book.sections.values() for rule in rules):
            assert rule.confidence == "memory" or rule.text.read_on is not None
    reading = [rule.title for rule in AUSTRALIA.section("period_figures", DAY) if rule.confidence == "reading"]
    assert reading == ["Sold", "Otherwise disposed of"]
    assert AUSTRALIA.schemes(DAY)[0].confidence == "secondary"
    assert AUSTRALIA.section("gwp", DAY)[0].confidence == "memory"
    assert AUSTRALIA.section("prohibited_charging", DAY)[0].confidence == "seen"


@pytest.mark.parametrize("gas", ["R-744", "R-717", "R-290"])
def test_a_refrigerant_without_halogen_is_no_halocarbon(gas) -> None:
    """SOR/2022-110 is about halocarbons: carbon dioxide, ammonia and hydrocarbons are none."""
    bound = System("stationary/refrigeration", gas, 50 * KG, traits=BOUND)
    for section in ("leak_check", "leak_test", "leak_repair", "release_report", "certificate_demand", "record", "duty"):
        only = [rule for rule, _ in CANADA.about(section, bound, DAY) if "bound" in rule.only]
        assert only == [], section
    assert leak_tested(CANADA, bound, "", DAY).answer == "free"
