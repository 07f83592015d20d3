"""Rulebooks: the boundaries of published rules, at them and on both sides, and what the generic one says."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.reference.refrigerants import co2e_tonnes, gwp, refrigerant
from inventory.reference.rule import PLACES, Gas, System
from inventory.reference.rulebook import Rulebook, parse_rulebook, rulebook, rulebooks
from inventory.reference.rulebook_file import RulebookError, milligrams
from inventory.verdicts.records import Asked, kept_of
from inventory.verdicts.reuse import reuse
from inventory.verdicts.service_ban import service_ban
from tests.reference.asking import leak_check, leak_repair

DAY = date(2026, 3, 2)
KG = 10**6
EU = "eu-2024-573"


@pytest.fixture(scope="module")
def sample() -> Rulebook:
    return parse_rulebook((Path(__file__).parent / "sample_rulebook.toml").read_text(encoding="utf-8"))


@pytest.fixture
def generic() -> Rulebook:
    return rulebook("generic")


# Records and days


@pytest.mark.parametrize(
    ("record", "day", "may_go"),
    [
        ("job", date(2026, 5, 10), date(2029, 5, 10)),  # 40 CFR 82.42(b)(4): three years
        ("shipment", date(2024, 2, 29), date(2027, 3, 1)),
        ("purchase", date(2026, 5, 10), date(2028, 5, 10)),
    ],
)
def test_records_may_go_after_their_years(sample: Rulebook, record: str, day: date, may_go: date) -> None:
    assert sample.retention(record, DAY).may_go_from(day) == may_go


def test_certificate_is_kept_from_the_end_of_the_work(sample: Rulebook) -> None:
    """40 CFR 82.161(a)(4): until three years after the technician ceased to be one."""
    assert sample.retention("certificate", DAY).counted_from == "end"


def test_first_and_last_day_belong_to_a_rule(sample: Rulebook) -> None:
    """Regulation (EU) 2024/573 is in force from 11 March 2024 (articles 37 and 38)."""
    assert sample.gwp_basis(date(2024, 3, 10)) == "ar4"
    assert sample.gwp_basis(date(2024, 3, 11)) == EU


def test_what_was_not_read_is_to_be_confirmed(sample: Rulebook) -> None:
    seen, second_hand, memory = (
        sample.sections["retention"][0],
        sample.sections["leak_rate"][1],
        sample.sections["retention"][2],
    )
    assert not seen.to_be_confirmed
    assert seen.text.read_on == date(2026, 11, 25)
    assert second_hand.to_be_confirmed and second_hand.confidence == "secondary"
    assert memory.to_be_confirmed and memory.citation == "From memory"
    assert seen.cited() == f"{seen.text.title}, {seen.citation}"
    assert (
        second_hand.cited() == f"{second_hand.text.title}, {second_hand.citation} (to be confirmed with the authority)"
    )
    assert memory.cited() == "From memory (to be confirmed with the authority)", "a text is not named twice"


def test_common_practice_has_nothing_to_be_confirmed_by_an_authority() -> None:
    every = [rule for section in rulebook("generic").sections.values() for rule in section]
    practice = {rule.cited() for rule in every if rule.text.key == "practice"}
    assert practice == {"Common practice, no source"}


# Leak checks: Regulation (EU) 2024/573, article 5


@pytest.mark.parametrize(
    ("kilograms", "months"),
    [
        ("3.496", None),
        ("3.497", 12),
        ("34.96", 12),
        ("34.97", 6),
        ("349.6", 6),
        ("349.7", 3),
    ],
)
def test_leak_check_interval_of_r134a(sample: Rulebook, kilograms: str, months: int | None) -> None:
    """Article 5(1) and 5(6): 5, 50 and 500 t CO2e of R-134a (1430) in stationary equipment."""
    mass = int(Decimal(kilograms) * KG)
    found = leak_check(sample, System("stationary", "R-134a", mass), co2e_tonnes("R-134a", EU, mass), DAY)
    assert (found.months if found else None) == months


@pytest.mark.parametrize(("tonnes", "months", "with_detection"), [("5", 12, 24), ("50", 6, 12), ("500", 3, 6)])
def test_leak_check_limits_are_inclusive(sample: Rulebook, tonnes, months, with_detection) -> None:
    """Article 5(6): exactly 5, 50 and 500 t."""
    found = leak_check(sample, System("stationary", "R-410A", KG), Decimal(tonnes), DAY)
    assert (found.months, found.months_with_detection) == (months, with_detection)


def test_r410a_just_under_five_tonnes(sample: Rulebook) -> None:
    """2.395 kg of R-410A: 4.9996 t by 2087.5 and no duty, where the rounded 2088 would ask for a check."""
    mass = 2_395_000
    tonnes = co2e_tonnes("R-410A", EU, mass)
    assert tonnes == Decimal("4.9995625")
    assert leak_check(sample, System("stationary", "R-410A", mass), tonnes, DAY) is None
    assert leak_check(sample, System("stationary", "R-410A", mass), Decimal("5.00076"), DAY).months == 12


@pytest.mark.parametrize(
    ("tonnes", "sealed", "due"), [("9.99", True, False), ("10", True, True), ("9.99", False, True)]
)
def test_sealed_equipment_is_exempt_below_ten_tonnes(sample: Rulebook, tonnes, sealed, due) -> None:
    """Article 5(1), second subparagraph."""
    found = leak_check(sample, System("stationary", "R-410A", 5 * KG, sealed=sealed), Decimal(tonnes), DAY)
    assert (found is not None) is due


@pytest.mark.parametrize(("kilograms", "due"), [("2.999", False), ("3", True)])
def test_sealed_equipment_in_a_dwelling(sample: Rulebook, kilograms, due) -> None:
    """Article 5(1), third subparagraph: exempt below 3 kg, here of a gas that reaches 10 t with less."""
    mass = int(Decimal(kilograms) * KG)
    tonnes = co2e_tonnes("R-404A", EU, mass)
    assert leak_check(sample, System("stationary", "R-404A", mass, sealed=True), tonnes, DAY) is not None
    found = leak_check(sample, System("stationary", "R-404A", mass, sealed=True, dwelling=True), tonnes, DAY)
    assert (found is not None) is due


@pytest.mark.parametrize(
    ("kilograms", "sealed", "due"),
    [("0.99", False, False), ("1", False, True), ("1.99", True, False), ("2", True, True)],
)
def test_leak_check_of_r1234yf_goes_by_mass(sample: Rulebook, kilograms, sealed, due) -> None:
    """Article 5(1): 1 kg of an Annex II section 1 gas, 2 kg where sealed."""
    mass = int(Decimal(kilograms) * KG)
    tonnes = co2e_tonnes("R-1234yf", EU, mass)
    assert (leak_check(sample, System("stationary", "R-1234yf", mass, sealed), tonnes, DAY) is not None) is due


def test_vans_join_leak_checks_on_12_march_2027(sample: Rulebook) -> None:
    """Article 5(5): 1.2 kg of R-1234yf in a van; a passenger car never falls under article 5."""
    mass = 1_200_000
    before, first = date(2027, 3, 11), date(2027, 3, 12)
    assert leak_check(sample, System("vehicle/heavy", "R-1234yf", mass), Decimal(0), before) is None
    assert leak_check(sample, System("vehicle/heavy", "R-1234yf", mass), Decimal(0), first).months == 12
    assert leak_check(sample, System("vehicle", "R-1234yf", mass), Decimal(0), first) is None


def test_a_truck_unit_of_today(sample: Rulebook) -> None:
    """6 kg of R-452A are 12.836 t: every 12 months, in force now (article 5(3)(a))."""
    tonnes = co2e_tonnes("R-452A", EU, 6 * KG)
    assert tonnes.quantize(Decimal("0.001")) == Decimal("12.836")
    assert leak_check(sample, System("transport", "R-452A", 6 * KG), tonnes, DAY).months == 12


def test_a_threshold_in_tonnes_needs_a_gwp(sample: Rulebook) -> None:
    assert leak_check(sample, System("stationary", "R-134a", 1000 * KG), None, DAY) is None


def test_recheck_after_repair(sample: Rulebook) -> None:
    """Article 4(5): after 24 h of running and within a month; a truck unit directly."""
    stationary = leak_repair(sample, "stationary", "R-134a", DAY)
    assert (stationary.recheck_after_hours, stationary.recheck_within_months) == (24, 1)
    assert leak_repair(sample, "transport", "R-134a", DAY).recheck_after_hours == 0
    assert leak_repair(sample, "vehicle", "R-134a", DAY) is None


# Leak rates: 40 CFR 82.157 and 84.106


@pytest.mark.parametrize(("pounds", "covered"), [("49.99 lb", False), ("50 lb", True)])
def test_ozone_depleting_equipment_from_50_pounds(sample: Rulebook, pounds: str, covered: bool) -> None:
    """40 CFR 82.157(a), (d), (j)."""
    system = System("stationary/refrigeration", "R-22", milligrams(pounds))
    found = sample.leak_limits(system, DAY)
    assert bool(found) is covered
    if covered:
        assert [one.rule.over_percent for one in found] == [20]
        steps = sample.leak_steps(found[0].rule.duties, system, DAY)
        assert (steps["repair"].allowed_days(False), steps["repair"].allowed_days(True)) == (30, 120)
        assert (steps["chronic"].percent, steps["chronic"].report_due) == (125, "03-01")


@pytest.mark.parametrize(
    ("pounds", "day", "covered"),
    [
        ("15 lb", date(2025, 12, 31), False),
        ("15 lb", date(2026, 1, 1), True),
        ("14.99 lb", date(2026, 1, 1), False),
    ],
)
def test_hfc_equipment_from_15_pounds_and_2026(sample: Rulebook, pounds, day, covered) -> None:
    """40 CFR 84.106(a): an R-404A walk-in; 15 lb are 6,803,885.55 mg, stored as 6,803,886."""
    found = sample.leak_limits(System("stationary/refrigeration", "R-404A", milligrams(pounds)), day)
    assert bool(found) is covered


@pytest.mark.parametrize(("value", "covered"), [("53", False), ("53.001", True), (None, False)])
def test_leak_rate_only_over_a_gwp_of_53(sample: Rulebook, value: str | None, covered: bool) -> None:
    """40 CFR 84.106(a)(2)."""
    (rule,) = [one for one in sample.section("leak_rate", DAY) if "transport/*" in one.equipment]
    assert rule.reaches(milligrams("20 lb"), Decimal(value) if value else None) is covered
    assert not rule.reaches(milligrams("14.99 lb"), Decimal(100)) and not rule.reaches(None, Decimal(100))


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        ('step = "repair"', "days: is missing for the step repair"),
        ('step = "inspections"\nmonths = 12\nuntil_months = 12', "counted_from: is missing"),
        ('step = "chronic"\npercent = 125\nreport_due = "02-30"', "report_due: write month and day"),
        ('step = "mending"', "step: does not know 'mending'"),
    ],
)
def test_a_leak_step_says_what_its_kind_must(said: str, wrong: str) -> None:
    content = (Path(__file__).parent / "sample_rulebook.toml").read_text(encoding="utf-8")
    table = f'\n[[leak_step]]\n{said}\nduties = "ozone"\ntext = "cfr82"\ncitation = "here"\n'
    with pytest.raises(RulebookError, match=wrong):
        parse_rulebook(content + table)


def test_pounds_are_the_exact_ones() -> None:
    """1 lb = 453.59237 g (NIST SP 811); rounded half to even."""
    assert milligrams("1 lb") == 453_592
    assert milligrams("50 lb") == 22_679_618
    assert milligrams("15 lb") == 6_803_886
    assert milligrams("3 kg") == 3_000_000
    assert milligrams("0.5 mg") == 0
    assert milligrams("1.5 mg") == 2


# Certificates


def allows(book: Rulebook, paper: str, work: str, system: System) -> bool:
    """Whether a rule says for certain that a certificate of that scheme allows the work."""
    return any(bearing.holds for _, bearing in book.grants(paper, work, system, DAY))


def demand(book: Rulebook, work: str, system: System, container_mg: int | None = None):
    """The first certificate that is asked for; None: none is."""
    return next((rule for rule, _ in book.demands(work, system, DAY, container_mg)), None)


@pytest.mark.parametrize("written", ["609", "section 609", "EPA  609", "mvac"])
def test_a_scheme_is_known_by_code_title_and_alias(sample: Rulebook, written: str) -> None:
    assert sample.scheme(written, DAY).code == "609"
    assert sample.scheme("610", DAY) is None
    assert not sample.grants("610", "charge", System("vehicle", "R-134a"), DAY)


def test_what_section_609_allows(sample: Rulebook) -> None:
    """40 CFR 82.34(a) and 82.154(c)(1)(iii): serving vehicles and buying what they take, no R-22."""
    assert allows(sample, "609", "charge", System("vehicle", "R-1234yf"))
    assert not allows(sample, "609", "charge", System("stationary", "R-134a"))
    assert allows(sample, "609", "purchase", System(None, "R-134a"))
    assert not allows(sample, "609", "purchase", System(None, "R-22"))


@pytest.mark.parametrize(("pounds", "allowed"), [("5 lb", True), ("5.01 lb", False)])
def test_type_i_covers_small_appliances(sample: Rulebook, pounds: str, allowed: bool) -> None:
    """40 CFR 82.152 "small appliance": 5 lb or less."""
    assert allows(sample, "608-I", "charge", System("stationary/small", "R-134a", milligrams(pounds))) is allowed


def test_a_charge_that_is_not_known_is_asked_for(sample: Rulebook) -> None:
    ((_, bearing),) = sample.grants("608-I", "charge", System("stationary/small", "R-134a"), DAY)
    assert (bearing.holds, bearing.asks) == (None, ("how much its full charge is",))


def test_a_substance_can_be_taken_out(sample: Rulebook) -> None:
    """40 CFR 82.161(a)(1)(ii): Type II is not for low pressure, such as R-11."""
    assert allows(sample, "608-II", "charge", System("stationary", "R-22"))
    assert not allows(sample, "608-II", "charge", System("stationary", "R-11"))


@pytest.mark.parametrize(
    ("kilograms", "sealed", "allowed"),
    [("2.999", False, True), ("3", False, False), ("5.999", True, True), ("6", True, False)],
)
def test_category_a2_goes_by_charge(sample: Rulebook, kilograms, sealed, allowed) -> None:
    """Implementing Regulation (EU) 2024/2215, article 3(2)(b): below 3 kg; below 6 kg where sealed."""
    charge = int(Decimal(kilograms) * KG)
    assert allows(sample, "A2", "charge", System("stationary", "R-410A", charge, sealed=sealed)) is allowed


def test_category_a2_is_for_these_gases(sample: Rulebook) -> None:
    """Article 3(2)(b) and (d): fluorinated gases and hydrocarbons; R-744 is category B."""
    for substance, allowed in (("R-290", True), ("R-455A", True), ("R-744", False)):
        assert allows(sample, "A2", "charge", System("stationary", substance, KG)) is allowed
    assert sample.scheme("a2", DAY).refresh_first_due == date(2029, 3, 12)


def test_for_what_a_certificate_is_asked(sample: Rulebook) -> None:
    assert demand(sample, "charge", System("vehicle", "R-134a")).enforcement == "refuse"
    assert demand(sample, "leak-check", System("transport", "R-134a")).trainee_months == 24
    assert demand(sample, "leak-check", System("vehicle", "R-134a")) is None


@pytest.mark.parametrize(("pounds", "asked"), [("19.99 lb", True), ("20 lb", False)])
def test_r12_in_containers_below_20_pounds(sample: Rulebook, pounds: str, asked: bool) -> None:
    """40 CFR 82.34(b)."""
    found = demand(sample, "purchase", System(None, "R-12"), milligrams(pounds))
    assert (found is not None) is asked
    assert demand(sample, "purchase", System(None, "R-134a"), 1) is None


@pytest.mark.parametrize(("pounds", "small"), [("2 lb", True), ("2.01 lb", False)])
def test_small_can(sample: Rulebook, pounds: str, small: bool) -> None:
    """40 CFR 82.154(c)(1)(ix), (c)(2): at most 2 lb; since 2018 a valve that leaks at most 3.00 g a year."""
    found = sample.small_can("R-134a", milligrams(pounds), DAY)
    assert (found is not None) is small
    if small:
        assert (found.self_sealing_from, found.leak_most_g_year) == (date(2018, 1, 1), 3)
    assert sample.small_can("R-12", milligrams("1 lb"), DAY) is None


# Refrigerant and containers


@pytest.mark.parametrize(
    ("equipment", "destination", "recovered_allowed"),
    [
        ("vehicle", "same-unit", False),  # 40 CFR 82.32(e)(1): even into the same car
        ("stationary", "same-owner", True),  # 40 CFR 82.156(h)
        ("stationary", "other-owner", False),  # 40 CFR 82.154(d)
    ],
)
def test_reuse_of_recovered_refrigerant(sample: Rulebook, equipment, destination, recovered_allowed) -> None:
    said = reuse(sample, System(equipment, "R-134a"), Gas("recovered", destination), DAY)
    assert (said.answer == "met") is recovered_allowed
    assert reuse(sample, System(equipment, "R-134a"), Gas("reclaimed", destination), DAY).answer == "met"


@pytest.mark.parametrize(
    ("substance", "grade", "day", "banned"),
    [
        ("R-404A", "virgin", date(2024, 12, 31), False),
        ("R-404A", "virgin", date(2025, 1, 1), True),
        ("R-404A", "reclaimed", date(2029, 12, 31), False),
        ("R-404A", "reclaimed", date(2030, 1, 1), True),
        ("R-452A", "virgin", date(2030, 1, 1), False),  # 2139.4
    ],
)
def test_service_ban(sample: Rulebook, substance, grade, day, banned) -> None:
    """Regulation (EU) 2024/573, article 13(3): GWP of 2500 and more, in a truck unit."""
    said = service_ban(sample, System("transport", substance), Gas(grade), day)
    assert said.is_breach is banned


def test_service_ban_begins_at_its_limit(sample: Rulebook) -> None:
    (rule, *_) = sample.section("service_ban", DAY)
    value = gwp("R-404A", EU)
    for least, banned in ((value, True), (value + Decimal("0.001"), False)):
        limited = replace(sample, sections={**sample.sections, "service_ban": (replace(rule, gwp_at_least=least),)})
        assert service_ban(limited, System("transport", "R-404A"), Gas("virgin"), DAY).is_breach is banned
    assert service_ban(sample, System("vehicle", "R-404A"), Gas("virgin"), DAY).answer == "free"


@pytest.mark.parametrize(
    ("pounds", "asked"), [("5 lb", False), ("5.01 lb", True), ("49.99 lb", True), ("50 lb", False)]
)
def test_disposal_record(sample: Rulebook, pounds: str, asked: bool) -> None:
    """40 CFR 82.156(a)(3): more than 5 lb and less than 50 lb."""
    kept = kept_of(sample, Asked("disposal", system=System("stationary", "R-22", milligrams(pounds))), DAY)
    assert [rule.record for rule, _ in kept] == (["disposal"] if asked else [])


def test_duties_have_days(sample: Rulebook) -> None:
    """40 CFR 84.116: from 1 January 2028."""
    assert sample.duties("container", None, date(2027, 12, 31)) == []
    assert [duty.citation for duty in sample.duties("container", None, date(2028, 1, 1))] == ["40 CFR 84.116"]
    assert sample.duties("unit", None, date(2028, 1, 1)) == []


# The generic rulebook


def test_generic_rulebook_is_there(generic: Rulebook) -> None:
    assert "generic" in rulebooks()
    assert generic.deference == "Check local rules; licensed practice comes first."
    assert str(generic) == "Common practice (2026-11-29)"
    assert generic.gwp_basis(DAY) == "ar4"
    assert generic.retention("job", DAY).years == 5


@pytest.mark.parametrize("work", ["recover", "charge"])
@pytest.mark.parametrize("equipment", ["vehicle", "transport/light", "stationary", "other"])
def test_generic_asks_for_any_certificate(generic: Rulebook, work: str, equipment: str) -> None:
    """A certificate of any scheme will do, but there must be one."""
    system = System(equipment, "R-1234yf")
    assert demand(generic, work, system).enforcement == "refuse"
    assert allows(generic, "Some scheme nobody wrote down", work, system)
    assert not allows(generic, " ", work, system)
    assert demand(generic, "purchase", System(None, "R-134a")) is None


def test_generic_says_where_it_has_no_source(generic: Rulebook) -> None:
    every = [rule for rules in generic.sections.values() for rule in rules]
    practice = [rule for rule in every if rule.text.key == "practice"]
    assert practice and all(rule.citation == "Common practice, no source" for rule in practice)
    assert all(rule.to_be_confirmed for rule in practice)
    for rule in every:
        assert rule.confidence == "memory" or rule.text.read_on is not None


def test_generic_containers(generic: Rulebook) -> None:
    assert generic.single_use("can", "R-134a", "fill", DAY).enforcement == "refuse"
    assert generic.single_use("disposable", "R-134a", "fill", DAY)
    assert generic.single_use("recovery", "R-134a", "fill", DAY) is None
    assert generic.retest("recovery", DAY).years == 5
    assert not generic.retest("recovery", DAY).fill_when_overdue
    assert generic.retest("can", DAY) is None
    limits = {rule.method: rule for rule in generic.safe_fill("recovery", DAY)}
    assert set(limits) == {"share-of-liquid", "p200", "liquid-full"}
    assert (limits["share-of-liquid"].share, limits["share-of-liquid"].at_celsius) == (Decimal("0.8"), 25)
    assert limits["liquid-full"].at_celsius == 55  # 49 CFR 173.304(b): 55 °C (131 °F)
    assert generic.safe_fill("can", DAY) == ()


def test_generic_reuse(generic: Rulebook) -> None:
    car = System("vehicle", "R-134a")
    assert reuse(generic, car, Gas("recovered", "same-unit"), DAY).answer == "breach"
    assert reuse(generic, car, Gas("recycled", "same-unit"), DAY).answer == "met"


@pytest.mark.parametrize(
    ("place", "key"),
    [
        ("recover", "no-venting"),
        ("charge", "ventilate"),
        ("charge", "gloves-and-goggles"),
        ("leak-check", "no-flames"),
        ("leak-check", "no-air-test"),
        ("identify", "identify-first"),
        ("oil", "high-voltage-oil"),
        ("container", "never-refill-single-use"),
    ],
)
def test_generic_cautions_stand_where_they_are_needed(generic: Rulebook, place: str, key: str) -> None:
    assert key in [caution.key for caution in generic.cautions(place, DAY)]


def test_every_place_defers_to_local_rules(generic: Rulebook) -> None:
    for place in PLACES:
        cautions = generic.cautions(place, DAY)
        assert cautions[0].sentence == generic.deference
        assert len(cautions) <= 12


@pytest.mark.parametrize("designation", ["R-1234yf", "R-290", "R-152a", "R-454C", "R-134a", "R-12", "R-744"])
def test_flammable_refrigerants_bring_their_caution(generic: Rulebook, designation: str) -> None:
    keys = [caution.key for caution in generic.cautions("charge", DAY, designation)]
    assert ("flammable" in keys) is refrigerant(designation).is_flammable
    assert ("high-pressure" in keys) is (designation == "R-744")
    assert "flammable" not in [caution.key for caution in generic.cautions("charge", DAY, "PAG 46")]


def test_generic_figures_of_practice(generic: Rulebook) -> None:
    assert generic.practice("evacuation_minutes", DAY).value == 30
    assert generic.practice("charge_tolerance_g", DAY).to_be_confirmed
    assert generic.practice("nothing", DAY) is None
