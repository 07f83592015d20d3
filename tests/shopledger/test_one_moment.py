"""Reports, pages, bundles and backups while somebody posts: head, figures and vouchers are of one moment."""

import datetime as dt
import io
import json
import re
import zipfile

import pytest
from django.core.management import call_command
from django.test import Client
from pypdf import PdfReader

from inventory.ledger.queries import head
from jobs.people.models import Person
from shopledger.reporting import output
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.meanwhile import load_log, two_connections
from tests.shopledger.test_reports import LOG

pytestmark = pytest.mark.django_db(transaction=True)
FIRST, LAST = dt.date(2026, 1, 1), dt.date(2026, 3, 31)
QUARTER = Period(FIRST, LAST)
DAYS = f"first={FIRST}&last={LAST}"

# Where the rulebook asks for every report there is.
BEFORE = LOG | {"shop": LOG["shop"].replace("generic", "australia")}
# A log says of no job that it was a disposal, of no gas that it is a customer's, and holds no orders.
LOGGED = [name for name in REPORTS if name not in {"disposals", "kept", "apart", "apart-variances", "orders"}]

# Something for each report: a delivery, a job that finds 20 g missing, a shipment.
POSTED = {
    "shop": BEFORE["shop"],
    "people": "username,name,role,scheme,certificate,issuer,issued,expires\n"
    "ines,Ines Example,technician,Trade school,C-1,School,2024-01-15,2026-01-31\n"
    "tom,Tom Example,technician,Trade school,C-2,School,2024-01-15,2026-12-31\n",
    "receipts": "date,document,supplier,container,kind,substance,grade,net,tare,location,price,received_by\n"
    "2026-02-10,D-2,Gas Supply,CAN-9,can,R-134a,virgin,340 g,110 g,Store,12.50,omar\n",
    "jobs": "job,date,technician,customer,unit,vin,substance,charge_min,charge_max\n"
    "J-2,2026-02-12,ines,Ada Example,EX 1,,R-134a,80 g,120 g\n",
    "job_lines": "job,action,container,before,after,quantity\nJ-2,charge,CYL,15380 g,15280 g,\n",
    "shipments": "date,document,party,purpose,container,quantity\n2026-02-13,S-2,Renew,reclaim,CYL,1 kg\n",
}


@pytest.fixture
def somebody(transactional_db, tables, tmp_path, settings):
    """A shop with a past, and somebody else who is at work in it."""
    settings.DATA_DIR = tmp_path
    with two_connections(tables, tmp_path) as found:
        load_log(BEFORE, tmp_path / "log")
        yield found


def test_somebody_posts_for_every_report(somebody):
    """What the tests below rest on: what he posts is seen by each report, whether he is held up or not."""
    before = {name: output.make(REPORTS[name], QUARTER, None, "o").table for name in LOGGED}
    somebody.post(POSTED)
    for name in LOGGED:
        assert output.make(REPORTS[name], QUARTER, None, "o").table.rows != before[name].rows, name


def paper(name):
    """Head, table and PDF of a report."""
    made = output.make(REPORTS[name], QUARTER, None, "o", drawn=True)
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(output.written(made, "pdf"))).pages)
    return (made.number, made.digest), made.table, text


@pytest.mark.parametrize("name", LOGGED)
def test_a_report_is_of_one_moment(somebody, monkeypatch, name):
    monkeypatch.setattr(output, "now", lambda: dt.datetime(2026, 4, 1, tzinfo=dt.UTC))
    before = paper(name)
    somebody.when(monkeypatch, "shopledger.reporting.output.head", POSTED)
    assert paper(name) == before
    somebody.catch_up(POSTED)
    after = paper(name)
    assert after[0] == head() != before[0] and after[1] != before[1]


# What each answer has anew: the token and the keys of its forms, and what the clock says.
OF_THE_ANSWER = r'name="(csrfmiddlewaretoken|key)" value="[\w-]+"|"X-CSRFToken": *"\w+"|\d\d:\d\d'


def said(client, address):
    """A page as it is read: without what changes with each request."""
    answer = client.get(address)
    assert answer.status_code == 200
    text = answer.content.decode()
    return re.sub(OF_THE_ANSWER, "", text)


PAGES = {
    f"/reports/usage/?{DAYS}&compare=year": ("shopledger.reporting.output.head", True),
    "/reports/usage/?first=2026-04-01&last=2026-06-30&compare=before": (
        "shopledger.report_pages.views._compared",
        False,
    ),
    f"/reports/usage/movements/?{DAYS}&substance=R-134a&column=received": (
        "shopledger.reports.behind.total",
        False,
    ),
    "/month/?month=2026-02": ("shopledger.monthend.views.steps", True),
    "/ledger/": ("inventory.vouchers.views.head", False),
    "/stock/": ("inventory.containers.queries.on_hand", True),
    "/proof/?digest={digest}": ("shopledger.inspection.views.voucher_containing", True),
}


@pytest.mark.parametrize("address", PAGES)
def test_a_page_is_of_one_moment(somebody, monkeypatch, address):
    client = Client()
    client.force_login(Person.objects.create_user("olive", password="a long one", name="Olive", role="owner"))
    asked = address.format(digest=head()[1])
    before = said(client, asked)
    name, after = PAGES[address]
    somebody.when(monkeypatch, name, POSTED, after=after)
    assert said(client, asked) == before
    somebody.catch_up(POSTED)
    assert said(client, asked) != before


MADE_ANEW = re.compile(r"\.pdf$|^index\.html$")  # says when it was made
ENTERED = re.compile(MADE_ANEW.pattern + r"|^links\.bin$|^receipt\.json$")  # names the entry of the bundle before
PASSING = re.compile(r"upkeep|django_session")


def members(path, left_out):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist() if not left_out.search(name)}


def apart(manifest, *names):
    """A manifest without what tells when it was made."""
    return {name: value for name, value in json.loads(manifest).items() if name not in {"made_at", "files", *names}}


def test_a_bundle_is_of_one_moment(somebody, monkeypatch, tmp_path):
    def bundle(name):
        call_command("bundle", "--from", str(FIRST), "--to", str(LAST), "--output", str(tmp_path / name))
        found = members(tmp_path / name, ENTERED)
        return json.loads(found["manifest.json"])["head"]["number"], apart(found.pop("manifest.json"), "head"), found

    number, *before = bundle("before.zip")
    somebody.when(monkeypatch, "shopledger.inspection.bundle.head", POSTED)
    at, *during = bundle("during.zip")
    assert during == before and at == number + 1, "the entry of the bundle before came between, and nothing else"
    somebody.catch_up(POSTED)
    at, manifest, found = bundle("after.zip")
    assert (at, manifest["ledger"]) == (head()[0] - 1, before[0]["ledger"])
    assert {name for name in found if name.endswith(".csv") and found[name] == before[1][name]} <= {
        "who.csv",
        "reports/apart.csv",
        "reports/apart-variances.csv",
        "reports/disposals.csv",
        "reports/kept.csv",
    }


def test_a_backup_is_of_one_moment(somebody, monkeypatch, tmp_path):
    def backup(name):
        call_command("backup", str(tmp_path / name))
        found = members(tmp_path / name, PASSING)
        return apart(found.pop("backup.json"), "tables"), found

    before = backup("before.zip")
    somebody.when(monkeypatch, "shopledger.backup.backup.kept_models", POSTED, after=False)
    assert backup("during.zip") == before
    assert somebody.posted, "a backup holds nobody up"
    manifest, found = backup("after.zip")
    assert manifest["head"]["number"] == head()[0] and found != before[1]
