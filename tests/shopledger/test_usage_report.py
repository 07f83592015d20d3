"""The usage report: every column worked by hand, its splits, its faces, and seals."""

import csv
import datetime as dt
import html
import io
import json
import re

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from pypdf import PdfReader

from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.accounts import Spot, Transfer
from inventory.ledger.actions import Draft, writing
from inventory.ledger.models import Substance
from inventory.ledger.queries import TOTALS
from inventory.ledger.seals import seal
from inventory.measures.quantity import NARROW
from inventory.shop.models import Shop
from shopledger.reporting.output import as_csv, as_json, as_pdf, as_xlsx, bands, make, widened
from shopledger.reporting.report import Column, Period, Report, ReportTable
from shopledger.reports import behind
from shopledger.reports.registry import REPORTS
from shopledger.reports.usage import IN, KEYS, OUT, columns_of, rows

pytestmark = pytest.mark.django_db
JANUARY = Period(dt.date(2026, 1, 1), dt.date(2026, 1, 31))
FEBRUARY = Period(dt.date(2026, 2, 1), dt.date(2026, 2, 28))
WHOLE = Period(dt.date(2026, 1, 1), dt.date(2026, 12, 31))


def can(name="C1", location="Store", grade="virgin", substance="R-134a"):
    return Spot(substance, A.CONTAINER, name, location, grade)


def other(cls, name="", substance="R-134a"):
    return Spot(substance, cls, name)


def post(day, *transfers, by="tess", kind="job"):
    with writing() as ledger:
        return ledger.post(Draft(kind, day, "test", tuple(transfers), by))


def reverse(number, day):
    with writing() as ledger:
        return ledger.post(ledger.reversal_of(number, day=day, recorded_by="test", note="wrong"))


@pytest.fixture
def year():
    """Opening 40,000 g on 5 January; then 1 g, 2 g, 4 g ... through every column, so that no two can be mixed up."""
    day = dt.date(2026, 1, 5)
    post(day, Transfer(other(A.OPENING), can(), 40_000_000), by="", kind="opening")
    quantity = 1000
    for cls in IN.values():
        post(day + dt.timedelta(1), Transfer(other(cls, "x"), can(), quantity), by="tess")
        quantity *= 2
    for cls in OUT.values():
        post(day + dt.timedelta(2), Transfer(can(), other(cls, "x"), quantity), by="mara")
        quantity *= 2


def figures(period=JANUARY, key=None):
    sheet = rows(period, key)
    names = [column.name for column in sheet.columns]
    return [dict(zip(names, row, strict=True)) for row in sheet.said()]


def test_every_movement_has_its_column(year):
    (row,) = figures()
    expected = {
        "substance": "R-134a",
        "unit": "g",
        "opening": "40000.000",
        "received": "1.000",
        "recovered": "2.000",
        "weighing_difference": "4.000",
        "unexplained_gain": "8.000",
        "reclassified_in": "16.000",
        "charged": "32.000",
        "sold": "64.000",
        "line_loss": "128.000",
        "heel_loss": "256.000",
        "other_loss": "512.000",
        "returned": "1024.000",
        "reclaimed": "2048.000",
        "destroyed": "4096.000",
        "unexplained_loss": "8192.000",
        "reclassified_out": "16384.000",
    }
    expected["closing"] = "7295.000"  # 40,000 + 31 - 32,736
    assert row == expected


def test_a_weighing_difference_is_signed(year):
    post(dt.date(2026, 1, 20), Transfer(can(), other(A.WEIGHING_DIFFERENCE), 9_000))
    assert figures()[0]["weighing_difference"] == "-5.000"


