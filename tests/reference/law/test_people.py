"""Who may do what, buy and sell: the cases of the law by their numbers. Each citation stands in the check itself."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.reference.rule import Gas, System
from inventory.reference.rulebook import rulebook
from inventory.reference.rulebook_file import milligrams
from inventory.verdicts.buying import buying
from inventory.verdicts.certificates import refresher
from inventory.verdicts.selling import Sold, selling
from inventory.verdicts.work import Worker, company, working

DAY = dt.date(2026, 6, 1)
PAID = frozenset({"paid"})
US, EU, GB = (rulebook(name) for name in ("us-federal", "eu", "gb"))


def lb(pounds: str) -> int:
    return milligrams(f"{pounds} lb")


def kg(kilograms: str) -> int:
    return int(Decimal(kilograms) * 1_000_000)


def does(rules, papers, work, *system, day=DAY, **more):
    """What a person with such papers is told who does that work, for pay unless it is said otherwise."""
    return working(rules, work, System(*system, **{"traits": PAID, **more}), Worker(papers), day)


# -- US-12: exempt substitutes, 40 CFR 82.154(a)(1) -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("substance", "equipment", "use", "answer", "citation"),
    [
        pytest.param("R-744", "stationary/refrigeration", "supermarket", "free", "82.154(a)(1)(i)", id="US-12.1"),
        pytest.param("R-290", "stationary/small", "stand-alone", "free", "82.154(a)(1)(viii)", id="US-12.2"),
        pytest.param("R-290", "stationary/refrigeration", "walk-in", "refused", "82.161(a)", id="US-12.3"),
        pytest.param("R-717", "stationary", "chiller", "refused", "82.161(a)", id="US-12.4"),
    ],
)
def test_exempt_substitutes(substance, equipment, use, answer, citation):
    found = does(US, [], "charge", equipment, substance, use=use)
    assert found.answer == answer and f"40 CFR {citation}" in found.cited
    bought = buying(US, System(equipment, substance, use=use), [], DAY)
    assert bought.is_breach is (answer == "refused"), "an exempt use asks for no certificate to buy either"


def test_an_exempt_use_that_nobody_named_is_asked_for():
    found = does(US, [], "charge", "stationary/refrigeration", "R-290")
    assert found.is_open and found.ask == ("what kind of appliance it is",)
    bought = buying(US, System(None, "R-290"), [], DAY)
    assert bought.is_open and not bought.is_breach
    assert buying(US, System(None, "R-290"), ["608-I"], DAY).answer == "met", "then it does not matter"
    assert buying(US, System(None, "R-717"), [], DAY).ask[0] == "what equipment it is for"
    assert buying(US, System(None, "R-1270"), [], DAY).is_open, "(vi): in a process that works with hydrocarbons"


@pytest.mark.parametrize(("day", "answer"), [("2017-01-02", "refused"), ("2017-01-03", "free")])
def test_propane_in_ice_machines_since_2017(day, answer):
    # 40 CFR 82.154(a)(1)(viii)
    day = dt.date.fromisoformat(day)
    assert does(US, [], "charge", "stationary/refrigeration", "R-290", use="ice-machine", day=day).answer == answer


# -- US-13: buying and selling, 40 CFR 82.154(c) and (d), 82.34(b) ----------------------------------------------------


@pytest.mark.parametrize(
    ("papers", "substance", "answer", "citation"),
    [
        pytest.param(["609"], "R-404A", "breach", "82.154(c)(1)", id="US-13.1"),
        pytest.param(["608-I"], "R-1234yf", "met", "82.154(c)(1)(i)", id="US-13.2"),
        pytest.param([], "R-744", "free", "82.154(a)(1)(i)", id="US-13.3"),
    ],
)
def test_buying_in_the_united_states(papers, substance, answer, citation):
    found = buying(US, System(None, substance), papers, DAY)
    assert found.answer == answer and f"40 CFR {citation}" in found.cited


CAR_GAS = Gas("recycled", origins=frozenset({"vehicle"}), own=True)
SEEN = frozenset({"invoice", "certificate"})


@pytest.mark.parametrize(
    ("system", "seen", "answer"),
    [
        pytest.param(System("vehicle", "R-134a"), SEEN, "met", id="US-13.4-cars"),
        pytest.param(System("vehicle", "R-134a"), frozenset({"invoice"}), "breach", id="US-13.4-without-proof"),
        pytest.param(
            System("stationary/refrigeration", "R-134a", use="walk-in"), SEEN, "refused", id="US-13.4-walk-in"
        ),
    ],
)
def test_selling_what_was_recycled(system, seen, answer):
    found = selling(US, Sold(system, CAR_GAS, "use", seen), DAY)
    assert found.answer == answer and "40 CFR 82.154(d)" in found.cited


@pytest.mark.parametrize(
    ("pounds", "answer"),
    [pytest.param("2.00", "free", id="US-13.5-free"), pytest.param("2.01", "breach", id="US-13.5-certificate")],
)
def test_small_cans(pounds, answer):
    found = buying(US, System(None, "R-134a"), [], DAY, lb(pounds))
    assert found.answer == answer
    if answer == "free":
        assert found.cited.endswith("40 CFR 82.154(c)(1)(ix) and (c)(2)") and "3 g a year" in found.readings[0]


@pytest.mark.parametrize(
    ("gas", "system", "end", "answer"),
    [
        # 40 CFR 82.154(d): not from a chiller, not recovered only, not for resale; reclaimed for whatever end
        (Gas("recycled", origins=frozenset({"stationary"})), System("vehicle", "R-134a"), "use", "refused"),
        (Gas("recovered", origins=frozenset({"vehicle"})), System("vehicle", "R-134a"), "use", "refused"),
        (CAR_GAS, System(None, "R-134a"), "resale", "refused"),
        (Gas("reclaimed"), System(None, "R-404A"), "resale", "met"),
        # where it came from, and what for, count and are asked
        (Gas("recycled"), System("vehicle", "R-134a"), "use", "open"),
        (CAR_GAS, System(None, "R-134a"), "", "open"),
        (Gas("recovered"), System(None, "R-134a"), "", "refused"),  # whatever would be said
        (Gas("recovered"), System(None, "R-744"), "", "free"),  # subpart F is not about it
    ],
)
def test_used_refrigerant_is_sold_reclaimed(gas, system, end, answer):
    assert selling(US, Sold(system, gas, end, SEEN), DAY).answer == answer


def test_a_small_can_is_sold_without_a_record():
    # 40 CFR 82.154(c)(3)
    for pounds, answer in (("2", "free"), ("2.01", "breach")):
        sold = Sold(System(None, "R-134a"), Gas("virgin"), "use", container_mg=lb(pounds))
        assert selling(US, sold, DAY).answer == answer


@pytest.mark.parametrize(
    ("papers", "pounds", "answer"),
    [(["609"], "19.99", "met"), (["608-I"], "19.99", "breach"), (["608-I"], "20", "met"), ([], "20", "breach")],
)
def test_r12_in_less_than_20_pounds_asks_for_609(papers, pounds, answer):
    # 40 CFR 82.34(b); from 20 lb on 82.154(c)(1)
    assert buying(US, System(None, "R-12"), papers, DAY, lb(pounds)).answer == answer


# -- US-14: who may do what, 40 CFR 82.34, 82.32, 82.161 --------------------------------------------------------------

OPEN_DRIVE = frozenset({"open-drive"})


@pytest.mark.parametrize(
    ("papers", "system", "traits", "answer", "citation"),
    [
        pytest.param(["609"], ("vehicle/train", "R-134a"), PAID, "refused", "82.161(a)", id="US-14.1"),
        pytest.param(
            ["609"], ("vehicle/off-road", "R-134a", lb("6")), OPEN_DRIVE, "met", "82.34(a)(3)", id="US-14.2-6-lb"
        ),
        pytest.param(
            ["609"], ("vehicle/off-road", "R-134a", lb("24")), OPEN_DRIVE, "refused", "82.161(a)", id="US-14.2-24-lb"
        ),
        pytest.param(["608 Type II"], ("stationary", "R-123"), PAID, "refused", "82.161(a)", id="US-14.3"),
        pytest.param(
            ["608 Type II"],
            ("vehicle/off-road", "R-134a", lb("6")),
            OPEN_DRIVE,
            "met",
            "82.161(a)(1)(v)",
            id="US-14.4",
        ),
        pytest.param([], ("vehicle", "R-134a"), frozenset(), "free", "", id="US-14.5"),
        pytest.param([], ("vehicle/off-road", "R-134a", lb("6")), OPEN_DRIVE, "refused", "82.34(a)(3)", id="US-14.6"),
    ],
)
def test_who_may_do_what(papers, system, traits, answer, citation):
    found = does(US, papers, "charge", *system, traits=traits)
    assert found.answer == answer and citation in found.cited


def test_for_pay_a_car_asks_for_609_its_own_owner_s_too():
    # 40 CFR 82.34(a): for consideration
    assert does(US, [], "charge", "vehicle", "R-134a").is_refused
    found = does(US, [], "charge", "vehicle", "R-134a", traits=frozenset(), undecided=PAID)
    assert found.is_open and found.ask == ("whether the work is done for pay",)


def test_carbon_dioxide_in_a_car_asks_for_609_by_our_reading():
    found = does(US, [], "charge", "vehicle", "R-744")  # 40 CFR 82.32(f), and 82.154(a)(1) reaches subpart F alone
    assert found.is_refused and found.to_be_confirmed and "82.32(f)" in found.cited
    assert does(US, ["609"], "charge", "vehicle", "R-744").answer == "met"
    assert buying(US, System(None, "R-744"), [], DAY).answer == "free"


def test_what_nobody_said_of_a_tractor_is_asked_for():
    tractor = ("vehicle/off-road", "R-134a", lb("6"))
    found = does(US, ["609"], "charge", *tractor, undecided=OPEN_DRIVE)
    assert found.is_open and "its compressor is driven from outside, by an open shaft" in found.said
    assert does(US, ["608-II"], "charge", *tractor, undecided=OPEN_DRIVE).answer == "met", "by (ii) or by (v)"
    found = does(US, ["609"], "charge", "vehicle/off-road", "R-134a", traits=OPEN_DRIVE)
    assert found.is_open and found.ask == ("how much its full charge is",)


@pytest.mark.parametrize(
    ("papers", "equipment", "substance", "answer"),
    [
        # 40 CFR 82.161(a)(1)(ii), (iii) with 82.152: below 45 psia at 104 °F
        (["608-III"], "stationary", "R-11", "met"),
        (["608-III"], "stationary", "R-123", "met"),
        (["608-III"], "stationary", "R-113", "met"),
        (["608-III"], "stationary", "R-245fa", "met"),
        (["608-III"], "stationary", "R-1233zd(E)", "met"),  # 31.3 psia, worked out: our reading
        (["608-II"], "stationary", "R-1233zd(E)", "refused"),
        (["608-II"], "stationary/refrigeration", "R-600a", "met"),  # 77 psia
        (["608-II"], "vehicle/train", "R-1234yf", "met"),  # 148 psia
        (["608-III"], "stationary", "R-134a", "refused"),
        (["608-universal"], "stationary", "R-123", "met"),
        # 82.32(d): a passenger bus on R-22 has no motor vehicle A/C
        (["609"], "vehicle/bus", "R-134a", "met"),
        (["609"], "vehicle/bus", "R-22", "refused"),
        (["608-II"], "vehicle/bus", "R-22", "met"),
        (["608-II"], "vehicle/bus", "R-134a", "refused"),
        # 82.32(d): cargo refrigeration is none either
        (["609"], "transport", "R-404A", "refused"),
        # R-410A lies within 3 % of the limit between high and very high: both are Type II
        (["608-II"], "stationary", "R-410A", "met"),
    ],
)
def test_types_go_by_pressure(papers, equipment, substance, answer):
    found = does(US, papers, "recover", equipment, substance, lb("16"))
    assert found.answer == answer


@pytest.mark.parametrize(
    ("equipment", "substance", "pounds"),
    [("vehicle/train", "R-123", "30"), ("vehicle/off-road", "R-123", "30"), ("stationary/small", "R-134a", "6")],
)
def test_universal_is_for_all_types(equipment, substance, pounds):
    """82.161(a)(1)(iv), whatever the pressure and the charge."""
    said = does(US, ["608 Universal"], "charge", equipment, substance, lb(pounds))
    assert said.answer == "met" and "82.161(a)(1)(iv)" in said.cited


@pytest.mark.parametrize("equipment", ["vehicle/train", "vehicle/off-road"])
def test_low_pressure_is_for_type_iii_in_a_train_or_off_the_road_too(equipment):
    """82.161(a)(1)(iii); that these go by pressure is a reading."""
    said = does(US, ["608 Type III"], "charge", equipment, "R-123", lb("30"))
    assert said.answer == "met" and said.to_be_confirmed


def test_carbon_dioxide_in_a_tractor_asks_for_a_certificate_by_our_reading():
    """82.34(a)(3) with 82.32(f), as in a car."""
    said = does(US, [], "charge", "vehicle/off-road", "R-744", lb("3"), traits=OPEN_DRIVE)
    assert said.is_refused and said.to_be_confirmed and "82.32(f)" in said.cited


def test_near_the_limit_of_a_class_it_is_to_be_confirmed():
    # A book in which the limit between high and very high counts: R-410A has 351.8 psia at 104 °F, the limit is 355.
    import dataclasses

    grants = tuple(
        dataclasses.replace(one, substances=("pressure:high",)) if "pressure:high" in one.substances else one
        for one in US.sections["grant"]
    )
    book = dataclasses.replace(US, sections={**US.sections, "grant": grants})
    found = does(book, ["608-II"], "charge", "stationary", "R-410A")
    assert found.answer == "confirm" and "near the limit of a pressure class" in found.said
    assert does(book, ["608-II"], "charge", "stationary", "R-22").answer == "met"  # 222 psia


def test_apprentices_are_of_section_608_only():
    # 40 CFR 82.161(a), 82.152: at most two years, supervised; subpart B knows none
    begun = dt.date(2024, 6, 2)
    room, car = System("stationary", "R-410A", traits=PAID), System("vehicle", "R-134a", traits=PAID)
    assert working(US, "charge", room, Worker((), begun), DAY).ask == ("who supervised it",)
    assert working(US, "charge", room, Worker((), begun, supervised=True), DAY).answer == "met"
    assert working(US, "charge", room, Worker((), dt.date(2024, 6, 1), supervised=True), DAY).is_refused
    assert working(US, "charge", car, Worker((), begun, supervised=True), DAY).is_refused
    tractor = System("vehicle/off-road", "R-134a", lb("6"), traits=OPEN_DRIVE)
    assert working(US, "charge", tractor, Worker((), begun, supervised=True), DAY).is_refused


def test_who_only_disposes_of_a_car_or_a_small_appliance_needs_none():
    # 40 CFR 82.161(a)(1)(vii)
    traits = PAID | {"disposal"}
    assert does(US, [], "recover", "vehicle", "R-134a", traits=traits).answer == "free"
    assert does(US, [], "recover", "stationary/small", "R-134a", lb("1"), traits=traits).answer == "free"
    assert does(US, [], "recover", "stationary", "R-410A", traits=traits).is_refused


# -- EU-5: persons and companies, Regulation (EU) 2024/573 article 10 -------------------------------------------------


@pytest.mark.parametrize(
    ("paper", "work", "system", "traits", "answer", "citation"),
    [
        pytest.param("M1", "charge", ("vehicle/heavy", "R-134a"), PAID, "met", "2(2)(a)", id="EU-5.1"),
        pytest.param("M1", "charge", ("transport/light", "R-134a"), PAID, "refused", "10(1)", id="EU-5.2-charge"),
        pytest.param("M1", "recover", ("transport/light", "R-134a"), PAID, "met", "2(2)(a)", id="EU-5.2-recover"),
        pytest.param("M2", "charge", ("vehicle", "R-134a"), PAID, "breach", "2(2)(b)", id="EU-5.3-by-hand"),
        pytest.param(
            "M2", "charge", ("vehicle", "R-134a"), PAID | {"by-station"}, "met", "2(2)(b)", id="EU-5.3-station"
        ),
        pytest.param("A1", "charge", ("vehicle", "R-1234yf"), PAID, "confirm", "2(1)", id="EU-5.4"),
        pytest.param("C", "charge", ("stationary/refrigeration", "R-717"), PAID, "met", "3(2)(d)", id="EU-5.5"),
        pytest.param("E", "recover", ("stationary", "R-410A"), PAID, "refused", "10(1)", id="EU-5.6"),
        pytest.param("307/2008", "recover", ("vehicle/bus", "R-134a"), PAID, "confirm", "10(9)", id="EU-5.7"),
    ],
)
def test_persons_in_the_union(paper, work, system, traits, answer, citation):
    found = does(EU, [paper], work, *system, traits=traits)
    assert found.answer == answer and citation in found.cited


@pytest.mark.parametrize(
    ("equipment", "certified", "answer"),
    [
        pytest.param("transport", False, "breach", id="EU-5.8-trailer"),
        pytest.param("transport", True, "met", id="EU-5.8-trailer-certified"),
        pytest.param("vehicle", False, "free", id="EU-5.8-car"),
    ],
)
def test_companies_in_the_union(equipment, certified, answer):
    found = company(EU, {"charge"}, System(equipment, "R-452A"), certified, DAY)
    assert found.answer == answer
    assert ("10(2)" in found.cited) is (answer != "free")


@pytest.mark.parametrize(
    ("paper", "work", "system", "answer"),
    [
        # Implementing Regulation (EU) 2024/2215 article 3(2)
        ("B", "charge", ("stationary/refrigeration", "R-744"), "met"),
        ("B", "charge", ("stationary/refrigeration", "R-717"), "refused"),
        ("C", "charge", ("stationary/refrigeration", "R-744"), "refused"),
        ("D", "recover", ("transport", "R-452A", kg("2.999")), "met"),
        ("D", "recover", ("transport", "R-452A", kg("3")), "refused"),
        ("D", "recover", ("transport/light", "R-452A", kg("1")), "refused"),  # 2(1)(d): trucks and trailers
        ("A2", "charge", ("stationary", "R-410A"), "open"),  # the full charge counts, and is not known
        # natural refrigerants: a certificate to install and service, not to check for leaks (2(1))
        ("", "leak-check", ("stationary/refrigeration", "R-744"), "free"),
        ("", "charge", ("stationary/refrigeration", "R-290"), "refused"),
        # 2024/573 article 10(1), second subparagraph
        ("M4", "recover", ("transport/light", "R-134a"), "met"),
        ("M1", "leak-check", ("transport/light", "R-134a"), "refused"),
        ("M1", "leak-check", ("vehicle/heavy", "R-134a"), "met"),
        ("M3", "charge", ("vehicle", "R-744"), "met"),
        ("307/2008", "recover", ("vehicle", "R-134a"), "met"),
        ("307/2008", "charge", ("vehicle", "R-134a"), "confirm"),
        # 11(6) with Annex II section 1 and Annex I section 2 as in article 10
        ("A1", "charge", ("stationary", "R-1233zd(E)"), "met"),
        ("", "charge", ("stationary", "R-1233zd(E)"), "refused"),
    ],
)
def test_categories_by_activity(paper, work, system, answer):
    assert does(EU, [paper], work, *system).answer == answer


def test_training_counts_24_months_in_total():
    # Implementing Regulations (EU) 2025/1893 article 2(3) and 2024/2215 article 3(4)
    car = System("vehicle", "R-134a", traits=PAID)
    assert working(EU, "charge", car, Worker((), dt.date(2024, 6, 2), True), DAY).answer == "met"
    assert working(EU, "charge", car, Worker((), dt.date(2024, 6, 1), True), DAY).is_refused


@pytest.mark.parametrize(
    ("scheme", "issued", "due"),
    [
        # 2024/573 article 10(9): every 7 years, the first of old holders no later than 12 March 2029
        ("A1", "2024-03-10", "2029-03-12"),
        ("A1", "2012-05-01", "2029-03-12"),
        ("A1", "2024-03-11", "2031-03-11"),
        ("M1", "2025-10-09", "2032-10-09"),
        ("307/2008", "2015-01-01", "2029-03-12"),  # E1893 article 6: by then at level M1, M2 or M4
    ],
)
def test_refreshers(scheme, issued, due):
    found = refresher(EU, scheme, dt.date.fromisoformat(issued), DAY)
    assert (found.answer, found.by.isoformat()) == ("due", due) and "10(9)" in found.cited
    assert not found.late_on(found.by) and found.late_on(found.by + dt.timedelta(1))


# -- EU-6: buying and selling, article 11(6) and 7(3) -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("papers", "substance", "answer"),
    [
        pytest.param(["M2"], "R-1234yf", "met", id="EU-6.1"),
        pytest.param(["E"], "R-1234yf", "breach", id="EU-6.2"),
        pytest.param([], "R-290", "free", id="EU-6.4"),
    ],
)
def test_buying_in_the_union(papers, substance, answer):
    found = buying(EU, System(None, substance), papers, DAY)
    assert found.answer == answer and ("11(6)" in found.cited) is (answer != "free")


@pytest.mark.parametrize(
    ("seen", "answer"),
    [
        pytest.param(frozenset(), "breach", id="EU-6.3-without"),
        pytest.param(frozenset({"certificate-number"}), "met", id="EU-6.3-with"),
    ],
)
def test_a_sale_names_the_buyer_s_certificate(seen, answer):
    found = selling(EU, Sold(System("vehicle", "R-134a"), Gas("virgin"), "use", seen), DAY)
    assert found.answer == answer and "7(3)" in found.cited


def test_an_attestation_helps_an_undertaking_only():
    # article 11(6): natural persons hold a certificate of 10(1), first subparagraph, (a)
    assert buying(EU, System(None, "R-134a"), ["M1"], DAY, buyer="person").is_breach
    assert buying(EU, System(None, "R-134a"), ["A2"], DAY, buyer="person").answer == "met"
    assert buying(EU, System(None, "R-134a"), ["D"], DAY).is_breach


@pytest.mark.parametrize("grade", ["virgin", "recycled", "reclaimed", "recovered"])
def test_ozone_depleting_substances_are_not_sold(grade):
    # Regulation (EU) 2024/590 article 4(1); for destruction or reclamation they are shipped, not sold (article 12)
    for end in ("use", "resale", ""):
        found = selling(EU, Sold(System("stationary", "R-22"), Gas(grade), end, frozenset({"certificate-number"})), DAY)
        assert found.is_refused and "4(1)" in found.cited


# -- Great Britain: what differs --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("papers", "work", "system", "answer"),
    [
        # certificate for cars only to recover; HFO outside (GB-3)
        ([], "charge", ("vehicle", "R-134a"), "free"),
        ([], "recover", ("vehicle", "R-134a"), "refused"),
        ([], "recover", ("vehicle", "R-1234yf"), "free"),
        (["307/2008"], "recover", ("vehicle", "R-134a"), "met"),
        # Categories I to IV live on, from memory
        (["Category III"], "recover", ("stationary", "R-410A", kg("2.9")), "met"),
        (["Category III"], "charge", ("stationary", "R-410A", kg("2.9")), "refused"),
        (["Category IV"], "leak-check", ("stationary", "R-410A"), "met"),
    ],
)
def test_great_britain(papers, work, system, answer):
    assert does(GB, papers, work, *system).answer == answer


def test_guidance_is_no_text_of_the_law():
    """GB-3: read in an authority's pages."""
    assert does(GB, [], "recover", "vehicle", "R-134a").to_be_confirmed


def test_great_britain_keeps_the_certificate_of_who_buys():
    # articles 6(3) and 11(4), from guidance
    assert selling(GB, Sold(System("vehicle", "R-134a"), Gas("virgin"), "use"), DAY).answer == "breach"
    assert buying(GB, System(None, "R-1234yf"), [], DAY).answer == "free"
