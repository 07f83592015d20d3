"""Leak rates in the United States, 40 CFR 82.157 and 84.106 with 82.152: the cases of the texts, each by its number.

The texts were read on 2026-11-28: undated copies, part 82 with all amendments up to 85 FR 14171 (2020), part 84 later
than December 2024. The regulation prints no worked figures; those here are worked out from its words."""

import datetime as dt
from fractions import Fraction

import pytest

from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook
from inventory.reference.rulebook_file import milligrams
from jobs.leaks.case import Appliance, cases, judged
from jobs.leaks.chronic import chronic_years
from jobs.leaks.leak_rate import ByDay, Event, Visit, history, said_percent
from jobs.leaks.leak_verdicts import chronic_verdict, limits_on, rate_verdict, step_verdict

US = rulebook("us-federal")
DAY = dt.date(2026, 3, 2)
LONG_AGO = dt.date(2020, 5, 1)
ODS, HFC = "82.157", "84.106"
SUPERMARKET, CHILLER, ROOFTOP = "stationary/refrigeration", "stationary", "stationary"


def lb(pounds: str | int) -> int:
    return milligrams(f"{pounds} lb")


def mass(milligram: int) -> str:
    return f"{milligram} mg"


def four(percent: Fraction) -> str:
    """As published: four decimals. A pound is rounded to whole mg."""
    return f"{float(percent):.4f}"


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text if text.count("-") == 2 else f"2026-{text}")


def unit(
    substance: str, full: int, visits=(), events=(), equipment=SUPERMARKET, *, method="rolling", **system
) -> Appliance:
    traits = {name: frozenset(system.pop(name, ())) for name in ("traits", "undecided")}
    return Appliance(
        System(equipment, substance, use=system.pop("use", ""), **traits),
        history(visits, events),
        ByDay(((LONG_AGO, full),)),
        ByDay(((LONG_AGO, method),)),
        **system,
    )


def sections_of(limits) -> list[str]:
    return [next(part for part in (ODS, HFC) if part in one.rule.citation) for one in limits]


# -- US-1: which rule an appliance is under -------------------------------------------------------------


@pytest.mark.parametrize(
    ("substance", "pounds", "use", "under"),
    [
        pytest.param("R-134a", "15.00", "chiller", [HFC], id="US-1.1-at"),
        pytest.param("R-134a", "14.99", "chiller", [], id="US-1.1-below"),
        pytest.param("R-1234yf", "20", "chiller", [], id="US-1.2-yf"),
        pytest.param("R-1233zd(E)", "900", "chiller", [], id="US-1.2-zd"),
        pytest.param("R-744", "100", "", [], id="US-1.2-co2"),
        pytest.param("R-408A", "20", "supermarket", [HFC], id="US-1.3-one"),
        pytest.param("R-408A", "55", "supermarket", [ODS, HFC], id="US-1.3-both"),
        pytest.param("R-22", "49.99", "chiller", [], id="US-1.4-below"),
        pytest.param("R-22", "50", "chiller", [ODS], id="US-1.4-at"),
    ],
)
def test_which_rule_an_appliance_is_under(substance, pounds, use, under):
    """84.106(a): 15 lb and any HFC, or a GWP over 53 without one; 82.157(a): 50 lb of a class I or II gas."""
    kind = SUPERMARKET if use in ("supermarket", "") else CHILLER
    limits = US.leak_limits(System(kind, substance, lb(pounds), use=use), DAY)
    assert sections_of(limits) == under
    assert all(not one.asks for one in limits)


def test_any_blend_with_an_hfc_is_under_the_rule_whatever_its_gwp():
    """84.106(a)(1): "A regulated substance", no GWP test; (a)(2): "greater than 53" is for substitutes without one."""
    by_hfc, *_ = US.leak_limits(System(SUPERMARKET, "R-454C", lb(15)), DAY)
    assert by_hfc.rule.gwp_over is None
    (by_gwp,) = {rule.gwp_over for rule in US.section("leak_rate", DAY) if rule.gwp_over is not None}
    assert by_gwp == 53
    assert US.leak_limits(System(SUPERMARKET, "R-290", lb(500)), DAY) == (), "GWP 3.3 on table 1 of 84.64(b)"


