"""Each report's figures against sums worked out by hand, and each format read back."""

import csv
import datetime as dt
import io
import json
from decimal import Decimal

import openpyxl
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from openpyxl.utils import get_column_letter
from pypdf import PdfReader

from inventory.containers.models import Weighing
from inventory.counting.actions import explain
from inventory.ledger.models import Voucher
from inventory.ledger.seals import seal
from inventory.parties.models import Party
from inventory.text.workbook import number_format
from jobs.units.models import Customer, Unit
from shopledger.logbook.actions import LogRefused, load
from shopledger.reporting.periods import before, year_before
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS

pytestmark = pytest.mark.django_db
LOG = {
    "shop": "name,address,timezone,rulebook,readability\nExample,1 Road,UTC,generic,1 g\n",
    "people": "username,name,role,scheme,certificate,issuer,issued,expires\n"
    "ines,Ines Example,technician,Trade school,C-1,School,2024-01-15,2026-01-31\nomar,Omar Example,office,,,,,\n",
    "parties": 'name,role,address,registration\nRenew,reclaimer,"3 Road, Town",R-7\nGas Supply,supplier,,\n',
    "opening": "date,container,kind,substance,grade,net,tare,location\n"
    "2026-01-05,CYL,refillable,R-134a,virgin,9 kg,7 kg,Store\n"
    "2026-01-05,REC,recovery,R-134a,recovered,1 kg,8 kg,Store\n"
    "2026-01-05,OIL,oil,PAG 46,,250 mL,,Store\n",
    "receipts": "date,document,supplier,container,kind,substance,grade,net,tare,location,price,received_by\n"
    "2026-01-08,D-1,Gas Supply,CAN-1,can,R-134a,virgin,340 g,110 g,Store,12.50,omar\n"
    "2026-01-08,D-1,Gas Supply,CAN-2,can,R-134a,virgin,340 g,110 g,Store,12.50,omar\n",
    "jobs": "job,date,technician,customer,unit,vin,substance,charge_min,charge_max\n"
    "J-1,2026-01-12,ines,Ada Example,EX 1,,R-134a,480 g,520 g\n",
    "job_lines": "job,action,container,before,after,quantity\nJ-1,recover,REC,9000 g,9350 g,\n"
    "J-1,oil-drain,,,,12 mL\nJ-1,oil-add,OIL,,,30 mL\nJ-1,charge,CYL,15900 g,15400 g,\nJ-1,line-loss,,,,10 g\n",
    "shipments": "date,document,party,purpose,container,quantity\n2026-02-03,S-1,Renew,reclaim,REC,\n",
    "retirements": "date,container,residue,by\n2026-02-04,CAN-1,lost,omar\n",
}
JANUARY = ("2026-01-01", "2026-01-31")
QUARTER = ("2026-01-01", "2026-03-31")


@pytest.fixture
def log(db, tmp_path):
    for name, text in LOG.items():
        (tmp_path / f"{name}.csv").write_text(text)
    try:
        load(tmp_path)
    except LogRefused as refused:
        pytest.fail("\n".join(refused.faults))


def rows(name, first, last):
    out = io.BytesIO()

    class Out(io.StringIO):
        buffer = out

    import sys

    old, sys.stdout = sys.stdout, Out()
    try:
        call_command("report", name, "--from", first, "--to", last, "--format", "csv")
    finally:
        sys.stdout = old
    return list(csv.DictReader(io.StringIO(out.getvalue().decode())))


def test_jobs(log):
    (row,) = rows("jobs", *JANUARY)
    assert row == {
        "job": "J-1",
        "date": "2026-01-12",
        "technician": "ines",
        "certificate": "Trade school C-1",
        "customer": Customer.objects.get(name="Ada Example").code,
        "unit": Unit.objects.get(name="EX 1").code,
        "substance": "R-134a",
        "recovered": "350.000",
        "charged": "490.000",
        "line_loss": "10.000",
        "oil": "PAG 46",
        "oil_added": "30.000",
        "oil_drained": "12.000",
        "grade": "virgin",
        "voucher": str(Voucher.objects.get(kind="job").number),
    }
    assert rows("jobs", "2026-02-01", "2026-02-28") == []


