"""Leak rates by both methods against `leak_math_cases.csv`: worked out from 40 CFR 82.152, "leak rate", exact
fractions."""

import csv
import datetime as dt
from fractions import Fraction
from pathlib import Path

import pytest

from jobs.leaks.leak_rate import Event, Visit, annualizing, history, rolling

FILE = Path(__file__).parent / "leak_math_cases.csv"


def rows() -> dict[str, dict[str, str]]:
    lines = [line for line in FILE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return {row["case"]: row for row in csv.DictReader(lines)}


ROWS = rows()
OURS = [name for name, row in ROWS.items() if row["status"].startswith("expected")]


def visits_of(row: dict[str, str]) -> list[Visit]:
    given = [part.strip().split(":") for part in row["additions"].split(";")]
    leak_from = row["same_leak_from"]
    found = [
        Visit(dt.date.fromisoformat(day), int(grams) * 1000, same_leak=bool(leak_from) and day > leak_from)
        for day, grams in given
    ]
    before = row["previous_addition_date"]
    if before and all(one.day.isoformat() != before for one in found):
        found.insert(0, Visit(dt.date.fromisoformat(before), 1000, why="installation"))
    return found


def rate_of(row: dict[str, str], events: list[Event]):
    known = history(visits_of(row), events)
    full, on = int(row["full_charge_g"]) * 1000, dt.date.fromisoformat(row["calculation_date"])
    here = [one for one in known.additions if one.day == on]
    if row["method"] == "annualizing":
        return annualizing(known, here[-1], full)
    return rolling(known, full, on, at=here[-1] if here else None)


def good_test(row: dict[str, str]) -> list[Event]:
    day = row["last_good_followup_test"]
    return [Event("follow-up-test", dt.date.fromisoformat(day), passed=True, all_leaks=True)] if day else []


def test_all_cases_are_here():
    assert len(ROWS) == 20 and len(OURS) == 19 and set(ROWS) - set(OURS) == {"A09"}


@pytest.mark.parametrize("name", OURS)
def test_a_leak_rate_is_that_fraction(name):
    row = ROWS[name]
    rate = rate_of(row, good_test(row))
    assert rate.percent == Fraction(row["exact_percent_fraction"])
    assert f"{float(rate.percent):.4f}" == row["leak_rate_percent_4dp"]
    assert rate.added_mg == int(row["numerator_g"]) * 1000
    assert rate.days == int(row["days_used"])
    if row["days_elapsed"]:
        assert rate.elapsed == int(row["days_elapsed"])
    for limit in (10, 20, 30):
        assert str(rate.over(limit)) == row[f"over_{limit}"]


def test_the_other_reading_of_one_leak_never_comes_out():
    """A08 and A09 tell the same facts. 10 days instead of 190 would be 19 times as much."""
    rate = rate_of(ROWS["A08"], [])
    assert rate.percent == rate_of(ROWS["A09"], []).percent == Fraction(365, 38)
    assert rate.percent != Fraction(ROWS["A09"]["exact_percent_fraction"])
    assert any("the text does not say which day counts" in one for one in rate.readings), "a reading had to be chosen"


@pytest.mark.parametrize(
    ("added_at", "tested_at", "percent"),
    [
        ("08:00", "14:00", Fraction(15, 4)),
        ("14:00", "08:00", Fraction(35, 4)),
        (None, "08:00", Fraction(15, 4)),
        ("14:00", None, Fraction(15, 4)),
    ],
)
def test_an_addition_on_the_day_of_the_good_test(added_at, tested_at, percent):
    """R06: before the test, or nobody said when: it does not count; made after it, it does (2000 g more of 40000 g)."""
    row = ROWS["R06"]

    def at(text):
        return text and dt.datetime.fromisoformat(f"2026-03-01T{text}:00+00:00")

    first, *rest = visits_of(row)
    visits = [Visit(first.day, first.charged, at=at(added_at)), *rest]
    tested = Event("follow-up-test", first.day, at=at(tested_at), passed=True, all_leaks=True)
    known = history(visits, [tested])
    rate = rolling(known, 40_000_000, dt.date(2026, 5, 30), at=known.additions[-1])
    assert rate.percent == percent
    assert any("the text is silent about that day" in one for one in rate.readings)
