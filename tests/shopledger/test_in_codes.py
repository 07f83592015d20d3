"""What leaves the program as a file, or is kept as issued, holds no word that may have to be erased one day: everybody
is called by a code there, and what people wrote is left out. Pages and papers drawn now say it all."""

import csv
import datetime as dt
import io
import json
import re
import zipfile

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from inventory.attachments.actions import attach
from inventory.containers.actions import take_back
from inventory.containers.models import Weighing
from inventory.counting.actions import explain
from inventory.ledger.models import Seal, Voucher
from inventory.parties.models import Party
from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook
from jobs.drafts.models import Job
from jobs.leaks.case import Appliance
from jobs.leaks.case_queries import leaks_from
from jobs.leaks.leak_rate import ByDay, Visit, history
from jobs.people.models import Person
from jobs.units.models import Customer, Unit
from shopledger.findings.queries import findings
from shopledger.findings.rules import leak_rate
from shopledger.inspection.bundle import write_bundle
from shopledger.inspection.check import check_bundle
from shopledger.inspection.models import BundleOrder
from shopledger.logbook.actions import LogRefused, load
from shopledger.reporting.output import make, written
from shopledger.reporting.report import MEASURED, QUANTITIES, Period, Worded, called, joined, with_code
from shopledger.reports.registry import REPORTS, wanted
from shopledger.sealing.actions import issue, seal_period
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.proof import read_issued
from tests.inventory.test_attachments import PDF
from tests.kept import saved
from tests.shopledger.test_findings_year import CERTIFICATES
from tests.shopledger.test_findings_year import LOG as OF_2026

pytestmark = pytest.mark.django_db
YEAR = Period(dt.date(2025, 1, 1), dt.date(2025, 12, 31))
ASKED = f"first={YEAR.first}&last={YEAR.last}"
MARKED = re.compile(r"zq\w*", re.IGNORECASE)  # each name, address, plate, note and reason of this world begins so
CODE = re.compile(r"\b[CPU]-\d{6}\b")
PEOPLE = ("ines", "timo", "hugo", "omar")

LOG = {name: text.replace("2026-", "2025-") for name, text in OF_2026.items()} | {
    "parties": "name,role,address,registration\nZqrenew,reclaimer,Zqrenewroad,\nZqsupply,supplier,Zqsupplyroad,\n"
}
NAMES = {"Renew": "Zqrenew", "Gas Supply": "Zqsupply", "Ada": "Zqada", "Ben": "Zqben", "Cas": "Zqcas"}
NAMES |= {"CAR 1": "Zqfirstcar", "CAR 2": "Zqsecondcar", "COLD ROOM": "Zqcoldroom"}


def marked(text):
    for name, word in NAMES.items():
        text = text.replace(f",{name},", f",{word},")
    return text


@pytest.fixture(params=list(CERTIFICATES))
def world(db, settings, tmp_path, request):
    """A year in which each rule objects to something, and in which every word that somebody chose is marked."""
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    vehicles, stationary = CERTIFICATES[request.param]
    files = {name: text if name == "parties" else marked(text) for name, text in LOG.items()} | {
        "shop": f"name,address,timezone,rulebook,readability\nExample,1 Road,UTC,{request.param},1 g\n",
        "people": "username,name,role,scheme,certificate,issuer,issued,expires\n"
        f"ines,Zqines,technician,{vehicles},C-1,School,2024-10-15,\n"
        f"hugo,Zqhugo,technician,{stationary},C-2,School,2022-10-15,\n"
        "timo,Zqtimo,technician,,,,,\nomar,Zqomar,office,,,,,\n",
    }
    folder = tmp_path / "log"
    folder.mkdir()
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    try:
        load(folder)
    except LogRefused as refused:
        pytest.fail("\n".join(refused.faults))
    said_by_hand()
    return request.param


def said_by_hand():
    """What a log does not say: it is entered as a shop would, or set where only the reading of it matters here."""
    for one in Unit.objects.all():
        saved(one, plate=f"ZQP {one.pk}", vin=f"ZQVIN{one.pk:04d}", note="Zqunitnote")
    saved(Unit.objects.get(name="Zqcoldroom"), kind="stationary", exactly="refrigeration")
    for one in Customer.objects.all():
        saved(one, address="Zqstreet", phone="Zqphone", note="Zqcustomernote")
    saved(Person.objects.get(username="timo"), trainee_since=dt.date(2025, 2, 1))
    Job.objects.update(complaint="Zqcomplaint", note="Zqjobnote", repairs="Zqrepairs")
    Job.objects.filter(number="J-2").update(reasons={"certificate-recover": "Zqsupervisor"})
    Job.objects.filter(number="J-3").update(reasons={"over": "Zqreason"})
    Job.objects.filter(number="J-6").update(leak_result="found, not repaired", system_opened=True)
    counted = Weighing.objects.get(role="count")
    explain(weighing_id=counted.pk, reason="leaked", note="Zqexplained", by="omar")
    take_back(Voucher.objects.get(document="S-1").number, by="omar", note="Zqtakenback")


