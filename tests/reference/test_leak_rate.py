"""Leak rates against the formulas of 40 CFR 82.152 and the limits of 82.157, at each boundary.

The regulation prints no worked figures; those here are worked out from its formulas.
"""

import datetime as dt
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.leaks.leak_rate import (
    Addition,
    Service,
    annualizing,
    chronic,
    deadlines,
    full_charge_of_range,
    history,
    over,
    rolling,
    same_leak,
    seasonal_variance,
)

DAY = dt.date(2026, 3, 2)


def lb(pounds):
    return int(Decimal(str(pounds)) * 1_000_000)  # any unit: rates are ratios


def ago(days, pounds):
    return Addition(DAY - dt.timedelta(days=days), lb(pounds))


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
    rate = annualizing(lb(added), lb(full), days)
    assert f"{float(rate):.4f}" == percent
    assert (over(rate, 10), over(rate, 20)) == (over_10, over_20)


# 40 CFR 82.152, "leak rate", rolling average.
def test_rolling_adds_up_a_year():
    rate = rolling([ago(300, 3), ago(200, 4), ago(0, 5)], lb(60), DAY)
    assert rate == 20 and not over(rate, 20)
    assert f"{float(rolling([ago(90, 2), ago(1, 1.25)], lb(15), DAY)):.4f}" == "21.6667"


@pytest.mark.parametrize(("days", "percent"), [(364, 5), (365, 0), (366, 0)])
def test_rolling_looks_back_365_days(days, percent):
    assert rolling([ago(days, 5)], lb(100), DAY) == percent


def test_a_good_follow_up_test_begins_the_sum_anew():
    additions = [ago(120, 6), ago(10, 1)]
    assert rolling(additions, lb(50), DAY, repaired_on=DAY - dt.timedelta(days=90)) == 2
    assert rolling(additions, lb(50), DAY) == 14


def test_an_established_range_counts_by_its_midpoint():
    """82.152, "full charge" (4); 82.157(a) then reaches appliances of 50 lb and more."""
    assert full_charge_of_range(lb(40), lb(60)) == lb(50)


@pytest.mark.parametrize(("lost", "reported"), [("62.4", False), ("62.5", True), ("62.6", True)])
def test_a_chronic_leaker_is_reported_from_125_percent_on(lost, reported):
    """82.157(j)."""
    assert chronic(lb(lost), lb(50)) is reported


def test_topping_up_the_same_leak_twice_is_one_loss():
    """The days are a reading of the rule, stated with the function."""
    first, second = ago(10, 2), ago(0, 3)
    assert same_leak([ago(180, 4), first, second]) == [ago(180, 4), Addition(DAY, lb(5))]
    assert same_leak([ago(31, 2), second]) == [ago(31, 2), second]


@pytest.mark.parametrize(("added", "seasonal"), [(7.9, True), (8, True), (8.1, False), (9, False)])
def test_seasonal_variance_gives_back_no_more_than_was_taken_out(added, seasonal):
    """82.152, "seasonal variance"."""
    assert seasonal_variance(lb(8), lb(added)) is seasonal


def test_days_to_repair_and_to_test_again():
    """82.157(d) 30 days, (e) 10 days after a good first test."""
    assert deadlines(DAY).repair_by == dt.date(2026, 4, 1)
    assert deadlines(DAY, tested_on=dt.date(2026, 3, 20)).follow_up_by == dt.date(2026, 3, 30)


@pytest.mark.parametrize(("full", "days"), [(0, 10), (-1, 10), (100, 0), (100, -3)])
def test_what_cannot_be_worked_out_is_refused(full, days):
    with pytest.raises(ValueError, match="not above zero|At least a day"):
        annualizing(1, full, days)


@given(st.integers(1, 10**9), st.integers(1, 10**9), st.integers(1, 2000))
def test_both_methods_agree_on_one_addition_a_year(added, full, days):
    assert annualizing(added, full, 365) == rolling([Addition(DAY, added)], full, DAY)
    assert annualizing(added, full, days) >= Fraction(added * 100, full)


# What counts as lost: 40 CFR 82.157(b) leaves out a new installation; from which share of the full charge on a first
# charge is one is a reading of our own (90 %).
@pytest.mark.parametrize(
    ("services", "additions", "tight"),
    [
        ([(0, 45, 0, False)], [], None),  # 90 % of the full charge into a unit that is new to the shop
        ([(0, 44.9, 0, False)], [(0, 44.9)], None),
        ([(0, 50, 1, False)], [(0, 49)], None),  # something came out first: it was there before
        ([(0, 50, 0, False), (30, 50, 0, False)], [(30, 50)], None),  # only the first
        ([(0, 50, 0, False), (30, 48, 40, False)], [(30, 8)], None),  # as far as more went in than came out
        ([(0, 40, 40, True), (30, 0, 12, False)], [], 0),
        ([(0, 6, 0, False), (100, 0, 0, True), (190, 1, 0, False)], [(0, 6), (190, 1)], 100),
        ([(0, 50, 0, False), (100, 0, 48, False), (102, 50, 0, False)], [(102, 2)], None),  # a repair over two visits
        ([(0, 50, 0, False), (9, 0, 48, False), (10, 40, 0, False), (20, 10, 0, False)], [(20, 2)], None),
        ([(0, 0, 0, True), (1, 50, 0, False)], [], 0),  # only looked at before it was charged
        ([], [], None),
    ],
)
def test_what_counts_as_made_up_for_a_loss(services, additions, tight):
    def day(number):
        return DAY + dt.timedelta(days=number)

    given = [Service(day(n), lb(charged), lb(out), found) for n, charged, out, found in services]
    made = history(given, lb(50))
    assert [(one.day, one.mg) for one in made.additions] == [(day(n), lb(pounds)) for n, pounds in additions]
    assert made.tight_on == (None if tight is None else day(tight))


def test_the_rate_counts_from_the_last_check_that_found_no_leak():
    """6 lb before the check, 1 lb after it, full charge 50 lb: 2 %."""
    given = [(0, 6, False), (100, 0, True), (190, 1, False)]
    made = history([Service(DAY + dt.timedelta(n), lb(pounds), 0, tight) for n, pounds, tight in given], lb(50))
    assert made.rate(lb(50), DAY + dt.timedelta(190)) == 2


@pytest.mark.parametrize(
    ("services", "over_on"),
    [
        ([(0, 5, False)], None),  # 10 % of 50 lb: the limit itself is not over it
        ([(0, 5.01, False)], 0),
        ([(0, 5.01, True)], 0),  # worked out when refrigerant is added, before the check of that day
        ([(0, 5.01, False), (30, 0, True), (60, 5, False)], 0),  # since the check only 5 lb
        ([(0, 5.01, False), (364, 1, False)], 364),  # both within 365 days
        ([(0, 5.01, False), (365, 1, False)], 0),
        ([], None),
    ],
)
def test_the_last_day_on_which_the_rate_was_over(services, over_on):
    """Limit 10 %, 82.157(c); worked out each time refrigerant is added, 82.157(b)."""
    given = [Service(DAY + dt.timedelta(n), lb(pounds), 0, tight) for n, pounds, tight in services]
    found = history(given, lb(50)).last_over(lb(50), 10)
    assert found == (None if over_on is None else DAY + dt.timedelta(over_on))
