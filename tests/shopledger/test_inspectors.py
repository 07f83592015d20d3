"""An inspector's sign-in: reads its period, changes nothing, reaches nothing else, and ends by itself."""

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from inventory.attachments.actions import attach
from inventory.ledger.models import Record, Voucher
from inventory.ledger.queries import head
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.people.models import Certificate, Person
from shopledger.inspection.models import BundleOrder
from shopledger.inspectors.actions import LONGEST_DAYS, end_access, issue_access
from shopledger.inspectors.models import InspectorAccess, Look
from shopledger.reports.registry import REPORTS
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay  # noqa: F401 (fixture)
from tests.shopledger.test_every_page import ALL, ODD, addresses  # noqa: F401 (fixture)
from tests.shopledger.test_reports import log  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
JANUARY = (dt.date(2026, 1, 1), dt.date(2026, 1, 31))
REACHED = {name for name, _ in ALL if name.startswith("inspect-")} | {"inspect"}


def issue(owner, first=JANUARY[0], last=JANUARY[1], until=None):
    return issue_access(name="Ira Example, agency", first=first, last=last, until=until or today(), by=owner)


@pytest.fixture
def access(log, owner):  # noqa: F811
    return issue(owner)[0]


@pytest.fixture
def visit(access):
    client = Client()
    client.force_login(access.person)
    return client


def test_the_owner_issues_it_and_sees_the_password_once(log, owner_client, office_client):  # noqa: F811
    form = {"name": "Ira Example", "first": "2026-01-01", "last": "2026-01-31", "until": str(today())}
    answer = owner_client.post("/inspectors/", form)
    access = InspectorAccess.objects.get()
    page = owner_client.get(answer.url)
    password = page.context["password"]
    assert "not shown again" in page.content.decode() and password and page["Cache-Control"] == "no-store"
    assert password not in owner_client.get(answer.url).content.decode()
    client = Client()
    assert client.login(username=access.person.username, password=password)
    signed_in = client.get("/")
    assert (signed_in.status_code, signed_in.url) == (302, "/inspect/")
    assert "Ira Example" in owner_client.get("/inspectors/").content.decode()
    assert office_client.get("/inspectors/").status_code == 403
    assert Record.objects.filter(kind="inspector-access").exists()


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"first": dt.date(2026, 2, 1)}, "last"),
        ({"until": dt.date(2020, 1, 1)}, "until"),
        ({"until": dt.date(2999, 1, 1)}, "until"),
    ],
)
def test_days_that_make_no_sense_are_refused(shop, owner, values, field):
    with pytest.raises(Refused) as refused:
        issue(owner, **values)
    assert refused.value.field == field and not InspectorAccess.objects.exists()


def test_it_reads_the_records_of_its_period(visit, log, uploads):  # noqa: F811
    number = Voucher.objects.get(kind="receipt").number
    paper = attach(subject=f"voucher:{number}", upload=SimpleUploadedFile("i.pdf", PDF), by="omar")
    scan = attach(
        subject=f"certificate:{Certificate.objects.get().pk}", upload=SimpleUploadedFile("s.pdf", PDF), by="olive"
    )
    for name, report in REPORTS.items():
        if report.of_money:
            assert visit.get(f"/inspect/reports/{name}/").status_code == 404, name
            continue
        page = visit.get(f"/inspect/reports/{name}/")
        assert page.status_code == 200 and "2026-01-01" in page.content.decode() or "1 Jan" in page.content.decode()
        for kind in ("csv", "xlsx", "json", "pdf"):
            assert visit.get(f"/inspect/reports/{name}/?format={kind}").status_code == 200
    job = Job.objects.get()
    sheet = visit.get(f"/inspect/jobs/{job.pk}/")
    assert sheet["Content-Type"] == "application/pdf"
    import io

    assert "J-1" in PdfReader(io.BytesIO(sheet.content)).pages[0].extract_text()
    assert f"/inspect/jobs/{job.pk}/" in visit.get("/inspect/jobs/").content.decode()
    assert f"/inspect/vouchers/{number}/" in visit.get("/inspect/vouchers/").content.decode()
    assert "i.pdf" in visit.get(f"/inspect/vouchers/{number}/").content.decode()
    for one in (paper, scan):
        assert visit.get(f"/inspect/files/{one.pk}/").content == PDF
    assert "holds it" in visit.get(f"/inspect/proof/?digest={head()[1]}").content.decode()


def test_records_of_other_days_are_not_found(visit, log, uploads):  # noqa: F811
    shipment = Voucher.objects.get(kind="shipment")
    paper = attach(subject=f"voucher:{shipment.number}", upload=SimpleUploadedFile("i.pdf", PDF), by="omar")
    stray = attach(subject="machine:1", upload=SimpleUploadedFile("i.pdf", PDF), by="omar")
    assert shipment.day > JANUARY[1]
    for address in (
        f"/inspect/vouchers/{shipment.number}/",
        f"/inspect/files/{paper.pk}/",
        f"/inspect/files/{stray.pk}/",
        "/inspect/vouchers/999999/",
        "/inspect/jobs/999999/",
        "/inspect/reports/nothing/",
    ):
        assert visit.get(address).status_code == 404, address
    assert f"/vouchers/{shipment.number}/" not in visit.get("/inspect/vouchers/").content.decode()
    said = visit.get(f"/inspect/proof/?digest={shipment.digest}").content.decode()
    assert "holds it" in said and f"voucher {shipment.number}" not in said
    assert "2026-02-03" not in visit.get("/inspect/reports/shipments/?format=csv").content.decode()
    assert (
        "2026-02-03"
        not in visit.get("/inspect/reports/shipments/?format=csv&first=2020-01-01&last=2030-01-01").content.decode()
    )