def test_hfc_rates_begin_with_2026():
    assert US.leak_limits(System(SUPERMARKET, "R-404A", lb(60)), dt.date(2025, 12, 31)) == ()
    assert sections_of(US.leak_limits(System(SUPERMARKET, "R-404A", lb(60)), dt.date(2026, 1, 1))) == [HFC]


# -- US-2: residential and light commercial A/C and heat pumps ------------------------------------------


@pytest.mark.parametrize(
    ("system", "answer", "says"),
    [
        pytest.param(
            {"equipment": ROOFTOP, "traits": ["light-commercial"]}, "free", "No rule limits its leak rate", id="US-2.1"
        ),
        pytest.param({"equipment": CHILLER, "use": "chiller"}, "met", "up to 10 %", id="US-2.2"),
        pytest.param(
            {"equipment": CHILLER, "use": "chiller", "undecided": ["light-commercial"]},
            "met",
            "10 %",
            id="US-2.2-asked",
        ),
        pytest.param(
            {"equipment": ROOFTOP, "undecided": ["light-commercial"]},
            "open",
            "cannot be judged: say whether it is a residential or light commercial A/C or heat pump",
            id="US-2.3",
        ),
        pytest.param(
            {"equipment": SUPERMARKET, "use": "walk-in", "traits": ["light-commercial"]}, "met", "20 %", id="US-2.4"
        ),
    ],
)
def test_residential_and_light_commercial_ac_is_exempt(system, answer, says):
    """84.106(a)(3)(ii); that a chiller is not in it: the preamble, as quoted elsewhere."""
    gas = "R-448A" if system["equipment"] == SUPERMARKET else "R-410A"
    (verdict,) = limits_on(unit(gas, lb(22), **system), US, DAY)
    assert verdict.answer == answer and says in verdict.said


def test_an_undecided_mark_is_no_breach_and_not_silent():
    """Half of the charge is added, far over any limit: it still cannot be judged."""
    split = unit("R-410A", lb(22), [Visit(DAY, lb(11))], equipment=ROOFTOP, undecided=["light-commercial"])
    (one,) = judged(split, US, DAY)
    assert one.over is None and cases(split, US, DAY) == []
    verdict = rate_verdict(one, US, split, mass)
    assert verdict.is_open and not verdict.is_breach and "say whether it is a residential" in verdict.said


def test_that_a_chiller_is_never_exempt_is_from_a_summary():
    """The preamble, as quoted elsewhere; a chiller that nobody marks is under the text itself."""
    chiller = {"equipment": CHILLER, "substance": "R-410A", "charge_mg": lb(22), "use": "chiller"}
    for traits, undecided, to_be_confirmed in (
        ((), (), False),
        (("light-commercial",), (), True),
        ((), ("light-commercial",), True),
    ):
        (found,) = US.leak_limits(System(**chiller, traits=frozenset(traits), undecided=frozenset(undecided)), DAY)
        assert not found.asks and found.rule.over_percent == 10
        assert found.rule.to_be_confirmed is to_be_confirmed


def test_the_definition_of_the_rate_for_hfc_was_not_read():
    """84.102 could not be read; 82.152 was."""
    step = {key: US.leak_steps(f"40 CFR {key}", System(CHILLER, "R-408A", lb(60)), DAY)["rate"] for key in (ODS, HFC)}
    assert step[HFC].to_be_confirmed and not step[ODS].to_be_confirmed


def test_there_is_no_such_exemption_for_ozone_depleting_gases():
    (verdict,) = limits_on(unit("R-22", lb(60), equipment=ROOFTOP, undecided=["light-commercial"]), US, DAY)
    assert verdict.answer == "met" and "82.157(a) and (c)(2)(iii)" in verdict.cited