def files(name, key=None, *kinds):
    made = make(REPORTS[name], YEAR, key, called("omar", "Zqomar"), drawn=True)
    return {kind: written(made, kind) for kind in kinds or ("csv", "xlsx", "json")}


def in_words(kind, body):
    """All that a file says, as text."""
    if kind == "pdf":
        return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(body)).pages)
    if kind != "xlsx":
        return body.decode()
    book = openpyxl.load_workbook(io.BytesIO(body))
    return " ".join(str(value) for sheet in book for row in sheet.iter_rows(values_only=True) for value in row)


def runs():
    return [(name, key) for name, report in REPORTS.items() for key in (None, *report.keys)]


def test_no_file_of_a_report_holds_a_word_that_somebody_chose(world):
    for name, key in runs():
        for kind, body in files(name, key).items():
            assert MARKED.findall(in_words(kind, body)) == [], (name, key, kind)
    who = json.loads(files("usage")["json"])["made_by"]
    assert who == "omar"


def test_each_report_says_in_what_its_quantities_are(world):
    """In a column of its own or once beneath the table: 12.000 alone may be g or mL."""
    for name, key in runs():
        table = REPORTS[name].rows(YEAR, key)
        if table.rows and any(column.kind in QUANTITIES for column in table.columns):
            names = [column.name for column in table.columns]
            told = "unit" in names and table.rows[0][names.index("unit")] in ("g", "mL")
            assert told or MEASURED in table.notes or any(", in g:" in note for note in table.notes), (name, key)


@pytest.mark.parametrize("world", ["us-federal", "eu"], indirect=True)
def test_no_report_that_is_kept_as_issued_holds_one_either(world, owner_client, owner):
    saved(owner, name="Zqowner")
    owner_client.post("/seals/new/", {"through": str(YEAR.last), "sure": "on"})
    rows = list(IssuedReport.objects.all())
    assert len(rows) == 2 * len(wanted(rulebook(world), YEAR.last))
    for row in rows:
        said = in_words(row.format, read_issued(row))
        assert MARKED.findall(said) == [], (row.report, row.format)
        if row.report == "shipments":
            assert Party.objects.get(name="Zqrenew").code in said
    made = Seal.objects.get()
    assert {made.made_by, *(row.made_by for row in rows)} == {owner.username}
    for address in ("/seals/", f"/seals/{made.pk}/"):
        assert "Zqowner" in owner_client.get(address).content.decode(), "a page calls people by their names"


# What pages and papers say, by report: in what is drawn now everybody has a name, and reasons are told.
SHOWN = {
    "jobs": {"Zqines", "Zqtimo", "Zqhugo", "Zqada", "Zqben", "Zqcas", "Zqfirstcar", "Zqsecondcar", "Zqcoldroom"},
    "purchases": {"Zqsupply", "Zqines"},
    "shipments": {"Zqrenew", "Zqrenewroad"},
    "people": {"Zqines", "Zqtimo", "Zqhugo"},
    "units": {"Zqfirstcar", "Zqsecondcar", "Zqcoldroom"},
    "findings": {"Zqtimo", "Zqcoldroom", "Zqrenew"},
}


@pytest.mark.parametrize("world", ["us-federal"], indirect=True)
def test_pages_and_papers_drawn_now_say_names(world, office_client):
    for name, words in SHOWN.items():
        page = office_client.get(f"/reports/{name}/?{ASKED}").content.decode()
        paper = in_words("pdf", files(name, None, "pdf")["pdf"])
        for shown in (page, paper):
            assert words <= set(MARKED.findall(shown)), name
    page = office_client.get(f"/reports/findings/?{ASKED}").content.decode()
    assert "reason given: Zqreason" in page, "a paper cuts what is long"
    assert "Zqtakenback" in in_words("pdf", files("shipments", None, "pdf")["pdf"])
    page = office_client.get(f"/reports/usage/?{ASKED}&by=technician").content.decode()
    assert {"Zqines", "Zqhugo", "Zqomar"} <= set(MARKED.findall(page))


