"""Customers and partners change their names: pages and papers follow, what is sealed and chained stays as it was."""

import csv
import datetime as dt
import io
import json
import re
import zipfile

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from inventory.ledger.accounts import PARTIES
from inventory.ledger.models import Account, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import save_party
from inventory.parties.models import Party
from inventory.shop.clock import today
from jobs.units.actions import change_customer
from jobs.units.models import Customer, Unit
from shopledger.inspection.bundle import write_bundle
from shopledger.inspection.check import check_bundle
from shopledger.inspectors.actions import issue_access
from shopledger.logbook.actions import LogRefused, load
from shopledger.reporting.output import make, written
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from shopledger.sealing.actions import issue, seal_period
from tests.kept import made
from tests.shopledger.test_reports import LOG, log  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
QUARTER = Period(dt.date(2026, 1, 1), dt.date(2026, 3, 31))


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()


def files(kind="csv"):
    return {name: written(make(report, QUARTER, None, "x", drawn=True), kind) for name, report in REPORTS.items()}


def code_of(name):
    party = Party.objects.filter(name=name).first()
    return party.code if party else Customer.objects.get(name=name).code


def rename_all():
    """Everybody gets another name. Returns the old names and the new ones."""
    old, new = [], []
    for party in Party.objects.all():
        old.append(party.name)
        new.append(f"Zz {party.code}")
        said = {"role": party.role, "address": party.address, "registration": party.registration}
        save_party(party=party, name=new[-1], **said)
    for customer in Customer.objects.all():
        old.append(customer.name)
        new.append(f"Aa {customer.code}")
        change_customer(customer, by=None, name=new[-1])
    return old, new


def test_a_sealed_period_s_files_stay_byte_for_byte_whatever_anybody_is_called(log, owner_client):  # noqa: F811
    Party.objects.filter(role="reclaimer").update(registration="")  # so that the findings name it
    made = seal_period(QUARTER.last, "olive")
    issue(made, "olive")
    before = files()
    old, new = rename_all()
    assert len(old) == 3
    assert files() == before
    assert verify().faults == []
    for name in ("purchases", "shipments", "jobs", "findings"):
        page = owner_client.get(f"/reports/{name}/?first={QUARTER.first}&last={QUARTER.last}").content.decode()
        made = make(REPORTS[name], QUARTER, None, "x", drawn=True)
        paper = PdfReader(io.BytesIO(written(made, "pdf"))).pages[0].extract_text()
        for shown in (page, " ".join(paper.split())):
            assert any(one in shown for one in new), name
            assert not any(one in shown for one in old), name


def test_the_pages_of_movements_name_parties(log, owner_client):  # noqa: F811
    rename_all()
    gas = Party.objects.get(role="supplier")
    asked = f"first={QUARTER.first}&last={QUARTER.last}&substance=R-134a&column=received"
    page = owner_client.get(f"{reverse('report-movements', args=['usage'])}?{asked}").content.decode()
    assert f"{gas.name} ({gas.code})" in page and "Gas Supply" not in page
    number = Voucher.objects.get(kind="receipt").number
    assert f"{gas.name} ({gas.code})" in owner_client.get(reverse("voucher", args=[number])).content.decode()
    export = b"".join(owner_client.get("/ledger/?kind=receipt&export=csv").streaming_content).decode()
    assert {row["From"] for row in csv.DictReader(io.StringIO(export))} == {gas.code}


def test_an_inspector_reads_names_with_their_codes(log, owner):  # noqa: F811
    rename_all()
    gas, ada = Party.objects.get(role="supplier"), Customer.objects.get()
    access, _ = issue_access(name="Ira", first=QUARTER.first, last=QUARTER.last, until=today(), by=owner)
    client = Client()
    client.force_login(access.person)
    for kind, said in (("receipt", gas), ("job", ada)):
        number = Voucher.objects.get(kind=kind).number
        page = client.get(reverse("inspect-voucher", args=[number])).content.decode()
        assert f"{said.name} ({said.code})" in page, kind


