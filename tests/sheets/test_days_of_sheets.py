"""Days of a sheet: dots mean that the day is first, unless its column shows otherwise; a year that is not there is
asked for once."""

import datetime as dt

import pytest

from shopledger.sheet_meaning.values import Unread, Yearless, days
from shopledger.sheets.grid import TEXT, Cell
from tests.sheets.test_other_habits import asked, planned, rows

HEAD = "Supplier;Date;Code;Gas;Type;Net\n"


def sheet(*said, title=""):
    return title + HEAD + "".join(f"Acme;{day};C-{n};R-134a;can;340 g\n" for n, day in enumerate(said))


def read(text, answers=()):
    """The days of a plan's deliveries, and what it asks of days."""
    plan = planned(text, "deliveries", answers)
    own = [one for one in asked(plan) if one.split(":")[0] in {"order", "year"}]
    return [day for (day,) in rows(plan, "receipts.csv", "date")], own, [str(one) for one in plan.faults]


def test_dots_mean_that_the_day_is_first():
    assert read(sheet("04.05.2026", "02.06.2026")) == (["2026-05-04", "2026-06-02"], [], [])


def test_unless_the_column_shows_otherwise():
    assert read(sheet("04.05.2026", "05.28.2026")) == (["2026-04-05", "2026-05-28"], [], [])


@pytest.mark.parametrize("other", ["03/02/2026", "3-2-2026"])
def test_other_marks_are_asked_about_and_so_are_dots_among_them(other):
    assert read(sheet("04.05.2026", other))[1] == ["order:date"]


def test_dots_that_show_both_are_asked_about():
    assert read(sheet("04.05.2026", "28.05.2026", "05.27.2026"))[1] == ["order:date"]


def test_days_without_a_year_are_asked_about_once():
    text = sheet("04.05.", "28.5.", "2 June", title="Deliveries 2025\n\n")
    plan = planned(text, "deliveries")
    question = asked(plan)["year:date"]
    assert question.suggested == "2025" and [key for key, _ in question.choices] == ["2025", "2026", "2024", "2023"]
    assert not plan.faults and len(question.places) == 3 and not question.lasting
    assert read(text, {"year:date": "2025"})[0] == ["2025-05-04", "2025-05-28", "2025-06-02"]


def test_without_a_title_this_year_is_likely_and_slashes_are_asked_about():
    text = sheet("4/5", "5/6")
    assert asked(planned(text, "deliveries"))["year:date"].suggested == "2026"
    assert read(text, {"year:date": "2026"})[1:] == (["order:date"], [])
    assert read(text, {"year:date": "2026", "order:date": "month"})[0] == ["2026-04-05", "2026-05-06"]


@pytest.mark.parametrize("turn", [list, lambda said: said[::-1]])
def test_days_that_run_over_a_new_year_are_no_days_of_one(turn):
    said = turn(["20.11.", "28.11.", "19.12.", "07.01.", "15.01."])
    days_read, _, faults = read(sheet(*said), {"year:date": "2026"})
    assert not days_read and len(faults) == 5 and "run over the end of one" in faults[0]


def test_a_day_without_a_year_is_one_of_the_calendar():
    for text in ("31.02.", "30/2", "13/13", "0.5", "12 gadgets", "1/2/3"):
        with pytest.raises(Unread) as refused:
            days(Cell(text, TEXT), dt.date(2026, 7, 1), 2026)
        assert not isinstance(refused.value, Yearless), text
    with pytest.raises(Yearless):
        days(Cell("4.5.", TEXT), dt.date(2026, 7, 1))
