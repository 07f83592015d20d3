"""Leak rates against the formulas of 40 CFR 82.152, and what counts as an addition, 82.157(b), at each boundary.

The regulation prints no worked figures; those here are worked out from its formulas.
"""

import datetime as dt
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.leaks.case_clock import Stop, counted
from jobs.leaks.leak_rate import (
    Event,
    Visit,
    annualizing,
    full_charge_of_range,
    history,
    lost_in,
    reaches,
    rolling,
    said_percent,
)
from jobs.leaks.seasonal import Removed, made_good

DAY = dt.date(2026, 3, 2)


def lb(pounds):
    return int(Decimal(str(pounds)) * 1_000_000)  # any unit: rates are ratios


def ago(days, pounds, **more):
    return Visit(DAY - dt.timedelta(days=days), lb(pounds), **more)


# 40 CFR 82.152, "leak rate", annualizing: added, full charge, days since the last addition; percent a year.
@pytest.mark.parametrize(
    ("added", "full", "days", "percent", "over_10", "over_20"),
    [
        (5, 100, 180, "10.1389", True, False),
        (10, 100, 180, "20.2778", True, True),
        (2, 15, 400, "13.3333", True, False),  # never more than 365 days
        (3, 20, 30, "182.5000", True, True),  # more than all of it in a year
        (1.5, 15, 365, "10.0000", False, False),  # the limit itself is not over it
        (1.5, 15, 364, "10.0275", True, False),
        (4, 50, 146, "20.0000", True, False),
    ],
)
def test_annualizing(added, full, days, percent, over_10, over_20):
    known = history([ago(days, 1), ago(0, added)])
    rate = annualizing(known, known.additions[-1], lb(full))
    assert f"{float(rate.percent):.4f}" == percent
    assert (rate.over(10), rate.over(20)) == (over_10, over_20)


def test_the_days_count_from_whatever_was_added_last():
    """82.152: "days since the last day refrigerant was added", an installation too."""
    known = history([ago(100, 50, why="installation"), ago(0, 1)])
    assert annualizing(known, known.additions[-1], lb(50)).days == 100


# 40 CFR 82.152, "leak rate", rolling average.
def test_rolling_adds_up_a_year():
    rate = rolling(history([ago(300, 3), ago(200, 4), ago(0, 5)]), lb(60), DAY)
    assert rate.percent == 20 and not rate.over(20)
    assert f"{float(rolling(history([ago(90, 2), ago(1, 1.25)]), lb(15), DAY).percent):.4f}" == "21.6667"


@pytest.mark.parametrize(("days", "percent"), [(364, 5), (365, 0), (366, 0)])
def test_rolling_looks_back_365_days(days, percent):
    assert rolling(history([ago(days, 5)]), lb(100), DAY).percent == percent


@pytest.mark.parametrize(
    ("event", "percent"),
    [
        ({"kind": "follow-up-test", "passed": True, "all_leaks": True}, 2),
        ({"kind": "follow-up-test", "passed": True}, 14),
        ({"kind": "follow-up-test", "passed": False, "all_leaks": True}, 14),
        ({"kind": "initial-test", "passed": True, "all_leaks": True}, 14),
        ({"kind": "inspection"}, 14),
    ],
)
def test_only_a_good_follow_up_test_of_all_leaks_begins_the_sum_anew(event, percent):
    known = history([ago(120, 6), ago(10, 1)], [Event(day=DAY - dt.timedelta(days=90), **event)])
    assert rolling(known, lb(50), DAY).percent == percent


def test_a_retrofit_begins_the_sum_anew():
    """Our reading: what was in it before was another refrigerant."""
    known = history([ago(120, 6), ago(90, 50, why="retrofit"), ago(10, 1)])
    rate = rolling(known, lb(50), DAY)
    assert rate.percent == 2 and any("before the retrofit" in one for one in rate.readings)


def test_an_established_range_counts_by_its_midpoint():
    """82.152, "full charge" (4); 82.157(a) then reaches appliances of 50 lb and more."""
    assert full_charge_of_range(lb(40), lb(60)) == lb(50)


@pytest.mark.parametrize(("lost", "reported"), [("62.4", False), ("62.5", True), ("62.6", True)])
def test_a_chronic_leaker_is_reported_from_125_percent_on(lost, reported):
    """82.157(j)."""
    assert reaches(lb(lost), 1, lb(50), 125) is reported


def test_what_was_lost_in_a_calendar_year():
    known = history([Visit(dt.date(2025, 12, 31), lb(1)), Visit(dt.date(2026, 1, 1), lb(2)), ago(0, 3)])
    assert (lost_in(known, 2025), lost_in(known, 2026)) == (lb(1), lb(5))


@pytest.mark.parametrize(
    ("same", "amount", "days"),
    [((False, False), 3, 10), ((False, True), 5, 180), ((True, True), 9, 365)],
)
def test_topping_up_the_same_leak_is_one_loss_where_the_job_says_so(same, amount, days):
    """82.152: "multiple additions related to same leak"; nothing is inferred from the days between them."""
    known = history([ago(180, 4), ago(10, 2, same_leak=same[0]), ago(0, 3, same_leak=same[1])])
    rate = annualizing(known, known.additions[-1], lb(50))
    assert (rate.added_mg, rate.days) == (lb(amount), days)


