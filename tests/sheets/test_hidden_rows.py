"""Rows that a sheet hides are said and asked about, in each format that tells of them."""

import io
import zipfile

import pytest

from inventory.text.refusal import Refused
from shopledger.sheets.book import open_book
from tests.sheets.files import Page, ods, xlsx
from tests.sheets.test_other_habits import asked, planned, rows


def page(name="Store"):
    made = Page(name)
    lines = [("Code", "Gas", "Type", "Net kg"), *((f"C-{n}", "R-134a", "refillable", n) for n in (3, 4, 5, 6))]
    for row, cells in enumerate(lines):
        for column, value in enumerate(cells):
            made.put(row, column, value)
    return made


@pytest.mark.parametrize("write", [xlsx, ods])
def test_a_hidden_row_is_asked_about(write) -> None:
    made = page()
    made.hidden = {2, 3}
    body = write([made])
    question = asked(planned("", book=body))["hidden"]
    assert question.places == ["Store!A3", "Store!A4"] or "3" in question.where, question
    shown = rows(planned("", book=write([page()])), "opening.csv", "container")
    assert [code for (code,) in shown] == ["C-3", "C-4", "C-5", "C-6"]


def ods_of(*told):
    """An ODS with other rows and columns in it than the one that is written here."""
    source, out = zipfile.ZipFile(io.BytesIO(ods([page(), page("Yard")]))), io.BytesIO()
    with zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            text = source.read(name).decode()
            for was, now in told if name == "content.xml" else ():
                assert was in text
                text = text.replace(was, now, 1)
            target.writestr(name, text)
    return out.getvalue()


ROW = "<table:table-row>"


def test_rows_that_a_filter_hides_and_rows_that_are_said_at_once_are_counted() -> None:
    body = ods_of(
        (ROW, '<table:table-row table:visibility="visible">'),
        (ROW, '<table:table-row table:number-rows-repeated="3" table:visibility="filter">'),
    )
    first, second = open_book(body, "Store.ods").sheets
    assert first.hidden_rows == {1, 2, 3} and not second.hidden_rows
    assert first.rows[1] == first.rows[3] and first.rows[4][0].text == "C-4"


def test_hidden_columns_are_told() -> None:
    columns = (
        '<table:table-column table:number-columns-repeated="2"/>'
        '<table:table-column table:visibility="collapse" table:number-columns-repeated="1000"/>'
    )
    first, _ = open_book(ods_of((ROW, columns + ROW)), "Store.ods").sheets
    assert first.hidden_columns == {2, 3}


def test_entities_that_grow_end_in_a_refusal() -> None:
    growing = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "x" * 100}">' for n in range(9))
    declared = '<?xml version="1.0" encoding="UTF-8"?>'
    body = ods_of((declared, f"{declared}<!DOCTYPE a [{growing}]>"), ("C-3", "&e8;"))
    with pytest.raises(Refused):
        open_book(body, "Store.ods")