# -- US-3: the limits ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gas", "full", "percent", "system", "limit", "over", "cited"),
    [
        pytest.param("R-448A", 600, "20.0000", {"use": "supermarket"}, 20, False, "(c)(2)(i)", id="US-3.1-at"),
        pytest.param("R-448A", 600, "20.0001", {"use": "supermarket"}, 20, True, "(c)(2)(i)", id="US-3.1-over"),
        pytest.param("R-452A", 18, "10.5", {"equipment": "transport"}, 10, True, "(c)(2)(iii)", id="US-3.2"),
        pytest.param("R-134a", 16, "12", {"equipment": "vehicle/bus"}, 10, True, "(c)(2)(iii)", id="US-3.3"),
        pytest.param("R-507A", 400, "29", {"use": "ice-rink"}, 30, False, "(c)(2)(ii)", id="US-3.4"),
    ],
)
def test_the_limits(gas, full, percent, system, limit, over, cited):
    """84.106(c)(2)(i) to (iii); the duty begins over the limit. Ice rinks: 82.152."""
    full_mg = full * 10**6  # a multiple of 10^6, so that each percentage is a whole number of mg
    full_mg = max(full_mg, lb(16))
    added = Fraction(percent) * full_mg / 100
    assert added == int(added)
    it = unit(gas, full_mg, [Visit(DAY, int(added))], **system)
    (one,) = judged(it, US, DAY)
    assert (one.limit.rule.over_percent, one.over) == (limit, over)
    assert cited in one.limit.rule.citation
    verdict = rate_verdict(one, US, it, mass)
    assert (f"over {limit} %: it is to be repaired" in verdict.said) is over
    assert said_percent(one.rate.percent, (limit, over)) in verdict.said


def test_the_limits_of_the_older_rule_are_cited_from_where_they_stand():
    """82.157(c)(2)(i) 20 %, (ii) 30 %, (iii) 10 %."""
    for kind, limit, cited in (
        ("stationary/refrigeration", 20, "(c)(2)(i)"),
        ("stationary/process", 30, "(c)(2)(ii)"),
        ("stationary", 10, "(c)(2)(iii)"),
        ("transport", 10, "(c)(2)(iii)"),
    ):
        (found,) = US.leak_limits(System(kind, "R-22", lb(50)), DAY)
        assert (found.rule.over_percent, found.rule.citation) == (limit, f"40 CFR 82.157(a) and {cited}")
        assert not found.rule.to_be_confirmed, "it was read in the text"


def test_that_a_bus_is_another_appliance_is_a_reading():
    (bus,) = US.leak_limits(System("vehicle/bus", "R-134a", lb(16)), DAY)
    assert bus.rule.confidence == "reading" and bus.rule.to_be_confirmed
    assert US.leak_limits(System("vehicle", "R-134a", lb(16)), DAY) == ()


# -- US-4: two methods ---------------------------------------------------------------------------------


def added(text: str, pounds: int | str, **more) -> Visit:
    return Visit(day(text), lb(pounds), **more)


@pytest.mark.parametrize(
    ("days", "percent", "over"),
    [pytest.param(146, "20.0000", False, id="US-4.1-at"), pytest.param(145, "20.1379", True, id="US-4.1-over")],
)
def test_annualizing(days, percent, over):
    """4 lb, full charge 50 lb, R-22."""
    before = Visit(DAY - dt.timedelta(days=days), lb(1), why="installation")
    it = unit("R-22", lb(50), [before, Visit(DAY, lb(4))], method="annualizing")
    (one,) = judged(it, US, DAY)
    assert four(one.rate.percent) == percent
    assert (one.rate.days, one.over) == (days, over)


@pytest.mark.parametrize("case", [pytest.param(None, id="US-4.2")])
def test_the_first_annualizing_rate_of_2026_takes_a_year(case):
    """84.106(b)(1). 2026-02-10, 52 days after the last addition: 4 lb of 30 over 365 days."""
    before = Visit(dt.date(2025, 12, 20), lb(1))
    it = unit("R-410A", lb(30), [before, added("02-10", 4)], equipment=CHILLER, use="chiller", method="annualizing")
    (one,) = judged(it, US, DAY)
    assert four(one.rate.percent) == "13.3333"
    assert (one.rate.days, one.rate.elapsed, one.over) == (365, 52, True)
    later = unit(
        "R-410A",
        lb(30),
        [before, added("02-10", 4), added("03-02", 4)],
        equipment=CHILLER,
        use="chiller",
        method="annualizing",
    )
    assert judged(later, US, DAY)[-1].rate.days == 20, "only the first"