def test_two_additions_on_one_day_are_added_up():
    known = history([ago(100, 4), ago(0, 2), ago(0, 3)])
    rate = annualizing(known, known.additions[-1], lb(50))
    assert (rate.added_mg, rate.days) == (lb(5), 100)


# 82.152, "seasonal variance": at most what was taken out, within one consecutive 12-month period.
@pytest.mark.parametrize(
    ("removed_days_ago", "added", "holds"),
    [(150, 7.9, True), (150, 8, True), (150, 8.1, False), (365, 8, False), (364, 8, True)],
)
def test_seasonal_variance_gives_back_no_more_than_was_taken_out(removed_days_ago, added, holds):
    removed = [Removed(DAY - dt.timedelta(days=removed_days_ago), lb(8))]
    assert made_good(removed, DAY, lb(added)).holds is holds


def test_what_was_put_back_is_used_up():
    found = made_good([Removed(DAY - dt.timedelta(days=100), lb(8))], DAY, lb(5))
    assert found.left == [Removed(DAY - dt.timedelta(days=100), lb(3))]
    assert not made_good(found.left, DAY, lb(4)).holds
    assert made_good(found.left, DAY, lb(3)).holds


@pytest.mark.parametrize(
    ("days", "stops", "last"),
    [
        (30, [], "2026-04-01"),
        (120, [], "2026-06-30"),
        (30, [("2026-03-10", "2026-05-10")], "2026-06-01"),  # 82.157(d)(3): 22 days are left
        (30, [("2026-03-10", "2026-05-10"), ("2026-05-20", "2026-05-30")], "2026-06-11"),
        (30, [("2026-03-10", None)], None),
        (30, [("2026-04-01", None)], "2026-04-01"),  # its last day was over
    ],
)
def test_days_are_counted_without_those_on_which_the_clock_stands(days, stops, last):
    found = [Stop(dt.date.fromisoformat(one), then and dt.date.fromisoformat(then)) for one, then in stops]
    assert counted(DAY, days, tuple(found)) == (last and dt.date.fromisoformat(last))


@pytest.mark.parametrize("full", [0, -1])
def test_what_cannot_be_worked_out_is_refused(full):
    known = history([ago(0, 1)])
    for work in (lambda: annualizing(known, known.additions[0], full), lambda: rolling(known, full, DAY)):
        with pytest.raises(ValueError, match="not above zero"):
            work()


@given(st.integers(1, 10**9), st.integers(1, 10**9), st.integers(1, 2000))
def test_both_methods_agree_on_one_addition_a_year(added, full, days):
    known = history([Visit(DAY - dt.timedelta(days=365), 1, why="installation"), Visit(DAY, added)])
    assert annualizing(known, known.additions[0], full).percent == rolling(known, full, DAY).percent
    known = history([Visit(DAY - dt.timedelta(days=days), 1, why="installation"), Visit(DAY, added)])
    assert annualizing(known, known.additions[0], full).percent >= Fraction(added * 100, full)


# What counts as an addition: 82.157(b) leaves out what a job marks as right after an installation or a retrofit.
@pytest.mark.parametrize(
    ("visits", "additions"),
    [
        ([ago(0, 50)], [(0, 50)]),  # no mark: it counts, however much it is
        ([ago(0, 50, why="installation")], []),
        ([ago(0, 50, why="leak")], [(0, 50)]),
        ([ago(0, 50, recovered=lb(1))], [(0, 49)]),  # what came out on the visit is put back
        ([ago(0, 40, recovered=lb(40)), ago(30, 0, recovered=lb(12))], []),
        ([ago(30, 0, recovered=lb(48)), ago(28, 50)], [(28, 50)]),  # another visit: the text knows no pair of them
        ([ago(30, 50, recovered=lb(12), why="retrofit")], []),
        ([ago(200, 0, recovered=lb(8), out_why="seasonal"), ago(0, 8, why="seasonal")], []),
        ([ago(200, 0, recovered=lb(8), out_why="seasonal"), ago(0, 8)], [(0, 8)]),
        ([ago(200, 0, recovered=lb(8)), ago(0, 8, why="seasonal")], [(0, 8)]),
        ([], []),
    ],
)
def test_what_counts_as_made_up_for_a_loss(visits, additions):
    made = history(visits)
    assert [((DAY - one.day).days, one.mg) for one in made.additions] == [(n, lb(pounds)) for n, pounds in additions]


@pytest.mark.parametrize(
    ("percent", "over", "shown"),
    [
        (Fraction(20), (20, False), "20.00"),
        (Fraction(200001, 10000), (20, True), "20.0001"),
        (Fraction(199999, 10000), (20, False), "20.00"),
        (Fraction(1825, 182), None, "10.03"),
    ],
)
def test_a_rate_is_shown_by_two_decimals_and_never_as_the_limit_that_it_is_over(percent, over, shown):
    assert said_percent(percent, over) == shown