def test_a_reversal_counts_where_what_it_reverses_counted_on_its_own_day():
    number = post(dt.date(2026, 1, 5), Transfer(other(A.SUPPLIER, "x"), can(), 500_000), kind="receipt")
    reverse(number, dt.date(2026, 2, 3))
    january, february = figures(JANUARY)[0], figures(FEBRUARY)[0]
    assert (january["received"], january["returned"], january["closing"]) == ("500.000", "0.000", "500.000")
    assert (february["received"], february["returned"], february["closing"]) == ("-500.000", "0.000", "0.000")
    assert figures(WHOLE)[0]["received"] == "0.000"


def test_opening_stock_dated_inside_the_period_counts_as_opening(year):
    assert figures(Period(dt.date(2026, 1, 5), dt.date(2026, 1, 5)))[0]["opening"] == "40000.000"
    assert figures(Period(dt.date(2026, 1, 1), dt.date(2026, 1, 4))) == []
    assert figures(FEBRUARY)[0]["opening"] == "7295.000"


def test_refrigerants_come_first_then_oils_each_in_plain_order():
    day = dt.date(2026, 1, 5)
    for substance in ("PAG 46", "R-32", "R-134a", "POE 68", "R-1234yf", "PAG 100"):
        post(day, Transfer(other(A.OPENING, "", substance), can("C", "S", "", substance), 1000), kind="opening")
    assert [(row["substance"], row["unit"]) for row in figures()] == [
        ("R-1234yf", "g"),
        ("R-134a", "g"),
        ("R-32", "g"),
        ("PAG 100", "mL"),
        ("PAG 46", "mL"),
        ("POE 68", "mL"),
    ]


def test_moves_between_places_and_grades_show_only_where_they_are_split(year):
    post(dt.date(2026, 1, 10), Transfer(can(), can(location="Van"), 700_000), kind="move")
    post(
        dt.date(2026, 1, 11),
        Transfer(can(location="Van"), can(location="Van", grade="recycled"), 200_000),
        kind="regrade",
    )
    assert figures()[0]["closing"] == "7295.000"
    by_place = {row["location"]: row for row in figures(key="location")}
    assert (by_place["Store"]["transferred_out"], by_place["Van"]["transferred_in"]) == ("700.000", "700.000")
    assert (by_place["Van"]["transferred_out"], by_place["Van"]["closing"]) == ("0.000", "700.000")
    by_grade = {row["grade"]: row for row in figures(key="grade")}
    assert (by_grade["virgin"]["transferred_out"], by_grade["recycled"]["closing"]) == ("200.000", "200.000")
    names = [column.name for column in rows(JANUARY, "location").columns]
    assert names[2] == "location" and names[-3:] == ["transferred_in", "transferred_out", "closing"]


def test_a_move_taken_back_counts_negative_in_the_same_columns():
    post(dt.date(2026, 1, 5), Transfer(other(A.OPENING), can(), 1000), kind="opening")
    number = post(dt.date(2026, 1, 6), Transfer(can(), can(location="Van"), 1000), kind="move")
    reverse(number, dt.date(2026, 1, 7))
    store, van = figures(key="location")
    assert (store["transferred_in"], store["transferred_out"], store["closing"]) == ("0.000", "0.000", "1.000")
    assert (van["transferred_in"], van["transferred_out"], van["closing"]) == ("0.000", "0.000", "0.000")


def test_by_technician_leaves_opening_and_closing_blank(year):
    mara, tess = figures(key="technician")
    assert (mara["technician"], mara["charged"], mara["received"]) == ("mara", "32.000", "0.000")
    assert (tess["technician"], tess["opening"], tess["closing"]) == ("tess", "", "")


def test_each_month_opens_as_the_one_before_closed(year):
    post(dt.date(2026, 3, 2), Transfer(can(), other(A.UNIT, "u"), 79_000))
    months = figures(Period(dt.date(2026, 1, 15), dt.date(2026, 3, 15)), "month")
    assert [(m["month"], m["opening"], m["charged"], m["closing"]) for m in months] == [
        ("2026-01", "7295.000", "0.000", "7295.000"),
        ("2026-02", "7295.000", "0.000", "7295.000"),
        ("2026-03", "7295.000", "79.000", "7216.000"),
    ]


