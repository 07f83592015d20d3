"""Containers of kinds that were added as DEVELOPERS.md says, on every page. Run by `test_made_up_kinds.py` as a program
of its own: the kinds must be there from the first import on."""

import datetime as dt
import io
import re
import uuid

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.autodetector import MigrationAutodetector
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ProjectState
from pypdf import PdfReader

from inventory.containers.models import Container, Location
from inventory.counting.models import Count
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shop.clock import today
from jobs.drafts.actions import start_job
from shopledger.logbook.actions import load
from shopledger.reporting.output import make, written
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.inventory.test_attachments import uploads  # noqa: F401 (a fixture)
from tests.inventory.test_office_pages import delivery
from tests.jobs.test_job_pages import entry
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)
from tests.kept import made
from tests.made_up_kinds import MADE_UP
from tests.shopledger.test_every_page import addresses  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db


def tare(kind):
    """g of an empty one of 500 g: what is filled once is light."""
    return 2_000 if kind.refillable else 300


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """The database as it would be after the migration that makemigrations writes for the new kinds."""
    with django_db_blocker.unblock():
        loader = MigrationLoader(connection)
        before = loader.project_state()
        changes = MigrationAutodetector(before, ProjectState.from_apps(apps)).changes(graph=loader.graph)
        assert {app: len(migrations) for app, migrations in changes.items()} == {"inventory": 1}
        (migration,) = changes["inventory"]
        assert {type(one).__name__ for one in migration.operations} == {
            "RemoveConstraint",
            "AlterField",
            "AddConstraint",
        }
        with connection.schema_editor() as editor:
            migration.apply(before, editor)


@pytest.fixture(params=MADE_UP, ids=lambda kind: kind.code)
def kind(request):
    return request.param


def received(client, *kinds):
    """Three containers of each kind, received on their form, and a cylinder of the same grade: codes by kind."""
    lines = []
    for kind in kinds:
        line = {"kind": kind.code, "substance": "R-134a", "net": "500 g", "tare": f"{tare(kind)} g", "count": "3"}
        lines.append(line | ({"substance": "PAG 46", "net": "500 mL", "tare": ""} if kind.is_oil else {}))
    cylinder = {"kind": "refillable", "substance": "R-134a", "net": "3 kg", "count": "1", "grade": kinds[0].usual_grade}
    lines = [line | {"location": "Store"} for line in (*lines, cylinder)]
    form = delivery(*lines, document="INV-77", day=today().isoformat())
    answer = client.post("/receiving/new/", form)
    assert answer.status_code == 302, answer.content.decode()
    held = Container.objects.filter(kind__in=[kind.code for kind in kinds]).order_by("code")
    found = {kind: [f"{kind.prefix}-{number:04d}" for number in (1, 2, 3)] for kind in kinds}
    assert sorted(held.values_list("kind", "code")) == sorted(
        (kind.code, code) for kind, codes in found.items() for code in codes
    )
    return found


@pytest.fixture
def codes(kind, bay, shop, office_client):  # noqa: F811
    return received(office_client, kind)[kind]


def content(code):
    return Container.objects.select_related("account").get(code=code).content


def post(client, address, expected=302, **data):
    answer = client.post(address, {"key": str(uuid.uuid4()), "day": today().isoformat(), **data})
    assert answer.status_code == expected, (address, answer.content.decode())
    return answer


def test_every_page_shows_them(addresses, office_client, owner_client):  # noqa: F811
    page = office_client.get("/receiving/new/").content.decode()
    assert all(f'<option value="{kind.code}">{kind.label}</option>' in page for kind in MADE_UP)
    of_kind = received(office_client, *MADE_UP)
    for name, address in addresses.items():
        if name in {"sign-out", "health-verify"}:
            continue
        usual = owner_client.get(address).status_code
        assert usual < 500, name
        for codes in of_kind.values() if "CAN-1" in address else ():
            status = owner_client.get(address.replace("CAN-1", codes[0])).status_code
            if name == "container-fill":  # a picture is where its page shows one
                page = owner_client.get(f"/stock/containers/{codes[0]}/").content.decode()
                usual = 200 if f"{codes[0]}/fill.svg" in page else 404
            assert status == usual, (name, codes)
    for kind, codes in of_kind.items():
        page = owner_client.get(f"/stock/?kind={kind.code}").content.decode()
        assert all(code in page for code in codes) and "CAN-1" not in page
        assert codes[0] in owner_client.get(f"/stock/containers/{codes[0]}/").content.decode()
        label = PdfReader(io.BytesIO(owner_client.get(f"/stock/labels/?codes={codes[0]}").content))
        assert codes[0] in label.pages[0].extract_text()