@pytest.mark.parametrize("world", ["eu"], indirect=True)
def test_a_trainee_s_supervisor_is_named_on_pages_only(world, office_client):
    page = office_client.get(f"/reports/findings/?{ASKED}").content.decode()
    assert "Zqsupervisor" in page and "due for a leak check" in page
    said = in_words("csv", files("findings")["csv"])
    assert "Job J-2 of 2025-03-10: timo, in training since 2025-02-01" in said
    cold = Unit.objects.get(name="Zqcoldroom")
    assert f"{cold.code} was due for a leak check" in said


@pytest.mark.parametrize("world", ["eu"], indirect=True)
def test_what_comes_up_later_is_said_in_codes_too(world):
    """A refresher that is due years after, and leaks that lose more than any cold room of this world."""
    found = [one for one in findings(Period(dt.date(2035, 1, 1), dt.date(2035, 12, 31))) if one.rule == "refresher"]
    book = rulebook("us-federal")
    room, lost = Unit.objects.get(name="Zqcoldroom"), Visit(dt.date(2026, 6, 1), 20_000_000)
    full = ByDay(((dt.date(2020, 1, 1), 9_000_000),))
    appliance = Appliance(System("stationary", "R-404A", use="chiller"), history([lost]), full)
    of_2026 = Period(dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    told = leak_rate.Told(leaks_from(room, appliance, book, of_2026.last), of_2026)
    found += [*told.rates(book), *told.chronic(), *(each for case in told.leaks.cases for each in told.late(case))]
    assert {one.rule for one in found} == {"refresher", "leak rate", "leak repair", "chronic leak"}
    for one in found:
        assert MARKED.search(one.what) and not MARKED.search(one.what.coded), one.rule
    assert {code for one in found for code in one.what.codes} == {"ines", "hugo", room.code}


@pytest.mark.parametrize("world", ["us-federal"], indirect=True)
def test_files_call_everybody_by_the_code(world):
    def said(report, *columns):
        rows = csv.DictReader(io.StringIO(in_words("csv", files(report)["csv"])))
        return [tuple(row[column] for column in columns) for row in rows]

    codes = {one.called: one.code for kind in (Party, Customer, Unit) for one in kind.objects.all()}
    first = ("ines", codes["Zqada"], codes["Zqfirstcar"])
    assert said("jobs", "technician", "customer", "unit")[0] == first
    assert said("purchases", "supplier", "certificate_on_file")[0] == (codes["Zqsupply"], "ines: 609 C-1")
    assert said("shipments", "party", "address") == [(codes["Zqrenew"], "")]
    assert said("people", "person") == [("hugo",), ("ines",), ("timo",)]
    assert set(said("units", "unit", "description")) == {(one.code, "") for one in Unit.objects.all()}
    by_technician = in_words("csv", files("usage", "technician")["csv"])
    assert {row["technician"] for row in csv.DictReader(io.StringIO(by_technician))} == {"", *PEOPLE}


@pytest.mark.parametrize("world", ["us-federal"], indirect=True)
def test_the_movements_behind_a_technician_s_figure_are_found_by_the_username(world, office_client):
    page = office_client.get(f"/reports/usage/?{ASKED}&by=technician").content.decode()
    addresses = [one.replace("&amp;", "&") for one in re.findall(r'href="([^"]+movements[^"]+group=[^"]+)"', page)]
    assert addresses and all(re.search(r"group=(ines|timo|hugo|omar)\b", one) for one in addresses)
    assert office_client.get(addresses[0]).status_code == 200


def rename_all():
    """Everybody and everything that has a name gets another one, and moves."""
    for kind in (Party, Customer, Unit, Person):
        for count, one in enumerate(kind.objects.all()):
            saved(one, name=f"Aa zq {kind.__name__} {99 - count}")
    for kind in (Party, Customer):
        for one in kind.objects.all():
            saved(one, address="another zq road")
    for one in Unit.objects.all():
        saved(one, plate=f"ZQNEW{one.pk}", vin=f"ZQOTHER{one.pk:04d}", note="zq")


def rows_of(name, key):
    found = files(name, key)
    sheet = openpyxl.load_workbook(io.BytesIO(found["xlsx"])).worksheets[0]
    return found["csv"], list(sheet.iter_rows(values_only=True)), json.loads(found["json"])["rows"]


@pytest.mark.parametrize(("world", "seal"), [("us-federal", True), ("eu", False)], indirect=["world"])
def test_no_other_name_or_address_changes_a_byte(world, seal):
    if seal:
        seal_period(YEAR.last, "olive")
    before = {run: rows_of(*run) for run in runs()}
    paper = in_words("pdf", files("jobs", None, "pdf")["pdf"])
    rename_all()
    for run, rows in before.items():
        assert rows_of(*run) == rows, run
    assert in_words("pdf", files("jobs", None, "pdf")["pdf"]) != paper


@pytest.mark.parametrize("world", ["us-federal"], indirect=True)
def test_the_report_of_jobs_asks_as_often_for_many_jobs_as_for_one(world, django_assert_num_queries):
    with CaptureQueriesContext(connection) as asked:
        REPORTS["jobs"].rows(Period(YEAR.first, dt.date(2025, 2, 28)), None)
    with django_assert_num_queries(len(asked)):
        assert len(REPORTS["jobs"].rows(YEAR, None).rows) == 6


# -- a bundle ----------------------------------------------------------------------------------------------------


@pytest.fixture
def bundle(world, tmp_path, owner):
    issue(seal_period(YEAR.last, owner.username), owner.username)
    number = Voucher.objects.get(document="D-1").number
    attach(subject=f"voucher:{number}", upload=SimpleUploadedFile("Zqscan.pdf", PDF), by="omar", title="Zqtitle")
    write_bundle(YEAR, tmp_path / "bundle.zip", owner.username)
    assert check_bundle(tmp_path / "bundle.zip").vouchers
    with zipfile.ZipFile(tmp_path / "bundle.zip") as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("world", ["us-federal"], indirect=True)
def test_what_a_bundle_says_in_figures_is_in_codes_and_who_is_meant_stands_beside_it(bundle):
    for name, body in bundle.items():
        if name.endswith((".csv", ".json", ".jsonl")) and name != "who.csv":
            lines = [line for line in body.decode().splitlines() if '"kind":"words"' not in line]
            assert MARKED.findall("".join(lines)) == [], name
        assert MARKED.findall(name) == [], "a file's own name is a word that somebody chose"
    assert any(name.startswith("papers/") and name.endswith(".pdf") for name in bundle)
    assert b"Zqtitle" in bundle["index.html"]
    sheet = next(body for name, body in bundle.items() if name.startswith("jobs/J-1"))
    assert "Zqada" in in_words("pdf", sheet), "it is drawn now"


@pytest.mark.parametrize("world", ["us-federal", "eu"], indirect=True)
def test_who_csv_answers_for_every_code_of_the_bundle(bundle, owner):
    rows = list(csv.DictReader(io.StringIO(bundle["who.csv"].decode())))
    assert list(rows[0]) == ["code", "name", "address", "registration", "erased_on"]
    who = {row["code"]: row for row in rows}
    assert len(who) == len(rows)
    asked = set()
    for name, body in bundle.items():
        if name.endswith((".csv", ".json", ".jsonl")) and name != "who.csv":
            asked |= set(CODE.findall(body.decode()))
    for line in bundle["vouchers.jsonl"].splitlines():
        asked |= {*json.loads(json.loads(line)["text"])[5:7]} & set(Person.objects.values_list("username", flat=True))
    asked |= {row["technician"] for row in csv.DictReader(io.StringIO(bundle["reports/jobs.csv"].decode()))}
    asked |= {row["person"] for row in csv.DictReader(io.StringIO(bundle["reports/people.csv"].decode()))}
    assert asked <= set(who) and {*PEOPLE, owner.username} <= set(who)
    supply, cold = Party.objects.get(name="Zqsupply"), Unit.objects.get(name="Zqcoldroom")
    assert list(who[supply.code].values())[1:] == ["Zqsupply", "Zqsupplyroad", "", ""]
    assert list(who[cold.code].values())[1:] == ["Zqcoldroom", "", "", ""]
    assert list(who["timo"].values())[1:] == ["Zqtimo", "", "", ""]


@pytest.mark.parametrize("world", ["us-federal"], indirect=True)
def test_a_bundle_asked_for_on_a_page_keeps_the_username_and_shows_the_name(world, owner, owner_client):
    saved(owner, name="Zqowner")
    form = {"key": "0d0a3c5e-5a5b-4c39-9d4c-0a6a5b8f1c11", "first": str(YEAR.first), "last": str(YEAR.last)}
    page = owner_client.post("/bundles/", form, follow=True).content.decode()
    assert BundleOrder.objects.get().by == owner.username and "Zqowner" in page
    assert "Zqowner" in owner_client.get("/bundles/").content.decode()


# -- what can be said in two ways --------------------------------------------------------------------------------


def test_a_sentence_is_said_with_names_and_with_codes():
    ada, room = called("C-000001", "Ada"), with_code(called("U-000002", "Cold room"))
    said = joined("For ", ada, ": ", room, Worded(", she said so", ""), ".")
    assert (said, said.coded) == ("For Ada: Cold room (U-000002), she said so.", "For C-000001: U-000002.")
    assert said.codes == {"C-000001", "U-000002"}
    assert joined("Nobody.").coded == "Nobody."