@pytest.mark.parametrize(
    ("gas", "full", "percent"),
    [
        pytest.param("R-404A", 40, "5.0000", id="US-4.3-hfc"),
        pytest.param("R-22", 60, "13.3333", id="US-4.3-ods"),
    ],
)
def test_what_was_added_before_2026_is_in_no_rolling_sum_of_hfc(gas, full, percent):
    """84.106(b)(2): 6 lb on 2025-10-01, 2 lb on 2026-03-01. There is no such rule for ozone-depleting gases."""
    it = unit(gas, lb(full), [Visit(dt.date(2025, 10, 1), lb(6)), added("03-01", 2)])
    one = judged(it, US, DAY)[-1]
    assert four(one.rate.percent) == percent
    assert any("2026-01-01" in reading for reading in one.readings) is (gas == "R-404A")


@pytest.mark.parametrize(
    ("events", "percent"),
    [
        pytest.param(
            [
                Event("repair", day("02-05")),
                Event("initial-test", day("02-10"), passed=True),
                Event("follow-up-test", day("02-18"), passed=True, all_leaks=True),
            ],
            2,
            id="US-4.4-follow-up",
        ),
        pytest.param([Event("inspection", day("02-18"))], 14, id="US-4.4-no-leak-found"),
        pytest.param([Event("initial-test", day("02-18"), passed=True)], 14, id="US-4.4-initial-test"),
        pytest.param([Event("repair", day("02-18"))], 14, id="US-4.4-repair"),
        pytest.param([Event("follow-up-test", day("02-18"), passed=False)], 14, id="US-4.4-failed"),
        pytest.param([Event("follow-up-test", day("02-18"), passed=True)], 14, id="US-4.4-not-all-leaks"),
    ],
)
def test_only_a_good_follow_up_test_of_all_leaks_begins_the_sum_anew(events, percent):
    """6 lb on 02-01, 1 lb on 05-01, full charge 50 lb."""
    it = unit("R-22", lb(50), [added("02-01", 6), added("05-01", 1)], events)
    assert said_percent(judged(it, US, day("05-01"))[-1].rate.percent) == f"{percent}.00"


@pytest.mark.parametrize("case", [pytest.param(None, id="US-4.5")])
def test_what_tops_up_the_same_leak_is_one_amount(case):
    """2 lb 06-01, 3 lb 06-11, the addition before on 01-02, full charge 100 lb: 5 lb over 160 days."""
    visits = [added("01-02", 1), added("06-01", 2), added("06-11", 3, same_leak=True)]
    it = unit("R-22", lb(100), visits, method="annualizing")
    one = judged(it, US, day("06-11"))[-1]
    assert (one.rate.added_mg, one.rate.days) == (lb(5), 160)
    assert four(one.rate.percent) == "11.4063"
    assert any("the text does not say which day counts" in reading for reading in one.readings)


def test_both_methods_are_worked_out_and_the_one_of_the_premises_is_taken():
    visits = [added("01-02", 1), added("06-01", 5)]
    for method, other in (("annualizing", "rolling"), ("rolling", "annualizing")):
        one = judged(unit("R-22", lb(100), visits, method=method), US, day("06-01"))[-1]
        assert (one.rate.method, one.other.method) == (method, other)
    none = Appliance(System(SUPERMARKET, "R-22"), history(visits), ByDay(((LONG_AGO, lb(100)),)))
    one = judged(none, US, day("06-01"))[-1]
    assert one.rate.method == "rolling" and "No method is set for the premises" in one.readings[-1]


# -- US-5: when no rate is worked out ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("visits", "rates"),
    [
        pytest.param([added("02-10", 28, why="installation")], [], id="US-5.1"),
        pytest.param([added("02-10", 30)], ["100.00"], id="US-5.2"),
        pytest.param([added("02-10", 30, recovered=lb(12), why="retrofit")], [], id="US-5.3"),
        pytest.param(
            [
                Visit(dt.date(2025, 10, 10), 0, lb(8), out_why="seasonal"),
                Visit(day("04-01"), lb(8), why="seasonal", stated=True),
            ],
            [],
            id="US-5.4-seasonal",
        ),
        pytest.param(
            [
                Visit(dt.date(2025, 10, 10), 0, lb(8), out_why="seasonal"),
                Visit(day("04-01"), lb(9), why="seasonal", stated=True),
            ],
            ["30.00"],
            id="US-5.4-more",
        ),
        pytest.param(
            [Visit(dt.date(2025, 10, 10), 0, lb(8), out_why="seasonal"), added("04-01", 8)],
            ["26.67"],
            id="US-5.4-no-mark",
        ),
        pytest.param(
            [
                Visit(dt.date(2025, 4, 1), 0, lb(8), out_why="seasonal"),
                Visit(day("04-01"), lb(8), why="seasonal", stated=True),
            ],
            ["26.67"],
            id="US-5.4-over-a-year",
        ),
    ],
)
@pytest.mark.parametrize("method", ["annualizing", "rolling"])
def test_when_no_rate_is_worked_out(visits, rates, method):
    """82.157(b), 84.106(b). Full charge 30 lb; said by the job, never inferred."""
    it = unit("R-404A", lb(30), visits, method=method)
    assert [said_percent(one.rate.percent) for one in judged(it, US, day("06-01"))] == rates


