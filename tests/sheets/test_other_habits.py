"""Sheets by other hands than the generator's: what is said twice, elsewhere, or struck out is no silent loss."""

import datetime as dt
import io

import openpyxl
from openpyxl.styles import Font

from shopledger.sheet_meaning.known import Held, Known
from shopledger.sheet_meaning.plan import plan_of
from shopledger.sheets.book import open_book

KNOWN = Known(
    dt.date(2026, 7, 1),
    {
        "CYL-0002": Held("R-134a", "refillable", False, False, 9_000_000),
        "OIL-0001": Held("PAG 46", "oil", True, False),
    },
    {"tara": "Tara Tam"},
)
DAY = {"date": "2026-06-30"}


def planned(text, kind="stock", answers=(), book=None):
    body = book or text.encode()
    return plan_of(open_book(body, "Store.xlsx" if book else "Store.csv"), kind, KNOWN, {**DAY, **dict(answers)})


def asked(plan):
    return {one.id: one for one in plan.questions}


def rows(plan, file="opening.csv", *names):
    return [tuple(row[name] for name in names) for row in plan.built.files.get(file, [])]


def workbook(lines, merged=(), struck=()):
    book = openpyxl.Workbook()
    for line in lines:
        book.active.append(line)
    for area in merged:
        book.active.merge_cells(area)
    for row in struck:
        for cell in book.active[row]:
            cell.font = Font(strike=True)
    body = io.BytesIO()
    book.save(body)
    return body.getvalue()


SIZED = "Tank,Gas,Kind,Size lb,Gross lb,Tare lb\nT-1,R-134a,recovery,50,62.3,28.4\nT-2,R-134a,recovery,30,27.9,17\n"


def test_a_size_that_the_weights_belie_is_asked_about_and_never_loaded_for_what_is_left():
    open_one = planned(SIZED, answers={"column:tank": "container"})
    assert "twice:net" in asked(open_one)
    loaded = planned(SIZED, answers={"column:tank": "container", "twice:net": "weights"})
    assert not loaded.questions and rows(loaded, "opening.csv", "net") == [("15376.782 g",), ("4944.157 g",)]


def test_weights_that_agree_but_for_rounding_are_not_asked_about():
    text = (
        "Code,Gas,Kind,Net kg,Gross kg,Tare kg\nT-1,R-134a,recovery,12.0,24.3,12.3\nT-2,R-134a,recovery,5,17.2,12.25\n"
    )
    assert not planned(text).questions


def test_words_under_a_head_of_figures_are_asked_about_and_not_held_for_faults():
    text = "Code,Gas,Cylinder,Net kg\n" + "".join(f"A{n},R-134a,30 lb disposable,{n}\n" for n in (3, 4, 5))
    plan = planned(text)
    assert not plan.faults and asked(plan)["column:cylinder"].suggested == "kind"


def test_a_head_that_nobody_needs_hides_no_gas_and_no_code():
    gases = "Nr,KM,Art,Inhalt kg\nK1,R134a,Einweg,3,2\nK2,R1234yf,Einweg,4\n".replace("3,2", "3")
    plan = planned(gases.replace(",", ";"))
    assert asked(plan)["column:nr"].suggested == "container" and asked(plan)["column:km"].suggested == "substance"
    assert not asked(planned("Nr;Gas;Art;Inhalt kg\n1;R134a;Einweg;3\n2;R134a;Einweg;4\n"))


def test_oil_and_how_much_of_it_in_one_cell_are_both_read():
    text = "Date,Tech,Plate,Gas,Charged,Oil\n2026-05-04,tara,KL-1,R134a,480 g,PAG 46 20 ml\n"
    plan = planned(text, "jobs", {"container:R-134a": "CYL-0002", "oil:PAG 46": "OIL-0001"})
    assert not plan.questions and not plan.faults
    assert ("oil-add", "OIL-0001", "20 mL") in rows(plan, "job_lines.csv", "action", "container", "quantity")


