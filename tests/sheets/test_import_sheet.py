"""The command: asks what it cannot know, lists faults in the sheet's own cells, loads all rows or none, and once."""

import datetime as dt
import io
import json
import re

import openpyxl
import pytest
from django.core.management import CommandError, call_command

from inventory.containers.models import Container, Scale
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from jobs.drafts.models import Job
from jobs.people.models import Certificate, Person
from jobs.units.models import Unit
from shopledger.logbook.models import LoadedLog
from shopledger.sheet_pages.models import SheetMapping

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def bring(shop, tmp_path, capsys):
    with writing():
        Scale.objects.create(code="shop scale", readability_mg=1000, usual=True)

    def run(text, kind, answers=None, name="Store.csv", **options):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        if answers is not None:
            told = tmp_path / "answers.json"
            told.write_text(json.dumps(answers))
            options["answers"] = str(told)
        try:
            call_command("import_sheet", str(path), kind=kind, **options)
            code, said = 0, ""
        except CommandError as error:
            code, said = error.returncode, str(error)
        out, err = capsys.readouterr()
        return code, out + err + said

    return run


STOCK = "Stock\n\nCode;Gas;Type;Net;Place\nC-1;R134a;can;340 g;Store\nC-2;R-134a;can;0,5 kg;store\nTotal;;;840 g;\n"


def contents():
    return {one.code: (one.kind, one.substance.code, one.content, one.location.name) for one in Container.objects.all()}


def test_what_no_cell_says_is_asked_and_nothing_is_loaded(bring):
    code, said = bring(STOCK, "stock")
    assert code == 1 and "date: No column says the day." in said and "Store!A4, Store!A5" in said
    assert "There is one question; nothing was loaded." in said and not contents()


def test_with_the_answers_it_loads_once(bring):
    code, said = bring(STOCK, "stock", {"date": "2026-01-05"})
    assert code == 0, said
    assert contents() == {"C-1": ("can", "R-134a", 340_000, "Store"), "C-2": ("can", "R-134a", 500_000, "Store")}
    assert "R-134a: 2 containers with 840 g in all" in said and "Left out as a total: row 6." in said
    count = Voucher.objects.count()
    code, said = bring(STOCK, "stock", {"date": "2026-01-05"})
    assert code == 1 and "This sheet was loaded before; nothing was changed." in said
    assert Voucher.objects.count() == count


def test_check_says_what_would_be_posted_and_posts_nothing(bring):
    code, said = bring(STOCK, "stock", {"date": "2026-01-05"}, check=True)
    assert code == 0 and "2 containers with 840 g" in said and "Nothing was loaded" in said and not contents()


def test_faults_stand_in_the_sheets_own_cells_all_in_one_run(bring):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Lager"
    sheet.append(["Bestand"])
    sheet.append(["Behälter", "Stoff", "Art", "Inhalt (g)", "Tara"])
    sheet.append(["C-1", "R134a", "Dose", -340, ""])
    sheet.append(["C-2", "R134a", "Dose", "viel", ""])
    sheet.append(["C-3", "R134a", "Dose", 9e9, ""])
    sheet.append(["C-4", "R134a", "Dose", 340, "leer"])
    sheet.append(["C-5", "R134a", "Dose", 340, ""])
    out = io.BytesIO()
    book.save(out)
    code, said = bring(out.getvalue(), "stock", {"date": "2026-01-05"}, name="x.xlsx")
    assert code == 1 and not contents()
    for place in ("Lager!D3:", "Lager!D4:", "Lager!D5:", "Lager!E6:"):
        assert place in said
    assert "There are 4 faults; nothing was loaded." in said and "Lager!D7" not in said


def test_faults_of_the_ledger_stand_in_the_sheets_cells_too(bring):
    assert bring(STOCK, "stock", {"date": "2026-01-05"})[0] == 0
    code, said = bring(
        STOCK.replace("C-2", "C-9").replace("0,5", "0,6"), "stock", {"date": "2026-01-05", "again": "yes"}
    )
    assert code == 1 and "Store!A4: The code C-1 is in the book already" in said, said


def test_rows_of_last_month_are_asked_about(bring):
    assert bring(STOCK, "stock", {"date": "2026-01-05"})[0] == 0
    longer = STOCK.replace("Total", "C-3;R134a;can;250 g;Store\nTotal")
    code, said = bring(longer, "stock", {"date": "2026-02-05"})
    assert code == 1 and "again: 2 rows stand word for word" in said
    code, said = bring(longer, "stock", {"date": "2026-02-05", "again": "-"})
    assert code == 0 and set(contents()) == {"C-1", "C-2", "C-3"}


@pytest.mark.parametrize(("cell", "said"), [("1,250", "is 1,250 1.25, or 1250?"), ("1.250", "is 1.250 1.25, or 1250?")])
def test_a_figure_that_can_be_two_is_asked(bring, cell, said):
    text = f"Code;Gas;Type;Net (g);Place\nC-1;R134a;can;{cell};A\n"
    code, told = bring(text, "stock", {"date": "2026-01-05"})
    assert code == 1 and said in told and not contents()
    mark = cell[1]
    code, told = bring(text, "stock", {"date": "2026-01-05", f"mark:net:{mark}": "thousands"})
    assert code == 0 and contents()["C-1"][2] == 1_250_000, told


def test_a_column_that_shows_its_decimal_mark_needs_no_question(bring):
    text = "Code;Gas;Type;Net (kg);Place\nC-1;R134a;refillable;1,250;A\nC-2;R134a;refillable;0,5;A\n"
    code, told = bring(text, "stock", {"date": "2026-01-05"})
    assert code == 0 and contents()["C-1"][2] == 1_250_000, told