steps = st.lists(
    st.tuples(
        st.integers(0, 89),
        st.sampled_from([*IN.values(), *OUT.values(), A.CONTAINER]),
        st.integers(1, 500),
        st.sampled_from(["Store", "Van"]),
        st.sampled_from(["virgin", "recycled"]),
        st.booleans(),
    ),
    max_size=25,
)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps)
def test_the_splits_add_up_to_the_whole_whatever_happens(db, events):
    from django.db import transaction

    with transaction.atomic():
        first = dt.date(2026, 1, 1)
        for location in ("Store", "Van"):
            for grade in ("virgin", "recycled"):
                spot = can("C", location, grade)
                post(first, Transfer(other(A.OPENING), spot, 10_000), kind="opening")
        numbers = []
        for offset, cls, quantity, location, grade, back in events:
            day, spot = first + dt.timedelta(offset), can("C", location, grade)
            if back and numbers:
                number, then = numbers.pop()
                reverse(number, max(day, then))
                continue
            if cls == A.CONTAINER:
                target = can("C", "Van" if location == "Store" else "Store", grade)
                transfer = Transfer(spot, target, quantity)
            elif cls in IN.values():
                transfer = Transfer(other(cls, "x"), spot, quantity)
            else:
                transfer = Transfer(spot, other(cls, "x"), quantity)
            try:
                numbers.append((post(day, transfer), day))
            except Exception:  # noqa: BLE001 (a posting that would go below zero on a day is refused)
                transaction.set_rollback(False)
        period = Period(dt.date(2026, 1, 20), dt.date(2026, 2, 20))
        (whole,) = rows(period).rows
        names = [column.name for column in rows(period).columns]
        for key in ("location", "grade", "technician", "month"):
            split = rows(period, key)
            columns = [column.name for column in split.columns]
            for name in (*IN, *OUT):
                total = sum(row[columns.index(name)] for row in split.rows)
                assert total == whole[names.index(name)], (key, name)
        transaction.set_rollback(True)


# -- faces ---------------------------------------------------------------------------------------


@pytest.fixture
def made(year, shop):
    return make(REPORTS["usage"], JANUARY, None, "Olive Test", drawn=True)


def test_csv_json_and_xlsx_say_the_same(made):
    table = list(csv.DictReader(io.StringIO(as_csv(made).decode())))
    said = json.loads(as_json(made))
    assert said["rows"] == table
    assert said["head"]["digest"] == made.digest
    sheet = load_workbook(io.BytesIO(as_xlsx(made)))["Usage"]
    assert sheet["C2"].value == 40000 and sheet["A2"].value == "R-134a"


def test_an_empty_ledger_prints_the_header_alone(shop):
    empty = make(REPORTS["usage"], JANUARY, None, "x", drawn=True)
    assert as_csv(empty).decode().count("\n") == 1
    assert "holds nothing" in PdfReader(io.BytesIO(as_pdf(empty))).pages[0].extract_text()


def test_the_pdf_carries_what_an_inspector_asks_for(made):
    Shop.objects.update(name="Žižka & <b>Söhne</b> ₂", rulebook="generic")
    reader = PdfReader(io.BytesIO(as_pdf(make(REPORTS["usage"], JANUARY, None, "Olive Test", drawn=True))))
    page = reader.pages[0].extract_text()
    for words in (
        "Žižka & <b>Söhne</b> ₂",
        "1 Test Street",
        "2026-01-01 to 2026-01-31",
        "by Olive Test",
        "page 1 of 2",
        "Common practice (2026-11-29)",
        made.digest,
        "Do not vent",
        "Local rules and licensed practice come first.",
        f"7{NARROW}295.000",
    ):
        assert words in page, words
    assert as_pdf(made) == as_pdf(made)