def test_a_unit_that_lost_everything_is_over_every_limit():
    """82.157(b) names no share of the charge from which on an addition is an installation."""
    for kind in ("stationary/process", "stationary/refrigeration", "transport"):
        it = unit("R-404A", lb(30), [added("02-10", 30)], equipment=kind)
        assert [one.over for one in judged(it, US, DAY)] == [True]


def test_only_what_goes_in_over_what_came_out_on_the_visit_is_an_addition():
    it = unit("R-404A", lb(30), [added("02-10", 12, recovered=lb(10))])
    (one,) = judged(it, US, DAY)
    assert one.rate.added_mg == lb(12) - lb(10)
    assert any("Putting back" in text for _, text in it.history.readings)


# -- US-6: 30 or 120 days --------------------------------------------------------------------------------

OVER = added("03-02", 10)  # of 40 lb: 25 %


def process(**more):
    return {"equipment": "stationary/process", **more}


@pytest.mark.parametrize(
    ("visits", "events", "system", "by"),
    [
        pytest.param([OVER], [], {}, "04-01", id="US-6.1"),
        pytest.param([added("03-02", 13)], [], process(traits=["process-shutdown"]), "06-30", id="US-6.2"),
        pytest.param([added("03-02", 13)], [], process(), "04-01", id="US-6.2-without-shutdown"),
        pytest.param([OVER, added("03-20", 3)], [], {}, "04-01", id="US-6.3"),
        pytest.param([OVER, added("05-10", 3)], [Event("mothballed", day("03-10"))], {}, "06-01", id="US-6.4"),
        pytest.param(
            [OVER],
            [Event("mothballed", day("03-10")), Event("back-in-use", day("05-10"))],
            {},
            "06-01",
            id="US-6.4-said-to-be-in-use",
        ),
        pytest.param([OVER], [Event("mothballed", day("03-10"))], {}, None, id="US-6.4-still"),
        pytest.param([OVER], [Event("mothballed", day("04-02"))], {}, "04-01", id="US-6.4-too-late"),
    ],
)
def test_days_to_repair(visits, events, system, by):
    """82.157(d), 84.106(d), over the limit on 2026-03-02."""
    (case,) = cases(unit("R-404A", lb(40), visits, events, **system), US, day("07-15"))
    assert case.day == DAY
    assert case.step("repair").due == (by and day(by))
    assert case.step("initial-test").due == case.step("repair").due


@pytest.mark.parametrize(("until", "stands"), [("04-01", "open"), ("04-02", "late"), ("03-20", "open")])
def test_a_repair_is_late_the_day_after_its_last(until, stands):
    (case,) = cases(unit("R-404A", lb(40), [OVER]), US, day(until))
    assert case.step("repair").stands(day(until)) == stands
    assert step_verdict(case.step("repair"), day(until)).is_breach is (stands == "late")


def test_an_extension_moves_the_last_day_and_is_asked_for_in_time():
    """82.157(f)(4): inside the days of the repair; (f)(1)(iii): missing parts, 180 days at most."""
    events = [Event("extension-asked", day("03-30")), Event("extension-granted", day("04-10"), until=day("05-15"))]
    (case,) = cases(unit("R-404A", lb(40), [OVER], events), US, day("04-20"))
    assert case.step("repair").due == day("05-15") and case.step("extension").stands(day("04-20")) == "kept"
    events = [Event("extension-asked", day("04-02")), Event("extension-granted", day("04-10"), until=day("09-15"))]
    (case,) = cases(unit("R-404A", lb(40), [OVER], events), US, day("04-20"))
    assert case.step("extension").stands(day("04-20")) == "kept late"
    assert "at most 180 days, until 2026-08-29" in case.step("extension").note


