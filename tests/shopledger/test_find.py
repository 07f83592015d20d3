"""Anything by a few letters, of what a person may open; the keys that lead there."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import resolve

from inventory.buying.actions import Billed, InvoiceSaid, enter_invoice
from inventory.containers.models import Container
from inventory.ledger.models import Substance
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from jobs.drafts.actions import start_job
from jobs.people.models import Person
from jobs.units.actions import add_unit
from shopledger.find.queries import FINDERS, MOST, find_all
from shopledger.navigation.keys import KEYS, keys_of

pytestmark = pytest.mark.django_db
G = 1000


@pytest.fixture
def shelf(shop, technician):
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, 2, "Store", "CYL-41", tare_mg=8_000 * G)
    number = receive(
        lines=[line],
        supplier=supplier_called("Quillon"),
        document="INV-7/26",
        day=today(),
        by="o",
        key=str(uuid.uuid4()),
    )
    unit = add_unit(by=technician, customer="Zoë Quince", plate="KW-941", refrigerant="R-134a")
    return number, unit, start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())


def found(person, typed):
    return {group.title: [hit.words for hit in group.hits] for group in find_all(person, typed)}


def test_each_kind_of_thing_is_found_by_what_people_call_it(shelf, owner):
    number, unit, job = shelf
    assert found(owner, "cyl-41") == {"Containers": ["CYL-41"]}
    assert found(owner, "kw941") == {"Units": [unit.title]} == found(owner, "KW-941")
    assert found(owner, "zoe qui") == {"Units": [unit.title], "Customers": ["Zoë Quince"]}
    assert found(owner, job.number[-4:])["Jobs"] == [job.title]
    assert found(owner, "inv-7") == {"Vouchers": [f"Voucher {number}"]} == found(owner, "INV-7")
    assert found(owner, str(number))["Vouchers"][0] == f"Voucher {number}"  # others name jobs with that figure
    assert found(owner, "tess")["People"] == ["Tess Test"]
    assert found(owner, "quillon")["Suppliers and others"] == ["Quillon"]
    assert found(owner, "mon en") == {"Pages and reports": ["Month end"]}
    assert "Usage" in found(owner, "usage")["Pages and reports"]
    assert found(owner, "weigh cyl") == {"Containers": ["Weigh CYL-41", "Weigh CYL-42"]}
    assert found(owner, "nothing of this") == found(owner, "") == found(owner, "%") == found(owner, "_") == {}


def test_a_substance_is_found_however_its_name_is_written(shelf, owner, technician_client, technician):
    of = Substance.objects.get(code="R-134a").pk
    for typed in ("r134", "R-134a", "r 134A", "134a"):
        assert found(owner, typed) == {"Refrigerants and oils": ["R-134a", "R-134a over time"]}, typed
    assert found(owner, "r-404") == found(owner, "--") == {}, "the shop has none"
    group = next(one for one in find_all(technician, "r134") if one.title == "Refrigerants and oils")
    assert [hit.address for hit in group.hits] == [f"/stock/?substance={of}", f"/enough/{of}/"]
    listed = technician_client.get(group.hits[0].address).content.decode()
    assert "CYL-41" in listed and technician_client.get(group.hits[1].address).status_code == 200


def test_a_suppliers_own_number_is_found(shelf, owner):
    Container.objects.filter(code="CYL-42").update(supplier_number="QX 88-1")
    assert found(owner, "qx 88") == {"Containers": ["CYL-42"]}


def test_nobody_finds_what_they_may_not_open(shelf, technician, office, owner):
    _, _, job = shelf
    other = Person.objects.create_user("timur", password="wet pump 7 am", name="Timur Test", role="technician")
    assert "Jobs" in found(technician, job.number) and "Jobs" not in found(other, job.number)
    for person in (technician, office, owner, other):
        for typed in ("te", "qu", "re", "in", "mo", "cyl", job.number, "1"):
            for group in find_all(person, typed):
                for hit in group.hits:
                    view = resolve(hit.address.partition("?")[0]).func
                    assert person.role in view.roles, (person.role, hit)
    assert "People" not in found(office, "tess") and "Suppliers and others" not in found(technician, "quillon")


def test_it_asks_the_same_however_much_there_is_and_shows_a_few(shelf, owner, technician):
    with CaptureQueriesContext(connection) as few:
        find_all(owner, "cyl")
    lines = [Arrival("can", "R-134a", False, "virgin", 340 * G, 30, "Store", "CYL-500", tare_mg=100 * G)]
    receive(lines=lines, supplier=supplier_called("Quillon"), document="D", day=today(), by="o", key=str(uuid.uuid4()))
    with CaptureQueriesContext(connection) as many:
        assert len(find_all(owner, "cyl")[0].hits) == MOST
    assert len(many) == len(few) <= len(FINDERS) + 1


def test_the_page_finds_without_script_and_the_dialog_gets_its_part(shelf, owner_client, office_client):
    page = owner_client.get("/find/?q=cyl-41").content.decode()
    assert '<a href="/stock/containers/CYL-41/">CYL-41</a>' in page and 'value="cyl-41"' in page
    part = owner_client.get("/find/?q=cyl-41", headers={"HX-Request": "true"}).content.decode()
    assert '<a href="/stock/containers/CYL-41/">CYL-41</a>' in part and "<html" not in part
    assert "Nothing is called" in owner_client.get("/find/?q=<b>").content.decode()
    assert office_client.get("/find/?q=%00%00a").status_code == 400


def test_keys_are_those_of_the_role_and_each_leads_to_a_page(shop, technician, office, owner):
    assert len({key for key, *_ in KEYS}) == len(KEYS)
    assert not {key for key, *_ in KEYS} & set("jkxfw")
    for person in (technician, office, owner):
        known = keys_of(person.role)
        assert {one.key for one in known} == {key for key, _, _, roles in KEYS if person.role in roles}
        assert all(person.role in resolve(one.url).func.roles for one in known if one.url != "/")


def test_keys_can_be_switched_off(owner_client, owner):
    assert " data-off" not in owner_client.get("/find/").content.decode()
    form = {"mass_unit": "g", "volume_unit": "mL"}
    assert owner_client.post("/me/units/", form).status_code == 302
    owner.refresh_from_db()
    assert not owner.single_keys
    assert "data-off" in owner_client.get("/find/").content.decode()
    owner_client.post("/me/units/", {**form, "single_keys": "on"})
    owner.refresh_from_db()
    assert owner.single_keys


def test_of_an_invoice_that_was_corrected_the_one_that_counts_is_found(shelf, owner):
    """By its kind and number, as its page has it; what it replaced is reached from there."""
    acme = supplier_called("Acme")
    for number, kind in (("P-81", "invoice"), ("P-82", "credit")):
        said = InvoiceSaid(acme, kind, number, today(), [Billed("other", 1, 500, called="Rent")], 500)
        kept = enter_invoice(said=said, by="oscar", key=uuid.uuid4())
        enter_invoice(said=said, by="oscar", key=uuid.uuid4(), revises=kept, why="misread")
    assert found(owner, "p-81") == {"Invoices": ["Invoice P-81"]}
    assert found(owner, "p-82") == {"Invoices": ["Credit note P-82"]}
