"""Where containers stand, and with whom."""

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.containers.keepers import PlaceWords, place_of
from inventory.containers.models import Location
from inventory.ledger.models import Record, Voucher
from inventory.ledger.verify import verify
from inventory.places.actions import give_place
from inventory.places.queries import standing_at
from inventory.text.refusal import Refused
from tests.kept import made, saved
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)


@pytest.fixture
def vans(shop, technician):
    delivery(
        came("C1", net=500 * G, tare_mg=5_000 * G, location="Van 1"),
        came("C2", net=300 * G, tare_mg=5_000 * G, location="Van 2"),
        came("C3", net=200 * G, tare_mg=5_000 * G, location="Van 2", substance="R-1234yf"),
        came("C4", tare_mg=5_000 * G, location="Van 2"),
        came("O1", "oil", 250 * G, "PAG 46", location="Van 2"),
        day=DAY,
    )
    return [Location.objects.get(name=name) for name in ("Van 1", "Van 2")]


def test_a_place_is_given_to_somebody_and_ended_and_each_is_on_record(vans, technician):
    give_place(name="Van 2", keeper="tess")
    assert PlaceWords().of(Location.objects.get(name="Van 2")) == "Van 2, with Tess Test"
    assert place_of(technician) == vans[1]
    give_place(name="Van 2", keeper="")
    assert PlaceWords().of(Location.objects.get(name="Van 2")) == "Van 2"
    assert place_of(technician) is None
    said = list(Record.objects.filter(kind="place", key="Van 2").order_by("voucher").values_list("body", flat=True))
    assert ['"keeper":"tess"' in body for body in said] == [False, True, False]
    assert Voucher.objects.filter(kind="record").exists() and verify().faults == []


def test_whose_place_it_is_does_not_change_unsaid(vans):
    Location.objects.filter(name="Van 1").update(keeper="tess")
    assert any("Van 1" in said for _, said in verify().faults)


@pytest.mark.parametrize("gone", [False, True])
def test_only_who_works_here_keeps_a_place(vans, technician, gone):
    if gone:
        saved(technician, is_active=False)
    keeper = "tess" if gone else "nobody.at.all"
    with pytest.raises(Refused, match="Nobody who works here") as refused:
        give_place(name="Van 2", keeper=keeper)
    assert refused.value.field == "keeper"
    saved(vans[0], closed=True)
    with pytest.raises(Refused, match="closed"):
        give_place(name="Van 1", keeper="")


def test_the_first_open_place_of_a_person_is_planned_from(vans, technician, office):
    for name in ("Van 1", "Van 2"):
        give_place(name=name, keeper="tess")
    assert place_of(technician).name == "Van 1"
    saved(Location.objects.get(name="Van 1"), closed=True)
    assert place_of(technician).name == "Van 2"
    assert place_of(technician, list(Location.objects.all())).name == "Van 2"
    assert place_of(office) is None


def test_somebody_who_left_is_still_named(vans, technician):
    give_place(name="Van 2", keeper="tess")
    words = PlaceWords()
    assert words.of(Location(name="Van 9", keeper="long.gone")) == "Van 9, with long.gone"
    assert words.of(None) == ""


def test_no_question_is_asked_where_no_place_is_anybodys(vans):
    with CaptureQueriesContext(connection) as asked:
        assert [PlaceWords().of(one) for one in vans] == ["Van 1", "Van 2"]
    assert len(asked) == 0


def test_what_stands_there_is_summed_by_the_database(vans):
    with CaptureQueriesContext(connection) as asked:
        found = standing_at(vans)
    assert len(asked) == 1
    assert (found[vans[0].pk].containers, found[vans[0].pk].held) == (1, [("R-134a", False, 500 * G)])
    there = found[vans[1].pk]
    assert there.containers == 4
    assert there.held == [("R-1234yf", False, 200 * G), ("R-134a", False, 300 * G), ("PAG 46", True, 250 * G)]


def test_everybody_sees_the_places_and_the_office_gives_them(vans, technician_client, office_client):
    page = reverse("place-keeper", args=[vans[1].pk])
    assert technician_client.get(page).status_code == 403
    assert technician_client.post(reverse("places"), {"name": "Attic"}).status_code == 403
    said = {"key": uuid.uuid4(), "keeper": "tess"}
    answer = office_client.post(page, said, follow=True)
    assert "Van 2 is with Tess Test from now on." in answer.content.decode()
    for client in (technician_client, office_client):
        shown = client.get(reverse("where")).content.decode()
        assert "Tess Test" in shown and "500 g" in shown and "Add the place" not in shown
        assert "Van 2, with Tess Test" in client.get(reverse("stock")).content.decode()
        assert "Van 2, with Tess Test" in client.get(reverse("container", args=["C2"])).content.decode()
        filtered = client.get(reverse("stock"), {"keeper": "tess"}).content.decode()
        assert "C2" in filtered and "C1</a>" not in filtered
    assert "keeper" not in client.get(reverse("stock"), {"export": "csv"}).getvalue().decode()
    answer = office_client.post(page, {"key": uuid.uuid4(), "keeper": ""}, follow=True)
    assert "Van 2 is with nobody from now on." in answer.content.decode()


def test_the_list_of_places_has_pages_and_is_searched(vans, office_client):
    for number in range(30):
        made(Location, name=f"Shelf {number:02d}")
    with CaptureQueriesContext(connection) as asked:
        first = office_client.get(reverse("places")).content.decode()
    assert "Shelf 00" in first and "Van 2</a>" not in first and "1 to 25 of 3" in first
    assert len(asked) < 15
    found = office_client.get(reverse("places"), {"name": "van 2"}).content.decode()
    assert "Van 2</a>" in found and "Shelf" not in found
    assert "No place is called so" in office_client.get(reverse("places"), {"name": "zzz"}).content.decode()
