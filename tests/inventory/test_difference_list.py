"""The list of differences: its filters, totals, columns and files."""

import csv
import datetime as dt
import io
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.containers.actions import count as weigh_at_once
from inventory.containers.models import Scale, Weighing
from inventory.counting import actions, queries
from inventory.measures.days import said_day
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from tests.kept import made

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date.today() - dt.timedelta(days=5)
LONG_AGO = dt.date.today() - dt.timedelta(days=300)
LESS = {"A": -1_000, "B": 500, "V": -2_000, "Y": -300}  # g beside the book


@pytest.fixture
def differing(shop):
    """Four cylinders, each weighed once beside its book; and one long ago."""
    made(Scale, code="bench", readability_mg=G, usual=True)
    lines = [
        Arrival("refillable", substance, False, "virgin", 5_000 * G, 1, place, code, tare_mg=8_000 * G)
        for code, place, substance in (
            ("A", "Store", "R-134a"),
            ("B", "Store", "R-134a"),
            ("V", "Van", "R-134a"),
            ("Y", "Store", "R-1234yf"),
            ("OLD", "Store", "R-1234yf"),
        )
    ]
    open_stock(lines=lines, day=LONG_AGO, by="oscar", key=str(uuid.uuid4()))
    weigh("OLD", -700, LONG_AGO + dt.timedelta(days=2))
    for code, less in LESS.items():
        weigh(code, less, DAY, by="tara" if code == "V" else "o")
    weighing = Weighing.objects.get(container__code="A")
    actions.explain(weighing_id=weighing.pk, by="o", reason="valve", note="was loose")


def weigh(code, less, day, by="o"):
    weigh_at_once(readings={code: (13_000 + less) * G}, day=day, by=by, key=str(uuid.uuid4()))


def listed(client, **asked):
    found = client.get("/differences/", asked)
    return [row.record.container.code for row in found.context["table"].rows]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, {"A", "B", "V", "Y"}),
        ({"reason": "none"}, {"B", "V", "Y"}),
        ({"reason": "valve"}, {"A"}),
        ({"container": "v"}, {"V"}),
        ({"person": "tar"}, {"V"}),
        ({"scale": "bench", "reason": "none"}, {"B", "V", "Y"}),
        ({"first": LONG_AGO.isoformat()}, {"A", "B", "V", "Y", "OLD"}),
        ({"first": LONG_AGO.isoformat(), "last": (DAY - dt.timedelta(days=1)).isoformat()}, {"OLD"}),
        ({"open": "1"}, {"B", "V", "Y", "OLD"}),
        ({"whose": "customers"}, set()),
    ],
)
def test_what_is_asked_for_is_listed(differing, office_client, asked, found):
    assert set(listed(office_client, **asked)) == found


def test_by_substance_and_place(differing, office_client):
    one = queries.differences().get(container__code="V").container
    assert listed(office_client, place=one.location_id) == ["V"]
    assert set(listed(office_client, substance=one.substance_id)) == {"A", "B", "V"}


def test_what_is_filtered_is_summed_exactly(differing, office_client):
    assert office_client.get("/differences/").context["totals"] == [], "nothing is filtered"
    by_days = office_client.get("/differences/", {"first": LONG_AGO.isoformat()})
    assert by_days.context["totals"] == [], "the groups above say it"
    found = office_client.get("/differences/", {"scale": "bench"}).context["totals"]
    assert [(one["code"], one["count"], one["lost"], one["gained"], one["net"]) for one in found] == [
        ("R-1234yf", 1, 300 * G, 0, -300 * G),
        ("R-134a", 3, 3_000 * G, 500 * G, -2_500 * G),
    ]


def test_it_goes_out_as_a_file_with_the_columns_that_are_shown(differing, office_client):
    asked = {"export": "csv", "reason": "valve", "columns": "difference,reason,note,place"}
    file = b"".join(office_client.get("/differences/", asked).streaming_content).decode()
    (row,) = csv.DictReader(io.StringIO(file))
    assert row == {
        "Day": f"{DAY}",
        "Place": "Store",
        "Difference": "-1000.000",
        "Difference, unit": "g",
        "Reason": "valve left open",
        "Note": "was loose",
    }


def test_it_is_sorted_by_what_its_heads_say(differing, office_client):
    assert listed(office_client, sort="difference") == ["V", "A", "Y", "B"]
    assert listed(office_client, sort="-container") == ["Y", "V", "B", "A"]


def test_questions_do_not_grow_with_the_differences(differing, office_client):
    every = "container,substance,place,difference,explains,scale,by,reason,note"
    with CaptureQueriesContext(connection) as one:
        assert len(listed(office_client, scale="bench", reason="valve", columns=every)) == 1
    with CaptureQueriesContext(connection) as four:
        assert len(listed(office_client, scale="bench", columns=every)) == 4
    assert len(four) <= len(one)


def test_groups_with_nothing_outside_are_folded_where_there_are_many(differing, office_client):
    found = office_client.get("/differences/").context
    assert {row["name"] for row in found["groups"]} == set(LESS) and not found["within"]
    cans = [Arrival("can", "R-134a", False, "virgin", 340 * G, 12, "Store", "K-01", tare_mg=100 * G)]
    open_stock(lines=cans, day=LONG_AGO, by="oscar", key=str(uuid.uuid4()))
    readings = {f"K-{n:02d}": 440 * G for n in range(1, 13)}
    weigh_at_once(readings=readings, day=DAY, by="o", key=str(uuid.uuid4()))
    answer = office_client.get("/differences/")
    assert {row["name"] for row in answer.context["groups"]} == set(LESS)
    assert {row["name"] for row in answer.context["within"]} == set(readings)
    assert "12 more, with nothing outside what weighing explains" in answer.content.decode()


def test_its_days_are_said(differing, office_client):
    page = office_client.get("/differences/").content.decode()
    assert f">{said_day(DAY)}</a>" in page and f">{DAY}<" not in page


def test_days_that_cannot_be_read_are_said_and_the_last_quarter_is_shown(differing, office_client):
    page = office_client.get("/differences/", {"first": "soon", "container": "A"})
    assert "The list is not filtered" in page.content.decode() and 'value="soon"' in page.content.decode()
    assert {row.record.container.code for row in page.context["table"].rows} == set(LESS)
    assert said_day(today()) in page.content.decode()