def test_containers(log):
    found = {row["code"]: row for row in rows("containers", *QUARTER)}
    figures = {c: (r["opening"], r["in"], r["out"], r["closing"]) for c, r in found.items()}
    # CYL weighed 15900 g before the charge, 100 g under the book: out with the 500 g that were charged.
    assert figures == {
        "CYL": ("9000.000", "0.000", "600.000", "8400.000"),
        "REC": ("1000.000", "350.000", "1350.000", "0.000"),
        "OIL": ("250.000", "0.000", "30.000", "220.000"),
        "CAN-1": ("0.000", "340.000", "340.000", "0.000"),
        "CAN-2": ("0.000", "340.000", "0.000", "340.000"),
    }
    assert found["CAN-1"]["state"] == "retired" and found["CAN-2"]["document"] == "D-1"
    assert found["CYL"]["last_weighed"] == "2026-01-12" and found["CYL"]["tare"] == "7000.000"
    later = {row["code"]: row["opening"] for row in rows("containers", "2026-02-01", "2026-02-28")}
    assert later["CYL"] == "8400.000" and "CAN-1" in later
    assert "CAN-1" not in {row["code"] for row in rows("containers", "2026-03-01", "2026-03-31")}


def test_containers_start_from_the_last_seal(log):
    periods = [JANUARY, QUARTER, ("2026-01-13", "2026-02-28"), ("2026-02-01", "2026-02-28")]
    before = [rows("containers", *period) for period in periods]
    for day in (5, 9, 12, 31):
        seal(dt.date(2026, 1, day), "olga")
        assert [rows("containers", *period) for period in periods] == before


def test_purchases(log):
    (row,) = rows("purchases", *QUARTER)
    assert row == {
        "date": "2026-01-08",
        "document": "D-1",
        "supplier": Party.objects.get(name="Gas Supply").code,
        "certificate_on_file": "ines: Trade school C-1",
        "substance": "R-134a",
        "containers": "2",
        "net": "680.000",
        "price": "25.00",
    }


def test_shipments(log):
    (row,) = rows("shipments", *QUARTER)
    assert row == {
        "date": "2026-02-03",
        "document": "S-1",
        "party": Party.objects.get(name="Renew").code,
        "address": "",
        "registration": "R-7",
        "purpose": "reclaim",
        "substance": "R-134a",
        "grade": "recovered",
        "net": "1350.000",
    }


@pytest.mark.parametrize(("last", "valid"), [("2026-01-31", "yes"), ("2026-02-01", "no")])
def test_people(log, last, valid):
    (row,) = rows("people", "2026-01-01", last)
    assert (row["person"], row["scheme"], row["number"], row["expires"]) == (
        "ines",
        "Trade school",
        "C-1",
        "2026-01-31",
    )
    assert (row["valid_on_last_day"], row["jobs_signed"]) == (valid, "1")


def test_variances(log):
    explain(weighing_id=Weighing.objects.get(container__code="CYL", role="before").pk, reason="leaked", note="", by="o")
    found = {row["container"]: row for row in rows("variances", *QUARTER)}
    assert found["CYL"]["difference"] == "-100.000" and found["CYL"]["class"] == "unexplained loss"
    assert (found["CYL"]["book"], found["CYL"]["scale_reading"], found["CYL"]["reason"]) == (
        "9000.000",
        "8900.000",
        "leaked",
    )
    assert found["REC"]["class"] == "agrees"


def test_emissions(log):
    (row,) = rows("emissions", *QUARTER)
    # R-134a, AR4: 1430. 490 g charged, 350 g recovered, 10 + 340 + 100 g lost, 1350 g sent to be reclaimed.
    assert row["gwp"] == "1430" and "AR4" in row["gwp_source"]
    assert (row["charged"], row["recovered"], row["lost"], row["shipped"]) == (
        "0.700700",
        "0.500500",
        "0.643500",
        "1.930500",
    )


def test_units(log):
    (row,) = rows("units", *QUARTER)
    # 490 - 350 = 140 g added to a full charge of 500 g within the 365 days: 28 %.
    assert (row["visits"], row["charged"], row["recovered"], row["full_charge"], row["leak_rate"]) == (
        "1",
        "490.000",
        "350.000",
        "500.000",
        "28.0",
    )


@pytest.mark.parametrize(("last", "rate"), [("2027-02-28", "22.0"), ("2027-01-11", "50.0"), ("2027-01-12", "22.0")])
def test_the_leak_rate_looks_back_365_days_in_every_month(db, tmp_path, last, rate):
    # Full charge 500 g: 140 g were added on 2026-01-12 and 110 g on 2027-01-10; the first counts up to 2027-01-11.
    later = {
        "jobs": LOG["jobs"] + "J-2,2027-01-10,ines,Ada Example,EX 1,,R-134a,480 g,520 g\n",
        "job_lines": LOG["job_lines"] + "J-2,charge,CYL,15400 g,15290 g,\n",
    }
    for name, text in (LOG | later).items():
        (tmp_path / f"{name}.csv").write_text(text)
    load(tmp_path)
    (row,) = rows("units", "2027-01-01", last)
    assert (row["visits"], row["leak_rate"]) == ("1", rate)


