"""Findings and other rows of reports open to why the rulebook says so; in a PDF that is a note, in files nothing."""

import csv
import io
import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopledger.findings import report as findings_report
from shopledger.findings.finding import Finding
from shopledger.reporting import output
from shopledger.reports.registry import REPORTS
from tests.shopledger.test_findings import MARCH
from tests.verdicts import ASKED, BANNED, NOTE, printed, words

pytestmark = pytest.mark.django_db
ADDRESS = f"/reports/findings/?first={MARCH.first}&last={MARCH.last}"
FOUND = [
    Finding("high", "service ban", BANNED.cited, "Job J-1: virgin R-404A was charged.", "/jobs/1/", verdict=BANNED),
    Finding("low", "leak check", ASKED.cited, ASKED.said, "/units/1/", verdict=ASKED),
    Finding("low", "paper", "good practice", "A delivery has no paper.", "/vouchers/1/"),
    Finding("low", "leak check", ASKED.cited, ASKED.said, "/units/2/", verdict=ASKED),
]


@pytest.fixture
def found(shop, monkeypatch):
    monkeypatch.setattr(findings_report, "findings", lambda period: FOUND)


def file(kind):
    return output.written(output.make(REPORTS["findings"], MARCH, None, "tester", drawn=kind == "pdf"), kind)


def test_a_finding_opens_to_its_rules(found, office_client):
    page = office_client.get(ADDRESS).content
    assert page.count(b"<details>") >= 3 and page.count(b'<tr class="behind">') == 3
    said = words(page)
    assert f"Why : {BANNED.said}" in said and "GWP of at least 2500" in said
    assert f"Why : {ASKED.said} Rule" in said, "what the row says already is not said again"
    assert "To be said first Whether it is hermetically sealed." in said


def test_opening_findings_asks_the_database_nothing(found, office_client, monkeypatch):
    office_client.get(ADDRESS)
    with CaptureQueriesContext(connection) as opened:
        office_client.get(ADDRESS)
    monkeypatch.setattr(findings_report, "findings", lambda period: [])
    with CaptureQueriesContext(connection) as nothing:
        office_client.get(ADDRESS)
    assert len(opened) == len(nothing)


def test_files_keep_their_columns(found):
    columns = ["severity", "rule", "citation", "what", "where"]
    rows = list(csv.reader(io.StringIO(file("csv").decode())))
    assert rows[0] == columns and all(len(row) == 5 for row in rows)
    said = json.loads(file("json"))
    assert said["columns"] == columns and list(said["rows"][0]) == columns
    assert BANNED.figures[0].value not in file("csv").decode()


def test_the_pdf_numbers_its_rows_and_has_the_notes_below(found):
    said = printed(file("pdf"))
    for part in NOTE:
        assert part in said, part
    table, notes = said.split("Notes: figures and rules")
    assert "Note high service ban" in table
    assert (table.count("[1]"), table.count("[2]"), table.count("[3]")) == (1, 2, 0), "one note for what is the same"
    assert notes.index("[1]") < notes.index("[2]")
    assert "Rule: A digest of the law, p. 4; in words in note 1." in notes


def test_a_report_in_which_no_rule_speaks_has_no_notes(shop, monkeypatch):
    monkeypatch.setattr(findings_report, "findings", lambda period: [FOUND[2]])
    said = printed(file("pdf"))
    assert "Notes" not in said and "Note " not in said