def test_no_figure_is_cut_however_many_columns_there_are():
    names = [f"quantity {i}" for i in range(17)]
    columns = [Column("substance", "Substance"), Column("unit", "Unit")]
    columns += [Column(name, name.capitalize(), "quantity") for name in names]
    row = ("R-134a", "g", *(123_456_789_012_000 + i for i in range(17)))
    report = Report("usage", "Usage", lambda period, key: ReportTable(columns, [row]))
    page = PdfReader(io.BytesIO(as_pdf(make(report, JANUARY, None, "x", drawn=True)))).pages[0].extract_text()
    assert [f"123 456 789 012.{i:03d}".replace(" ", NARROW) in page for i in range(17)] == [True] * 17
    assert page.count("R-134a") > 1  # each further table says whose row it is


@pytest.mark.parametrize(
    ("needs", "width", "tables"),
    [
        ([10, 10, 10], 30, [[0, 1, 2]]),
        ([10, 10, 11], 30, [[0, 1], [0, 2]]),
        ([10, 50, 50], 30, [[0, 1], [0, 2]]),  # one that is too wide by itself is there all the same
        ([10], 30, [[0]]),
    ],
)
def test_columns_that_do_not_fit_go_into_a_further_table(needs, width, tables):
    assert bands(list(range(len(needs))), dict(enumerate(needs)), width, [0]) == tables


def test_what_is_left_of_the_width_goes_to_the_columns_that_want_more():
    assert widened([10, 10], [30, 10], 30) == [20, 10]
    assert sum(widened([10, 10], [20, 10], 100)) == 100


# -- the command and the page ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["usage", "--from", "2026-01-01", "--to", "2026-01-31", "--format", "doc"], "is no format"),
        (["nonsense", "--from", "2026-01-01", "--to", "2026-01-31", "--format", "csv"], "There is no report"),
        (["usage", "--from", "2026-01-31", "--to", "2026-01-01", "--format", "csv"], "ends (2026-01-01) before"),
        (["usage", "--from", "2026-01-01", "--to", "2026-01-31", "--by", "moon", "--format", "csv"], "cannot be split"),
    ],
)
def test_a_wrong_call_ends_with_2(arguments, said):
    with pytest.raises(CommandError) as refused:
        call_command("report", *arguments)
    assert refused.value.returncode == 2 and said in str(refused.value)


def test_the_command_writes_a_file(year, tmp_path, shop):
    path = tmp_path / "usage.csv"
    call_command(
        "report",
        "usage",
        "--from",
        "2026-01-01",
        "--to",
        "2026-01-31",
        "--format",
        "csv",
        "--output",
        str(path),
        stdout=io.StringIO(),
    )
    assert path.read_text().splitlines()[1].startswith("R-134a,g,40000.000,1.000")


def test_the_page_shows_it_and_each_figure_opens_its_movements(year, shop, office_client, technician_client):
    address = "/reports/usage/?first=2026-01-01&last=2026-01-31"
    page = office_client.get(address).content.decode()
    assert "7\u202f295 g" in page
    behind = office_client.get(address.replace("usage/", "usage/movements/") + "&substance=R-134a&column=charged")
    assert "32 g" in behind.content.decode()
    for kind in ("csv", "xlsx", "json", "pdf"):
        assert office_client.get(f"{address}&format={kind}").status_code == 200
    assert office_client.get("/reports/usage/?first=2026-01-31&last=2026-01-01").status_code == 422
    assert office_client.get("/reports/nonsense/").status_code == 404
    assert technician_client.get("/reports/").status_code == 403


# -- seals and the plan ----------------------------------------------------------------------------


def test_a_sealed_period_reads_the_same(year):
    before = [figures(period, key) for period in (JANUARY, FEBRUARY) for key in (None, "location", "grade", "month")]
    seal(dt.date(2026, 1, 31), "olive")
    seal(dt.date(2026, 2, 28), "olive")
    after = [figures(period, key) for period in (JANUARY, FEBRUARY) for key in (None, "location", "grade", "month")]
    assert before == after


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own words for a plan")
def test_the_totals_are_read_from_the_covering_index_alone():
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {TOTALS}", ["2026-01-01", "2026-01-31"])
        plan = " ".join(row[3] for row in cursor.fetchall())
    assert "USING COVERING INDEX movement_report" in plan