def test_the_office_works_with_it(kind, codes, office_client):
    shown, counted, last = codes
    # Weighed; an oil is looked at. 10 g more than the book has are questioned, and posted once they are confirmed.
    reading = "510" if kind.is_oil else str(tare(kind) + 510)
    post(office_client, f"/stock/containers/{shown}/weigh/", gross=reading, sure="on")
    assert content(shown) == 510_000
    post(office_client, "/stock/move/", codes=[shown], to_location="Van")
    assert Container.objects.get(code=shown).location.name == "Van"
    if not kind.is_oil:
        post(office_client, f"/stock/containers/{shown}/decant/", into="CYL-0001", quantity="100 g")
        assert (content(shown), content("CYL-0001")) == (410_000, 3_100_000)
        filled = office_client.get(f"/stock/containers/{shown}/decant/").content.decode()
        assert (f'<option value="{last}">' in filled) == kind.refillable
        taken = 302 if kind.refillable else 422
        into = post(office_client, "/stock/containers/CYL-0001/decant/", taken, into=last, quantity="50 g")
        assert kind.refillable or "single-use" in into.content.decode()
        grade = "recycled" if kind.usual_grade != "recycled" else "virgin"
        post(office_client, f"/stock/containers/{shown}/regrade/", grade=grade)
    # Counted one by one, at the store.
    place = Location.objects.get(name="Store").pk
    assert office_client.get(f"/counting/{place}/sheet.pdf").status_code == 200
    count = post(office_client, f"/counting/{place}/start/").url
    assert counted in office_client.get(count).content.decode()
    reading = "495 mL" if kind.is_oil else f"{tare(kind) + 500} g"
    post(office_client, count, code=counted, gross=reading)
    post(office_client, f"{count}post/")
    assert Count.objects.get().state == "posted" and content(counted) == (495_000 if kind.is_oil else 500_000)
    # Sent away, where such are; retired.
    buyer = made(Party, name="Renew Works", role="reclaimer", address="3 Road", registration="R-7")
    offered = f'value="{counted}"' in office_client.get("/leaving/new/").content.decode()
    assert offered == kind.goes_away
    sent = post(office_client, "/leaving/new/", purpose="reclaim", party=buyer.pk, codes=[counted]).url
    assert counted in office_client.get(sent).content.decode() and content(counted) == 0
    assert office_client.get(f"/leaving/{sent.strip('/').split('/')[-1]}/receipt/").content.decode().count(counted) >= 1
    post(office_client, "/stock/retire/", codes=[last])
    assert Container.objects.get(code=last).state == "retired"
    every_report(today() - dt.timedelta(days=1), today())
    assert verify().faults == []


def test_a_job_works_with_it(kind, codes, bay, technician, technician_client):  # noqa: F811
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    address = f"/jobs/{job.pk}/"
    page = technician_client.get(address).content.decode()
    assert f'<option value="{codes[0]}">{codes[0]} ·' in page
    assert technician_client.get(f"/scan/{codes[0]}/").url.startswith(f"{address}?scanned={codes[0]}#")

    def enter(action, code, expected=302, **amounts):
        sure = [f"{name} {value} g" for name, value in amounts.items()]  # little, and right as it is
        answer = technician_client.post(f"{address}entry/", entry(action, code, **amounts) | {"sure": sure})
        assert answer.status_code == expected, answer.content.decode()
        return answer.content.decode()

    if kind.is_oil:
        enter("oil-add", codes[0], quantity="30")
        assert "is for PAG 46, not for R-134a" in enter("charge", codes[0], 422, quantity="10")
    else:
        weights = (
            {"before": str(tare(kind) + 500), "after": str(tare(kind) + 480)} if kind.on_scale else {"quantity": "20"}
        )
        enter("charge", codes[0], **weights)
        grade = Container.objects.get(code=codes[0]).grade
        assert (f'<option value="{codes[1]}">{codes[1]} · room' in page) == kind.recovers
        if kind.recovers:
            enter("recover", codes[1], quantity="15")
        if not kind.refillable:
            assert "single-use" in enter("recover", codes[1], 422, quantity="15")
    page = technician_client.get(address).content.decode()
    reasons = dict.fromkeys(re.findall(r'name="(reason-[^"]+)"', page), "a test")
    answer = technician_client.post(f"{address}sign/", reasons)
    assert answer.status_code == 302, answer.content.decode()
    assert codes[0] in technician_client.get(address).content.decode()
    sheet = PdfReader(io.BytesIO(technician_client.get(f"{address}sheet.pdf").content))
    words = " ".join(sheet.pages[0].extract_text().split())
    assert codes[0] in words
    if not kind.is_oil:
        assert ("as the machine showed" in words) == (not kind.on_scale)
        assert content(codes[0]) == 480_000 and grade == kind.usual_grade
    every_report(today() - dt.timedelta(days=1), today())
    assert verify().faults == []


def every_report(first, last):
    for report in REPORTS.values():
        assert written(make(report, Period(first, last), None, "a test"), "csv")


def test_a_log_may_hold_it(kind, tmp_path, db):
    net, substance, grade = ("500 mL", "PAG 46", "") if kind.is_oil else ("500 g", "R-134a", kind.usual_grade)
    files = {
        "shop.csv": "name,address,timezone,rulebook,readability,capacity\nOld Shop,,UTC,generic,1 g,\n",
        "opening.csv": "date,container,kind,substance,grade,net,tare\n"
        f"2026-01-05,X-1,{kind.code},{substance},{grade},{net},{'' if kind.is_oil else f'{tare(kind)} g'}\n",
        "jobs.csv": "job,date,technician,customer,unit,substance\nW-7,2026-02-03,ann,Ada,T-1,R-134a\n",
        "job_lines.csv": "job,action,container,quantity\n"
        f"W-7,{'oil-add' if kind.is_oil else 'charge'},X-1,{'20 mL' if kind.is_oil else '20 g'}\n",
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    load(tmp_path)
    held = Container.objects.get(code="X-1")
    assert (held.kind, content("X-1")) == (kind.code, 480_000)
    assert verify().faults == []
    every_report(dt.date(2026, 1, 1), dt.date(2026, 3, 31))