def test_a_shutdown_changes_nothing_that_was_extended_further():
    """(d): 120 days with an industrial process shutdown, which end before what was granted."""
    events = [Event("extension-asked", day("03-20")), Event("extension-granted", day("03-28"), until=day("07-31"))]
    (case,) = cases(unit("R-404A", lb(100), [added("03-02", 25)], events), US, day("04-02"))
    assert case.step("repair").due == day("07-31") and case.step("repair").changes == ""
    (case,) = cases(unit("R-404A", lb(100), [added("03-02", 25)]), US, day("04-02"))
    assert "by 2026-06-30" in case.step("repair").changes


@pytest.mark.parametrize(("mothballed", "told"), [("03-10", True), ("04-05", False)])
def test_the_clock_stands_only_before_its_last_day(mothballed, told):
    """(d)(3): what is mothballed after 2026-04-01 was late already."""
    events = [Event("mothballed", day(mothballed)), Event("back-in-use", day("04-20"))]
    (case,) = cases(unit("R-404A", lb(100), [added("03-02", 25)], events), US, day("06-01"))
    assert ("The clock stood" in case.step("repair").note) is told


def test_a_test_and_a_later_addition_of_one_day_are_of_two_cases():
    """(e)(2): the follow-up test closes the first case; the second waits for one of its own."""

    def at(text):
        return dt.datetime.fromisoformat(f"2026-03-12T{text}+00:00")

    visits = [added("03-02", 25), added("03-12", 25, at=at("15:00"))]
    events = [
        Event("repair", day("03-05")),
        Event("initial-test", day("03-05"), passed=True),
        Event("follow-up-test", day("03-12"), at("09:00"), passed=True, all_leaks=True),
    ]
    first, second = cases(unit("R-404A", lb(100), visits, events), US, day("03-20"))
    assert first.step("follow-up-test").done == day("03-12")
    assert second.step("follow-up-test").done is None and second.repaired is None


def test_a_plan_takes_the_place_of_the_repair():
    """82.157(h): within 30 days, finished within a year."""
    it = unit("R-404A", lb(40), [OVER], [Event("plan", day("03-30"))])
    (case,) = cases(it, US, day("07-01"))
    assert case.step("repair").stands(day("07-01")) == "not asked"
    assert (case.step("plan").due, case.step("plan").stands(day("07-01"))) == (day("04-01"), "kept")
    assert case.step("plan-done").due == day("2027-03-30")
    (case,) = cases(unit("R-404A", lb(40), [OVER]), US, day("07-01"))
    assert case.step("plan").stands(day("07-01")) == "late", "no repair and no plan"
    it = unit("R-404A", lb(40), [OVER], [Event("plan", day("03-30")), Event("plan-done", day("09-01"))])
    (case,) = cases(it, US, day("10-01"))
    assert case.ended_on == day("09-01") and not case.is_open(day("10-01"))


# -- US-7: verification tests ----------------------------------------------------------------------------

GOOD = Event("initial-test", day("03-25"), passed=True)


@pytest.mark.parametrize(
    ("events", "due", "initial"),
    [
        pytest.param([Event("repair", day("03-20")), GOOD], "04-04", "kept", id="US-7.1"),
        pytest.param(
            [Event("repair", day("03-20"), evacuated=True), GOOD, Event("normal-running", day("03-28"))],
            "04-07",
            "kept",
            id="US-7.2",
        ),
        pytest.param([Event("repair", day("03-20"), evacuated=True), GOOD], None, "kept", id="US-7.2-not-running-yet"),
        pytest.param(
            [
                Event("repair", day("03-20")),
                Event("initial-test", day("03-25"), passed=False),
                Event("initial-test", day("03-31"), passed=True),
            ],
            "04-10",
            "kept",
            id="US-7.3",
        ),
        pytest.param([Event("initial-test", day("03-25"), passed=False)], None, "open", id="US-7.3-failed"),
        pytest.param([Event("initial-test", day("04-02"), passed=True)], "04-12", "kept late", id="US-7.3-late"),
    ],
)
def test_verification_tests(events, due, initial):
    """82.157(e), 84.106(e), over the limit on 2026-03-02."""
    now = day("04-01")
    (case,) = cases(unit("R-404A", lb(40), [OVER], events), US, max(now, *(one.day for one in events)))
    assert case.step("follow-up-test").due == (due and day(due))
    assert case.step("initial-test").stands(now) == initial
    assert not case.objections