def test_rows_struck_out_are_asked_about():
    lines = [
        ["Code", "Gas", "Kind", "Net kg"],
        *([f"A{n + 1}", "R134a", "disposable", 3 + n] for n in range(3)),
    ]
    body = workbook(lines, struck=[3])
    assert asked(planned("", book=body))["struck"].places == ["Sheet!A3"]
    left = planned("", book=body, answers={"struck": "-"})
    assert rows(left, "opening.csv", "container") == [("A1",), ("A3",)]


def test_sums_of_a_part_are_no_containers():
    text = (
        "Code,Gas,Kind,Net kg\nA1,R134a,disposable,3.2\nA2,R134a,disposable,4.1\n,,,7.3\n"
        "B1,R1234yf,disposable,1\nB2,R1234yf,disposable,2\n,,,3\n"
        "C1,R410A,disposable,4\n,R410A total,,4\n,R22 in all,,4\n"
    )
    plan = planned(text)
    assert not plan.questions
    assert rows(plan, "opening.csv", "container") == [("A1",), ("A2",), ("B1",), ("B2",), ("C1",)]


def test_a_unit_over_several_columns_is_that_of_each():
    lines = [
        ["Code", "Gas", "Art", "Gewicht in kg", None, None],
        [None, None, None, "voll", "leer", "netto"],
        ["F-11", "R 134a", "Mehrwegflasche", 24.3, 12.3, 12.0],
        ["F-12", "R1234yf", "Mehrwegflasche", 17.15, 12.15, 5],
    ]
    plan = planned("", book=workbook(lines, merged=("A1:A2", "B1:B2", "C1:C2", "D1:F1")))
    assert not plan.questions and plan.columns.columns["gross"] == 3
    assert rows(plan, "opening.csv", "net", "tare") == [("12000 g", "12300 g"), ("5000 g", "12150 g")]


def test_packs_under_a_head_of_kinds_are_what_is_in_them():
    plan = planned("Product,Qty,Pack\nR134a cans,3,12 x 340 g\nR1234yf cans,1,6 x 227 g\n", answers={"boxes": "times"})
    assert not plan.questions and len(plan.built.files["opening.csv"]) == 42


def test_a_number_of_kilograms_is_no_number_of_containers():
    text = (
        "Date,Supplier,Gas,Qty,Unit,Type\n2026-03-02,Nord,R134a,24,kg,refillable\n2026-03-05,Nord,R134a,12,cans,can\n"
    )
    plan = planned(text, "deliveries", {"column:qty": "count", "blank:net": "empty"})
    assert [place[:2] for place in plan.faults] == [(1, 3)]
    plan = planned(text, "deliveries", {"column:qty": "net"})
    assert [place[:2] for place in plan.faults] == [(2, 3)]


def test_a_certificate_without_a_number_is_a_kind_of_it_and_one_without_an_end_has_none():
    text = (
        "Name;Zertifikat;Nr.;gültig bis\nAnna Meyer;Sachkunde;SK-1;unbefristet\nJan Prinz;Sachkunde;SK-2;2027-03-31\n"
    )
    plan = planned(text, "people", {"column:nr": "certificate"})
    assert not plan.faults and not plan.questions
    assert rows(plan, "people.csv", "scheme", "certificate", "expires") == [
        ("Sachkunde", "SK-1", ""),
        ("Sachkunde", "SK-2", "2027-03-31"),
    ]


def test_a_head_that_only_resembles_a_weight_is_none_before_somebody_says_so():
    """What is far from weight, and so is Height: neither is taken for one unasked, nor only offered as one."""
    rows_ = "SH-1,R-134a,cylinder,9.8,4.2,45\nSH-2,R-134a,disposable,4.1,4.2,45\nSH-3,R-134a,cylinder,3.3,4.2,46\n"
    open_one = asked(planned(f"Bottle no,Gas,What,Net kg,Tare kg,Height\n{rows_}"))
    assert {"column:what", "column:height"} <= set(open_one)
    assert "kind" in dict(open_one["column:what"].choices) and "-" in dict(open_one["column:height"].choices)