def test_a_can_that_cannot_be_is_a_fault_and_an_unlikely_one_is_asked_about(bring):
    text = "Code;Gas;Type;Net (kg);Place\nC-1;R134a;can;{};A\n"
    code, said = bring(text.format("340"), "stock", {"date": "2026-01-05"})
    assert code == 1 and "Store!D2: 340 kg cannot be" in said, said
    code, said = bring(text.format("2"), "stock", {"date": "2026-01-05"})
    assert code == 1 and "sure:net:can:7: 2000 g as what is in it (net) of a can in 1 row" in said.replace(
        "\u202f", ""
    ), said
    assert bring(text.format("2"), "stock", {"date": "2026-01-05", "sure:net:can:7": "yes"})[0] == 0


def test_an_answer_that_is_none_is_said(bring):
    code, said = bring("Code;Gas;Type;Net\nC-1;R134a;can;340\n", "stock", {"date": "2026-01-05", "unit:net": "stone"})
    assert code == 1 and "'stone' is no answer to unit:net; the answers are: g, kg, oz, lb." in said


JOBS = "WO,Date,Tech,Customer,Plate,Gas,Charged (g),Recovered (g),From bottle,Recovered into\n"


def test_jobs_people_and_units(bring, technician):
    people = (
        "Name,Role,Certificate type,Certificate no,Issued,Valid until\nAda Fitter,technician,Scheme A,77,2024-01-15,\n"
    )
    code, said = bring(people, "people", name="people.csv")
    assert code == 0 and Person.objects.get(username="ada.fitter").name == "Ada Fitter", said
    assert Certificate.objects.get(person__username="ada.fitter").number == "77"
    units = (
        "Customer,Plate,VIN,Make,Model,Year,Refrigerant,Factory charge\nFjordview,EX 1,,Tern,Swift,2019,R134a,520 g\n"
    )
    code, said = bring(units, "units", name="units.csv")
    unit = Unit.objects.get(name="EX 1")
    assert code == 0 and (unit.customer.name, unit.make, unit.year, unit.charge_max_mg) == (
        "Fjordview",
        "Tern",
        2019,
        520_000,
    )
    stock = "Code,Gas,Type,Net,Tare\nCYL-1,R134a,refillable,9 kg,7 kg\nREC-1,R134a,recovery,0 kg,7 kg\n"
    assert bring(stock, "stock", {"date": "2026-01-05"}, name="stock.csv")[0] == 0
    jobs = JOBS + "J-1,2026-01-12 09:30,Ada Fitter,Fjordview,EX 1,R134a,480,120,cyl 1,REC-1\n"
    code, said = bring(jobs, "jobs", name="jobs.csv")
    assert code == 0, said
    job = Job.objects.get(number="J-1")
    assert (job.unit_id, job.charged_mg, job.recovered_mg, job.technician.username) == (
        unit.pk,
        480_000,
        120_000,
        "ada.fitter",
    )
    assert Container.objects.get(code="CYL-1").content == 8_520_000
    counts = "Date,Container,Gross,Counted by\n2026-02-01,CYL-1,15.5 kg,Ada\n"
    code, said = bring(counts, "counts", name="counts.csv")
    assert code == 0 and Container.objects.get(code="CYL-1").last_weighed_on == dt.date(2026, 2, 1), said


def test_a_mapping_is_used_again_for_a_sheet_with_the_same_heads(bring):
    with writing():
        SheetMapping.objects.create(
            name="old list",
            kind="stock",
            heads={"ding": "container", "inhaltsstoff": "substance", "was": "kind", "wieviel": "net", "wo": "location"},
            answers={"unit:net": "g"},
        )
    text = "Ding;Inhaltsstoff;Was;Wieviel;Wo\nC-1;R134a;Dose;340;A\n"
    code, said = bring(text, "stock", {"date": "2026-01-05"}, mapping="old list")
    assert code == 0 and contents()["C-1"][2] == 340_000, said


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "holds no cell"),
        (b"%PDF-1.7 ...", "no spreadsheet"),
        (b"PK\x03\x04 and then nothing", "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"), "protected by a password"),
        (b"just words\n", "No table was found"),
    ],
)
def test_what_is_no_sheet_is_refused_clearly(bring, body, said):
    code, told = bring(body, "stock", name="thing.xlsx")
    assert code == 1 and said in told


def test_it_says_how_it_is_called_wrongly(bring):
    assert bring(STOCK, "stock", mapping="no such")[0] == 2
    assert bring(STOCK, "stock", sheet="No such")[0] == 2


def test_what_a_log_is_asked_about_is_asked_of_a_sheet_and_loaded_after_one_yes(bring):
    bring(STOCK, "stock", {"date": "2026-01-05"})
    counted = "Code,Date,Gross\nC-1,2026-01-06,4400 g\n"
    code, said = bring(counted, "counts", name="Count.csv")
    assert code == 1 and "sure: Is this right" in said and "Count!C2: " in said
    mark = re.search(r"^ {4}([0-9a-f]{16}): yes", said, re.MULTILINE)[1]
    assert bring(counted, "counts", {"sure": "0" * 16}, name="Count.csv")[0] == 1
    code, said = bring(counted, "counts", {"sure": mark}, name="Count.csv")
    assert code == 0, said
    assert LoadedLog.objects.order_by("-id").first().confirmed == [["counts.csv:1: gross", "4400 g"]]


def test_a_delivery_that_stands_already_is_asked_about(bring):
    came = "Date,Document,Supplier,Gas,Kind,Net\n2026-01-06,L-1,Nord,R134a,can,340 g\n"
    assert bring(came, "deliveries", {}, name="A.csv")[0] == 0
    code, said = bring(came.replace("340 g", "350 g"), "deliveries", {}, name="B.csv")
    assert code == 1 and "B!B2: " in said and "stands as voucher" in said