@pytest.mark.parametrize(
    ("charged", "found"),
    [pytest.param("03-24", True, id="US-7.4"), pytest.param("03-26", False, id="US-7.4-after-the-test")],
)
def test_refrigerant_that_was_added_before_the_initial_test_is_found(charged, found):
    """(e)(1): with evacuation "before adding any refrigerant"."""
    events = [Event("repair", day("03-24"), evacuated=True), GOOD]
    (case,) = cases(unit("R-404A", lb(40), [OVER, added(charged, 1)], events), US, day("04-01"))
    assert [one.day == day(charged) and "before the initial" in one.sentence for one in case.objections] == [
        True
    ] * found


def test_a_good_follow_up_test_closes_the_repair_and_a_later_excess_opens_another_case():
    events = [
        Event("inspection", day("03-03")),
        Event("repair", day("03-20")),
        GOOD,
        Event("follow-up-test", day("04-04"), passed=True, all_leaks=True),
    ]
    it = unit("R-404A", lb(40), [OVER, added("06-01", 9)], events)
    first, second = cases(it, US, day("06-10"))
    assert [
        first.step(key).stands(day("06-10")) for key in ("inspection", "repair", "initial-test", "follow-up-test")
    ] == ["kept"] * 4
    assert (first.ended_on, second.step("repair").due) == (day("06-01"), day("07-01"))
    assert "was added on 2026-06-01" in first.step("presumed").note


# -- US-8: inspections afterwards ------------------------------------------------------------------------

FOLLOW_UP = [GOOD, Event("follow-up-test", day("04-04"), passed=True, all_leaks=True)]


def inspections_of(it: Appliance, today: str) -> list[dt.date]:
    return [one.due for case in cases(it, US, day(today)) for one in case.steps if one.key == "inspections"]