def made_of(name):
    return REPORTS[name].rows(Period(dt.date.fromisoformat(QUARTER[0]), dt.date.fromisoformat(QUARTER[1])), None)


def loads_everywhere(sheet, lines, table):
    """Days are days and figures figures, with a format each; heads stay in sight and filter; nothing is cut."""
    assert sheet.freeze_panes == "B2"
    assert sheet.auto_filter.ref == f"A1:{get_column_letter(len(lines[0]))}{len(lines)}"
    for place, column in enumerate(table.columns):
        letter = get_column_letter(place + 1)
        assert sheet[f"{letter}1"].font.bold and sheet.column_dimensions[letter].width >= 8
        for at, line in enumerate(lines[1:], start=2):
            cell, said = sheet[f"{letter}{at}"], line[place]
            if not said:
                assert cell.value in (None, ""), (letter, at)
            elif column.kind == "day":
                assert cell.is_date and cell.value.date().isoformat() == said and cell.number_format == "yyyy-mm-dd"
            elif column.numeric:
                assert cell.data_type == "n" and abs(Decimal(str(cell.value)) - Decimal(said)) < Decimal("1e-9")
                assert cell.number_format == number_format(Decimal(said))
            else:
                assert cell.data_type == "s" and not cell.value.startswith("=")
            plain = column.kind == "day" or not column.numeric or not said
            shown = len(said) if plain else len(f"{Decimal(said):,}")
            assert sheet.column_dimensions[letter].width >= min(shown, 60), (letter, at, said)


@pytest.mark.parametrize("name", list(REPORTS))
def test_every_report_in_every_format_and_as_a_page(log, tmp_path, name, office_client, django_assert_max_num_queries):
    for kind in ("csv", "json", "xlsx", "pdf"):
        path = tmp_path / f"{name}.{kind}"
        call_command("report", name, "--from", QUARTER[0], "--to", QUARTER[1], "--format", kind, "--output", str(path))
    lines = list(csv.reader(io.StringIO((tmp_path / f"{name}.csv").read_text())))
    said = json.loads((tmp_path / f"{name}.json").read_text())
    assert said["columns"] == lines[0] and [list(row.values()) for row in said["rows"]] == lines[1:]
    sheet = openpyxl.load_workbook(tmp_path / f"{name}.xlsx").worksheets[0]
    assert sheet.max_row == len(lines)
    loads_everywhere(sheet, lines, made_of(name))
    words = PdfReader(tmp_path / f"{name}.pdf").pages[0].extract_text()
    for needed in (
        "Example",
        "1 Road",
        "2026-01-01 to 2026-03-31",
        "Page 1 of",
        said["head"]["digest"][:16],
        "local rules",
    ):
        assert needed.lower() in words.lower(), (name, needed)
    address = f"/reports/{name}/?first={QUARTER[0]}&last={QUARTER[1]}"
    for more in ("", "&compare=before", "&compare=year", "&page=9"):
        with django_assert_max_num_queries(60):
            assert office_client.get(address + more).status_code == 200, more
    assert office_client.get(f"/reports/{name}/?first=1990-01-01&last=1990-12-31").status_code == 200
    picture = office_client.get(f"/reports/{name}/chart.svg?first={QUARTER[0]}&last={QUARTER[1]}")
    assert picture.status_code == (200 if REPORTS[name].pictures else 404)


def test_an_empty_ledger_prints_the_header_alone(db):
    for name in REPORTS:
        assert rows(name, *QUARTER) == []


def test_what_is_called_wrongly_ends_with_2(log):
    for words in (["nonsense"], ["jobs", "--by", "grade"]):
        with pytest.raises(CommandError) as wrong:
            call_command(
                "report", *words[:1], "--from", "2026-01-01", "--to", "2026-01-31", "--format", "csv", *words[1:]
            )
        assert wrong.value.returncode == 2


def test_periods_before():
    import datetime as dt

    def p(first, last):
        return Period(dt.date.fromisoformat(first), dt.date.fromisoformat(last))

    assert before(p("2026-03-01", "2026-03-31")) == p("2026-02-01", "2026-02-28")
    assert before(p("2026-01-01", "2026-03-31")) == p("2025-10-01", "2025-12-31")
    assert before(p("2026-03-05", "2026-03-11")) == p("2026-02-26", "2026-03-04")
    assert year_before(p("2024-02-01", "2024-02-29")) == p("2023-02-01", "2023-02-28")
    assert year_before(p("2025-02-01", "2025-02-28")) == p("2024-02-01", "2024-02-29")