# -- what is behind a figure -----------------------------------------------------------------------


@pytest.fixture
def moved(year):
    """Also containers that move and are regraded, a charge that is taken back, and a month more."""
    day = dt.date(2026, 1, 8)
    spots = (can(), can(location="Van"), can(location="Van", grade="recycled"))
    post(day, Transfer(spots[0], spots[1], 500), by="tess")
    post(day, Transfer(spots[1], spots[2], 300), by="mara")
    post(day, Transfer(spots[1], spots[0], 100), by="mara")
    post(day, Transfer(spots[0], spots[1], 40, True), by="mara")  # of the one before, partly
    post(day, Transfer(spots[2], other(A.UNIT, "x"), 70), by="tess")
    post(dt.date(2026, 2, 3), Transfer(other(A.UNIT, "x"), spots[2], 70, True), by="tess")
    post(dt.date(2026, 2, 3), Transfer(spots[2], other(A.LINE_LOSS), 5), by="tess")


@pytest.mark.parametrize("key", [None, *KEYS])
def test_each_figure_is_the_sum_of_the_movements_that_it_opens(moved, shop, office_client, key):
    period = Period(dt.date(2026, 1, 1), dt.date(2026, 2, 10))
    sheet = rows(period, key)
    names = [column.name for column in sheet.columns]
    seen = 0
    for row in sheet.rows:
        said = dict(zip(names, row, strict=True))
        for name in names:
            if not behind.usage_opens(name, key):
                continue
            substance = Substance.objects.get(code=said["substance"])
            total = 0
            for one in behind.movements(period, substance, name, key, said.get(key, "")):
                sign = -1 if one.reversal else 1
                if name not in behind.BETWEEN:
                    column, sign, _ = columns_of(one.source_class, one.target_class, one.reversal)
                    assert column == name
                total += sign * one.quantity
            assert total == said[name], (name, said)
            rows_behind = behind.movements(period, substance, name, key, said.get(key, ""))
            assert behind.total(rows_behind, name) == total
            seen += total != 0
    assert seen > 13
    address = f"/reports/usage/?first={period.first}&last={period.last}" + (f"&by={key}" if key else "")
    page = office_client.get(address).content.decode()
    links = [html.unescape(link) for link in re.findall(r'href="(/reports/usage/movements/[^"]+)"', page)]
    assert len(links) == seen
    for link in links:
        answer = office_client.get(link)
        assert answer.status_code == 200 and b"No movement." not in answer.content, link


def test_emissions_open_the_movements_that_they_add_up(moved, shop, office_client):
    page = office_client.get("/reports/emissions/?first=2026-01-01&last=2026-02-10").content.decode()
    links = [html.unescape(link) for link in re.findall(r'href="(/reports/emissions/movements/[^"]+)"', page)]
    assert len(links) == 4
    lost = next(link for link in links if "column=lost" in link)
    assert office_client.get(lost).content.decode().count('<td data-label="Voucher"') == 0
    assert len(office_client.get(lost).context["rows"]) == 5, (
        "line, heel, other and unexplained loss, and one more line"
    )
    for wrong in ("column=gwp", "column=opening", "column=transferred_in"):
        assert office_client.get(f"/reports/emissions/movements/?substance=R-134a&{wrong}").status_code == 404
    asked = {"substance": "R-134a", "column": "charged", "by": "month", "first": "2026-01-01", "last": "2026-02-10"}
    for group in ("2026-13", "x", "", "2026-00", "0000-01", "2026-1-1"):
        assert office_client.get("/reports/usage/movements/", asked | {"group": group}).status_code == 404, group
