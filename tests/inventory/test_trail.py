"""What happened outside the ledger: who, when, before and after, kept once and shown."""

import datetime as dt
import json
import uuid

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.audit.models import Change
from inventory.audit.queries import as_lines, changes_between, changes_of
from inventory.audit.recording import COMMANDS, quiet
from inventory.containers.models import Scale
from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from inventory.scales.actions import Plate, save_scale
from inventory.shop.models import Shop
from jobs.people.actions import add_certificate, add_person, change_person, set_password
from jobs.units.actions import add_unit, change_unit

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_yet(db, shop, owner, technician):
    """The fixtures' own records are no matter here."""
    from inventory.ledger import triggers

    triggers.drop(connection)
    Change.objects.all().delete()
    triggers.install(connection)


def last():
    return Change.objects.first()


def test_a_person_made_changed_and_given_a_password(owner):
    person = add_person(by=owner, username="nora", name="Nora Example", role="technician", password="a quiet lamp 9")
    made = last()
    assert (made.kind, made.what, made.key, made.title, made.by) == (
        "made",
        "person",
        str(person.pk),
        "Nora Example",
        COMMANDS,
    )
    assert made.after["username"] == "nora" and made.after["role"] == "Technician" and made.before == {}
    change_person(person, by=owner, role="office")
    assert (last().kind, last().before, last().after) == ("changed", {"role": "Technician"}, {"role": "Office"})
    set_password(person, by=owner, password="another quiet lamp 8")
    assert last().after == {"password": "(not shown)"}
    kept = json.dumps([[one.before, one.after] for one in Change.objects.all()])
    assert "lamp" not in kept and "md5$" not in kept and "pbkdf2" not in kept


def test_what_does_not_differ_is_no_line(technician):
    unit = add_unit(by=technician, plate="T-1", refrigerant="R-134a", charge_max_mg=500_000)
    count = Change.objects.count()
    change_unit(unit, by=technician, plate="T-1")
    assert Change.objects.count() == count
    change_unit(unit, by=technician, charge_max_mg=520_000)
    assert last().pairs == [("charge max", "500 g", "520 g")]


def test_a_request_is_its_person_s_and_signing_in_is_no_change(owner_client, owner):
    owner_client.post("/people/new/", {})
    answer = owner_client.post(
        "/settings/",
        {
            "name": "Renamed",
            "timezone": "Europe/Dublin",
            "rulebook": "eu",
            "currency": "EUR",
            "altitude_m": "0",
            "oil_months": "6",
        },
    )
    assert answer.status_code == 302
    assert (last().by, last().what) == ("olive", "shop")
    assert last().before["name"] == "Test Shop" and last().after["rulebook"] == "eu"
    count = Change.objects.count()
    owner_client.logout()
    assert owner_client.login(username="olive", password="a long one for tests")
    assert Change.objects.count() == count
    Shop.objects.get().save()
    assert Change.objects.count() == count
    page = owner_client.get("/settings/").content.decode()
    assert "What happened to it" in page and "Test Shop → Renamed" in page


def test_a_refused_change_leaves_no_line(owner):
    count = Change.objects.count()
    with pytest.raises(Exception, match="only owner"):
        change_person(owner, by=owner, role="technician")
    with pytest.raises(RuntimeError), transaction.atomic():
        Party.objects.create(name="Acme", role="supplier")
        raise RuntimeError
    assert Change.objects.count() == count


def test_a_removed_record_keeps_what_it_said():
    party = Party.objects.create(name="Acme", role="supplier", address="1 Road")
    party.delete()
    assert (last().kind, last().before["address"], last().after) == ("removed", "1 Road", {})


def test_the_usual_scale_of_before_is_told_too():
    for code in ("S1", "S2"):
        save_scale(code=code, plate=Plate(1000), checked_until=None, usual=True)
    lost = Change.objects.filter(kind="changed", title__contains="S1").first()
    assert (lost.before["usual"], lost.after["usual"]) == ("True", "False")
    assert Scale.objects.get(usual=True).code == "S2"


def test_a_line_is_written_once():
    Party.objects.create(name="Acme", role="supplier")
    for change in (lambda: Change.objects.update(by="nobody"), lambda: Change.objects.all().delete()):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_loading_is_one_line_for_all(tmp_path):
    from shopledger.logbook.actions import load

    Shop.objects.update(name="Example")
    (tmp_path / "shop.csv").write_text("name,readability\nExample,1 g\n")
    (tmp_path / "parties.csv").write_text("name,role\nAcme,supplier\n")
    load(tmp_path)
    assert [(one.what, one.kind) for one in Change.objects.all()] == [("log", "made")]
    assert "parties.csv" in last().after["files"] and Party.objects.exists()


def test_the_ledger_is_no_part_of_it(technician):
    with quiet():
        Party.objects.create(name="Acme", role="supplier")
    assert not Change.objects.exists() and not Voucher.objects.exists()


def test_the_page_filters_and_turns_without_more_questions(owner_client, office_client, owner, technician):
    certificate = add_certificate(
        by=owner, person=technician, scheme="Trade school", number="C-1", issued=dt.date(2026, 1, 1)
    )
    for n in range(120):
        Party.objects.create(name=f"Party {n:03d}", role="supplier")
    with CaptureQueriesContext(connection) as first:
        page = owner_client.get("/trail/").content.decode()
    assert "Party 119" in page and "Party 069" not in page
    place = changes_of(Party.objects.get(name="Party 070"))[0].pk
    with CaptureQueriesContext(connection) as second:
        page = owner_client.get(f"/trail/?before={place}").content.decode()
    assert "Party 069" in page and "Party 070" not in page and len(second) <= len(first)
    page = owner_client.get("/trail/?what=certificate").content.decode()
    assert "C-1" in page and "Party" not in page.split("<ul")[-1].replace("parties", "")
    assert "Party 119" not in owner_client.get("/trail/?first=2999-01-01").content.decode()
    assert owner_client.get("/trail/?first=x").status_code == 422
    assert office_client.get("/trail/").status_code == 403
    assert (
        "What happened to it" in owner_client.get(reverse("certificate-edit", args=[certificate.pk])).content.decode()
    )


def test_lines_for_a_bundle_are_the_period_s(technician):
    add_unit(by=technician, plate="T-1", key=uuid.uuid4())
    near = changes_between(dt.date.today() - dt.timedelta(1), dt.date.today() + dt.timedelta(1))
    (line,) = as_lines(near.filter(what="unit"))
    said = json.loads(line)
    assert (said["what"], said["kind"], said["after"]["plate"]) == ("unit", "made", "T-1")
    assert not list(as_lines(changes_between(dt.date(2020, 1, 1), dt.date(2020, 1, 2))))