def test_a_container_whose_code_looks_like_a_party_s_is_not_called_by_its_name(log, owner_client):  # noqa: F811
    gas = Party.objects.get(role="supplier")
    Account.objects.filter(cls=1, name="CAN-1").update(name=gas.code)
    number = Voucher.objects.get(kind="receipt").number
    page = owner_client.get(reverse("voucher", args=[number])).content.decode()
    assert re.search(rf"container\s+{gas.code}", page), "the can"
    assert re.search(rf"supplier\s+Gas Supply \({gas.code}\)", page)


def test_a_bundle_says_who_its_codes_are_and_is_proved_without_names(log, tmp_path):  # noqa: F811
    gas, renew, ada = Party.objects.get(name="Gas Supply"), Party.objects.get(name="Renew"), Customer.objects.get()
    stranger = made(Party, name="Not In It", role="supplier")
    change_customer(ada, by=None, name="Ada Newname")
    seal_period(QUARTER.last, "olive")
    write_bundle(QUARTER, tmp_path / "bundle.zip", "x")
    assert check_bundle(tmp_path / "bundle.zip").vouchers == Voucher.objects.filter(day__lte=QUARTER.last).count()
    with zipfile.ZipFile(tmp_path / "bundle.zip") as archive:
        who = archive.read("who.csv").decode()
        said = {name: archive.read(name).decode() for name in archive.namelist() if name.endswith((".csv", ".jsonl"))}
    assert who.splitlines() == [
        "code,name,address,registration,erased_on",
        f"{ada.code},Ada Newname,,,",
        *sorted([f"{gas.code},Gas Supply,,,", f'{renew.code},Renew,"3 Road, Town",R-7,']),
        f"{Unit.objects.get().code},EX 1,,,",
        "ines,Ines Example,,,",
        "omar,Omar Example,,,",
    ]
    assert stranger.code not in who
    lines = said["records.jsonl"].splitlines()
    said["records.jsonl"] = "".join(line for line in lines if json.loads(line)["kind"] != "words")
    for name in {*said} - {"who.csv"}:
        found = [one for one in ("Gas Supply", "Renew", "Ada Example", "Ada Newname") if one in said[name]]
        assert not found, name


# -- a log names people and partners -----------------------------------------------------------------------------


def loaded(folder, **changed):
    folder.mkdir()
    for name, text in (LOG | changed).items():
        if text is not None:
            (folder / f"{name}.csv").write_text(text)
    try:
        load(folder)
    except LogRefused as refused:
        pytest.fail("\n".join(refused.faults))


def ends():
    return set(Account.objects.filter(cls__in=PARTIES).values_list("cls", "name"))


def test_a_log_finds_the_party_that_is_there_or_makes_it(db, tmp_path):
    gas = made(Party, name="Gas Supply", role="supplier", address="9 Road")
    loaded(tmp_path / "log")
    renew = Party.objects.get(name="Renew")
    assert ends() == {(3, gas.code), (5, renew.code)} and Party.objects.count() == 2
    assert (renew.registration, Party.objects.get(pk=gas.pk).address) == ("R-7", "9 Road")


def test_a_log_without_a_file_of_parties_makes_them_up_once(db, tmp_path):
    returned = "date,document,party,purpose,container,quantity\n2026-02-03,S-1,Gas Supply,return,REC,\n"
    loaded(tmp_path / "log", parties=None, shipments=returned)
    assert ends() == {(3, Party.objects.get().code)}


def test_a_name_of_two_roles_is_the_one_that_the_row_means(db, tmp_path):
    parties = "name,role,address,registration\nGas Supply,reclaimer,,R-7\nGas Supply,supplier,,\n"
    shipments = "date,document,party,purpose,container,quantity\n2026-02-03,S-1,Gas Supply,reclaim,REC,\n"
    loaded(tmp_path / "log", parties=parties, shipments=shipments)
    codes = dict(Party.objects.values_list("role", "code"))
    assert ends() == {(3, codes["supplier"]), (5, codes["reclaimer"])}