def test_jobs_of_other_days_are_not_found(log, owner):  # noqa: F811
    client = Client()
    client.force_login(issue(owner, dt.date(2026, 2, 1), dt.date(2026, 2, 28))[0].person)
    assert client.get(f"/inspect/jobs/{Job.objects.get().pk}/").status_code == 404
    assert "No job was signed" in client.get("/inspect/jobs/").content.decode()


def test_only_bundles_inside_the_period_are_offered(visit, access):
    inside = BundleOrder.objects.create(first=JANUARY[0], last=JANUARY[1], by="olive", state="made")
    outside = BundleOrder.objects.create(first=JANUARY[0], last=dt.date(2026, 2, 1), by="olive", state="made")
    page = visit.get("/inspect/").content.decode()
    assert f"/inspect/bundles/{inside.pk}/" in page and f"/inspect/bundles/{outside.pk}/" not in page
    assert visit.get(f"/inspect/bundles/{outside.pk}/").status_code == 404


def test_it_reaches_no_page_but_its_own_and_changes_nothing(addresses, owner):  # noqa: F811
    """Every address of the site, found in the URL list, by GET and by POST."""
    access = issue(owner, dt.date(2020, 1, 1), today())[0]
    client = Client()
    client.force_login(access.person)
    last, before = head()[0], (Person.objects.count(), Job.objects.count())
    for name, address in addresses.items():
        if name in {"sign-out", "sign-in", "worker", "healthz"}:  # open to everybody, and say nothing of the shop
            continue
        got, sent = (
            client.get(address).status_code,
            client.post(address, dict.fromkeys(("key", "note"), ODD[1])).status_code,
        )
        if name == "home":
            assert (got, sent) == (302, 302)
        elif name in REACHED:
            assert got in {200, 404} and sent == 403, (name, got, sent)
        else:
            assert (got, sent) == (403, 403), (name, got, sent)
    assert (Person.objects.count(), Job.objects.count()) == before
    since = Voucher.objects.filter(number__gt=last)
    assert set(since.values_list("kind", "records__kind")) == {("record", "look"), ("record", "words")}
    assert since.count() == access.looks.count(), "what was looked at is evidence, and nothing else was written"


def test_staff_do_not_open_an_inspector_s_pages(addresses, owner_client):  # noqa: F811
    for name in REACHED:
        assert owner_client.get(addresses[name]).status_code == 403, name


def test_what_is_looked_at_is_kept_and_cannot_be_changed(visit, access, owner_client):
    visit.get("/inspect/reports/usage/?format=csv")
    visit.get("/people/")
    looks = [(one.path, one.allowed) for one in Look.objects.all()]
    assert looks == [("/people/", False), ("/inspect/reports/usage/?format=csv", True)]
    page = owner_client.get(f"/inspectors/{access.pk}/").content.decode()
    assert "/inspect/reports/usage/?format=csv" in page and "not shown" in page
    with pytest.raises(DatabaseError), transaction.atomic():
        Look.objects.all().delete()


@pytest.mark.parametrize("days", [0, 1])
def test_it_ends_by_itself_after_its_last_day(log, owner, monkeypatch, days):  # noqa: F811
    access, password = issue(owner)
    client = Client()
    assert client.login(username=access.person.username, password=password)
    then = today() + dt.timedelta(days=days)
    for place in ("shopledger.inspectors.middleware.today", "shopledger.signin.ways_in.today"):
        monkeypatch.setattr(place, lambda: then)
    answer = client.get("/inspect/")
    assert answer.status_code == (200 if days == 0 else 302)
    if days:
        assert "/sign-in/" in answer.url and "_auth_user_id" not in client.session
        again = client.post("/sign-in/", {"username": access.person.username, "password": password})
        assert again.status_code in {200, 422} and "do not belong together" in again.content.decode()


def test_the_owner_ends_it_at_once(visit, access, owner, owner_client, technician_client):
    assert visit.get("/inspect/").status_code == 200
    assert technician_client.post(f"/inspectors/{access.pk}/end/").status_code == 403
    assert owner_client.get(f"/inspectors/{access.pk}/end/").status_code == 405
    for _ in range(2):
        assert owner_client.post(f"/inspectors/{access.pk}/end/").status_code == 302
    assert visit.get("/inspect/").status_code == 302
    access.refresh_from_db()
    assert access.ended_by == "olive" and not Person.objects.get(pk=access.person_id).is_active
    assert end_access(access.pk, by=owner).ended_by == "olive"


def test_an_inspector_is_no_member_of_the_shop(access, owner_client):
    assert "Ira Example" not in owner_client.get("/people/").content.decode()
    for name in ("person", "person-edit", "person-password", "certificate-new"):
        assert owner_client.get(reverse(name, args=[access.person_id])).status_code == 404, name
    assert LONGEST_DAYS == 90
    assert "Inspector" not in owner_client.get("/people/new/").content.decode().split("<main")[-1].split("</form>")[0]
