"""What a person may do, on the person's page: by the rulebook's verdicts, each of which opens."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.reference.rule import EQUIPMENT
from inventory.reference.rulebook import rulebook
from inventory.shop.models import Shop
from inventory.verdicts.work import Worker
from jobs.people.actions import add_certificate
from jobs.people.allowed import ON_EQUIPMENT, allowed
from tests.kept import saved
from tests.verdicts import words

DAY = dt.date(2026, 3, 2)


def answers(book, substance, charge_mg, *papers, since=None):
    found = allowed(rulebook(book), substance, charge_mg, Worker(papers, since), DAY)
    return {
        row.equipment: dict(zip(ON_EQUIPMENT, [cell.why.answer for cell in row.cells], strict=True))
        for row in found.rows
    }


def test_each_kind_of_equipment_has_a_row_and_each_work_a_cell():
    found = answers("us-federal", "R-134a", None)
    assert list(found) == list(EQUIPMENT.values())


def test_a_certificate_for_cars_allows_cars_and_no_stationary_equipment():
    # 40 CFR 82.34(a) and 82.32(c), (d) for cars; 82.161(a) for all other equipment.
    found = answers("us-federal", "R-134a", None, "609")
    assert found[EQUIPMENT["vehicle"]]["recover"] == "met"
    assert found[EQUIPMENT["stationary"]]["charge"] == "refused"


def test_where_it_depends_on_the_charge_it_is_asked_for_and_said():
    # Implementing Regulation (EU) 2024/2215, article 3(2)(b): below 3 kg.
    assert answers("eu", "R-410A", None, "A2")[EQUIPMENT["stationary"]]["charge"] == "open"
    assert answers("eu", "R-410A", 2_000_000, "A2")[EQUIPMENT["stationary"]]["charge"] == "met"


@pytest.fixture
def certified(shop, technician, owner, db):
    saved(Shop.current(), rulebook="us-federal")
    add_certificate(by=owner, person=technician, scheme="609", number="1", issued=dt.date(2020, 1, 1))
    return technician


def test_the_page_opens_each_to_its_verdict(certified, owner_client):
    page = words(owner_client.get(f"/people/{certified.pk}/").content)
    assert f"{EQUIPMENT['vehicle']} allowed allowed not asked for Why : {EQUIPMENT['vehicle']}" in page
    assert "allows to recover refrigerant. Why : " in page
    assert "Where it is written 40 CFR part 82 subpart B" in page
    assert "Buying" in page


def test_the_page_can_be_asked_of_another_refrigerant_and_charge(certified, owner_client):
    page = words(owner_client.get(f"/people/{certified.pk}/?refrigerant=R-744&charge=2+kg").content)
    assert "Refrigerant R-744" in page and "Full charge 2 kg" in page
    wrong = owner_client.get(f"/people/{certified.pk}/?refrigerant=R-744&charge=much")
    assert wrong.status_code == 422 and "much" in wrong.content.decode()
    assert owner_client.get(f"/people/{certified.pk}/?refrigerant=nothing").status_code == 422


def test_it_asks_the_database_the_same_however_many_certificates_there_are(certified, owner, owner_client):
    address = f"/people/{certified.pk}/"
    owner_client.get(address)
    with CaptureQueriesContext(connection) as few:
        owner_client.get(address)
    for number in range(2, 6):
        add_certificate(by=owner, person=certified, scheme="608-II", number=str(number), issued=dt.date(2020, 1, 1))
    with CaptureQueriesContext(connection) as many:
        owner_client.get(address)
    assert len(few) == len(many)