@pytest.mark.parametrize(
    ("full", "use", "due"),
    [
        pytest.param(600, "supermarket", ["07-04", "10-04", "2027-01-04", "2027-04-04"], id="US-8.1"),
        pytest.param(500, "supermarket", ["07-04", "10-04", "2027-01-04", "2027-04-04"], id="US-8.1-at-500"),
        pytest.param("499.99", "supermarket", ["2027-04-04"], id="US-8.1-below-500"),
        pytest.param(40, "walk-in", ["2027-04-04"], id="US-8.2"),
    ],
)
def test_inspections_of_hfc_appliances_count_from_the_follow_up_test(full, use, due):
    """84.106(g)(1)."""
    it = unit("R-448A", lb(full), [Visit(DAY, lb(full) // 4)], FOLLOW_UP, use=use)
    assert inspections_of(it, "05-01") == [day(one) for one in due]


@pytest.mark.parametrize(
    ("later", "due"),
    [
        pytest.param([], ["2026-12-31"], id="US-8.3"),
        pytest.param([added("09-01", 10)], ["2026-12-31", "2027-12-31"], id="US-8.3-over-again"),
    ],
)
def test_inspections_of_ozone_depleting_appliances_go_by_the_calendar_year(later, due):
    """82.157(g)(1): an R-22 chiller of 60 lb, over in March 2026; over again in 2026 after the repair."""
    it = unit("R-22", lb(60), [OVER, *later], FOLLOW_UP, equipment=CHILLER, use="chiller")
    assert inspections_of(it, "10-01") == [day(one) for one in due]


@pytest.mark.parametrize("case", [pytest.param(None, id="US-8.4")])
def test_without_a_good_follow_up_test_it_is_that_which_is_missing(case):
    it = unit("R-404A", lb(40), [OVER], [GOOD])
    assert inspections_of(it, "05-01") == []
    (found,) = cases(it, US, day("05-01"))
    assert found.step("follow-up-test").stands(day("05-01")) == "late"
    assert step_verdict(found.step("follow-up-test"), day("05-01")).is_breach


def test_an_inspection_is_kept_by_one_in_its_period_and_none_is_asked_with_detection():
    """(g)(4): not where an automatic system watches."""
    events = [Event("inspection", day("03-03")), *FOLLOW_UP, Event("inspection", day("07-01"))]
    it = unit("R-448A", lb(600), [Visit(DAY, lb(150))], events, use="supermarket")
    (case,) = cases(it, US, day("11-01"))
    stands = [one.stands(day("11-01")) for one in case.steps if one.key == "inspections"]
    assert stands == ["kept", "late", "open", "open"]
    watched = unit("R-448A", lb(600), [Visit(DAY, lb(150))], FOLLOW_UP, traits=["detection"])
    assert inspections_of(watched, "05-01") == []


def test_a_case_ends_a_year_after_the_follow_up_test_where_no_rate_was_over():
    it = unit("R-404A", lb(40), [OVER], FOLLOW_UP)
    (case,) = cases(it, US, day("2027-04-05"))
    assert case.ended_on == day("2027-04-04")
    assert (case.is_open(day("2027-04-03")), case.is_open(day("2027-04-04"))) == (True, False)
    assert "Nothing was added until 2027-04-04" in case.step("presumed").note


# -- US-9: what leaks very much in a calendar year -------------------------------------------------------


@pytest.mark.parametrize(
    ("visits", "percent"),
    [
        pytest.param([added("05-01", "20"), added("11-01", "30.0")], "125.00", id="US-9.1"),
        pytest.param([added("05-01", "20"), added("11-01", "29.9")], None, id="US-9.2"),
        pytest.param([added("12-10", 30), Visit(dt.date(2027, 1, 10), lb(30))], None, id="US-9.3"),
    ],
)
def test_what_leaks_125_percent_in_a_calendar_year_is_reported_by_1_march(visits, percent):
    """82.157(j), 84.106(j). Full charge 40 lb. 49.9 lb are 124.75 %."""
    found = chronic_years(unit("R-404A", lb(40), visits), US, day("2027-02-01"))
    assert [said_percent(one.percent) for one in found] == ([percent] if percent else [])
    assert [one.by for one in found] == [day("2027-03-01")] * len(found)
    for one in found:
        assert chronic_verdict(one, day("2027-03-01"), mass).answer == "due"
        assert chronic_verdict(one, day("2027-03-02"), mass).is_breach


def test_pounds_that_are_rounded_to_whole_mg_are_not_over_by_that():
    """10 lb are 4535924 mg, 50 lb 22679618: 20.0000016 % by the mg, and 20 % by what was weighed."""
    (one,) = judged(unit("R-404A", lb(50), [added("03-02", 10)]), US, DAY)
    assert one.rate.percent > 20 and one.over is False
    (one,) = judged(unit("R-404A", lb(50), [added("03-02", "10.00001")]), US, DAY)
    assert one.over is True


def test_a_report_that_was_sent_is_told():
    it = unit("R-404A", lb(40), [added("05-01", 60)], [Event("report-sent", day("2027-02-20"))])
    (one,) = chronic_years(it, US, day("2027-03-05"))
    assert one.sent and chronic_verdict(one, day("2027-03-05"), mass).answer == "met"


def test_a_report_is_of_one_year_alone():
    """84.106(j): each calendar year has its own report."""
    visits = [added("05-01", 60), Visit(dt.date(2027, 2, 1), lb(60))]
    it = unit("R-404A", lb(40), visits, [Event("report-sent", day("2027-02-15"))])
    first, second = chronic_years(it, US, day("2027-03-05"))
    assert (first.year, second.year) == (2026, 2027)
    assert first.sent and not second.sent
    assert chronic_verdict(second, day("2027-03-05"), mass).answer == "due"
    it = unit(
        "R-404A", lb(40), visits, [Event("report-sent", day("2027-02-15")), Event("report-sent", day("2028-01-15"))]
    )
    assert [one.sent.day.year for one in chronic_years(it, US, day("2028-03-05"))] == [2027, 2028]


def test_the_first_hfc_year_is_2026():
    it = unit("R-404A", lb(40), [Visit(dt.date(2025, 5, 1), lb(60))])
    assert chronic_years(it, US, day("2026-02-01")) == []
