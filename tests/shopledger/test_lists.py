"""Lists: columns to choose, export of what is shown, pages from both ends, and questions that do not grow."""

import csv
import io
import uuid

import openpyxl
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.http import urlencode

from inventory.containers.models import Container
from inventory.containers.tables import ContainerTable
from inventory.ledger.models import Voucher
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from inventory.shop.lists import rows_of
from inventory.shop.models import ChosenColumns
from inventory.text.cells import harmless
from jobs.drafts.actions import drop_job, start_job
from jobs.drafts.models import Job
from jobs.pages.tables import JobTable
from jobs.units.actions import add_customer, add_unit
from tests.kept import made

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
        ("=1+1", "'=1+1"),
        ("+49 1", "'+49 1"),
        ("-1 cmd", "'-1 cmd"),
        (" =1+1", "' =1+1"),
        ("\n=1", "'\n=1"),
        ("\uff1d1+1", "'\uff1d1+1"),
        ("\uff20x", "'\uff20x"),
        ("-1 lb 2.5 oz", "-1 lb 2.5 oz"),
        ("|calc", "'|calc"),
        ("@x", "'@x"),
        ("-5 g", "-5 g"),
        ("-5", "-5"),
        ("-cmd|x", "'-cmd|x"),
        ("\tx", "'\tx"),
        (-5, -5),
        ("plain", "plain"),
        ("", ""),
        (None, None),
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
    ],
)
def test_no_cell_is_a_formula(cell, kept):
    assert harmless(cell) == kept


def test_an_export_is_what_the_list_shows_all_pages_of_it(shop, office_client, office):
    stock(60)
    choose(office_client, "stock", "kind", "content")
    text = b"".join(office_client.get("/stock/?export=csv&kind=can").streaming_content).decode()
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == ["Code", "Kind", "Holds", "Holds, unit"] and len(rows) == 61
    assert rows[1] == ["K-0001", "can", "340.000", "g"] and rows[60][0] == "K-0060"
    body = b"".join(office_client.get("/stock/?export=xlsx&text=K-000").streaming_content)
    cells = list(openpyxl.load_workbook(io.BytesIO(body)).active.values)
    assert len(cells) == 10 and cells[1][0] == "K-0001" and cells[1][2:] == (340, "g"), "a number, not text"
    assert ChosenColumns.objects.get().columns == ["kind", "content"]
    page = office_client.get("/stock/").content.decode()
    assert '<th scope="col">' in page and "Last weighed</a>" not in page, "the choice stays"
    office_client.get("/stock/?columns=code")
    assert ChosenColumns.objects.get().columns == ["kind", "content"], "looking at a page changes nothing"
    choose(office_client, "stock")
    assert "Last weighed" in office_client.get("/stock/").content.decode()


def choose(client, name, *columns):
    answer = client.post("/columns/", {"list": name, "columns": columns, "back": "/stock/?kind=can"})
    assert (answer.status_code, answer.url) == (302, "/stock/?kind=can")


@pytest.mark.parametrize("back", ["//evil.example/", "https://evil.example/", "javascript:alert(1)", ""])
def test_choosing_columns_leads_nowhere_else(shop, office_client, back):
    assert office_client.post("/columns/", {"list": "stock", "back": back}).url == "/"
    assert office_client.get("/columns/").status_code == 405


def test_what_people_typed_is_exported_as_they_typed_it(shop, office_client, technician):
    for name in ("Smith <west>", "Ltd <b>", "A &amp; B", "5 < 6"):
        add_customer(by=technician, name=name)
    text = b"".join(office_client.get("/customers/?export=csv").streaming_content).decode()
    for name in ("Smith <west>", "Ltd <b>", "A &amp; B", "5 < 6"):
        assert name in text, name


def test_what_waits_to_be_settled_or_weighed_is_found(shop, office_client):
    lines = [
        Arrival("recovery", "R-134a", False, grade, 500 * G, 1, "Store", code, tare_mg=8000 * G)
        for grade, code in (("recovered", "REC"), ("mixed", "MIX"), ("recycled", "CYC"))
    ]
    open_stock(lines=lines, day=today(), by="o", key=str(uuid.uuid4()))
    stock(1)
    page = office_client.get("/stock/?grade=unsettled").content.decode()
    assert [code for code in ("REC", "MIX", "CYC", "K-0001") if f'value="{code}"' in page] == ["REC", "MIX"]
    page = office_client.get(f"/stock/?unweighed={today()}").content.decode()
    assert [code for code in ("REC", "MIX", "CYC", "K-0001") if f'value="{code}"' in page] == ["REC", "MIX", "CYC"]


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


def grow(path, technician, owner, count):
    """More rows of the list at that address."""
    from inventory.receiving.actions import receive
    from jobs.drafts.actions import start_job
    from jobs.people.actions import add_person
    from jobs.units.actions import add_unit

    for _ in range(count):
        mark = uuid.uuid4().hex[:8]
        if path == "/customers/":
            add_customer(by=technician, name=f"Customer {mark}")
        elif path in {"/units/", "/jobs/"}:
            unit = add_unit(by=technician, plate=mark, customer=f"Customer {mark}", refrigerant="R-134a")
            if path == "/jobs/":
                start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
        elif path == "/people/":
            add_person(
                by=owner,
                username=f"p{mark}",
                name=f"Person {mark}",
                role="technician",
                password="a quiet lamp by the door",
            )
        elif path == "/receiving/":
            line = Arrival("can", "R-134a", False, "virgin", 340 * G, 1, "Store", "", tare_mg=100 * G)
            receive(
                lines=[line],
                supplier=supplier_called(f"S {mark}"),
                document=mark,
                day=today(),
                by="o",
                key=str(uuid.uuid4()),
            )
        else:
            stock(1, f"{mark[0].upper()}-{int(mark[1:], 16) % 9000 + 1000:04d}")


@pytest.mark.parametrize("path", ["/stock/", "/jobs/", "/units/", "/customers/", "/people/", "/ledger/", "/receiving/"])
def test_questions_do_not_grow_with_the_rows(shop, technician, owner, owner_client, path):
    grow(path, technician, owner, 3)
    with CaptureQueriesContext(connection) as few:
        short = owner_client.get(path).content
    grow(path, technician, owner, 17)
    with CaptureQueriesContext(connection) as many:
        long = owner_client.get(path).content
    assert long.count(b"<li") + long.count(b"<tr") > short.count(b"<li") + short.count(b"<tr"), "it shows more rows"
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


def test_the_movements_of_the_shown_vouchers_go_out_as_a_file(shop, office_client):
    stock(2)
    stock(1, "K-0101")
    every = b"".join(office_client.get("/ledger/?export=csv").streaming_content).decode()
    rows = list(csv.DictReader(io.StringIO(every)))
    assert [row["To"] for row in rows] == ["K-0001", "K-0002", "K-0101"], "in the order of recording"
    last = Voucher.objects.filter(kind="opening").order_by("number").last()
    assert rows[2] == {
        "Voucher": f"{last.number}",
        "Day": f"{today()}",
        "Kind": "opening",
        "Document": "",
        "Done by": rows[2]["Done by"],
        "Recorded by": "o",
        "Recorded at": last.recorded_at,
        "Line": "0",
        "Substance": "R-134a",
        "From, kind": "opening",
        "From": "",
        "From, location": "",
        "From, grade": "",
        "To, kind": "container",
        "To": "K-0101",
        "To, location": "Store",
        "To, grade": "virgin",
        "Quantity": "340.000",
        "Unit": "g",
        "Reversal": "",
    }
    one = b"".join(office_client.get("/ledger/?export=csv&container=K-0002").streaming_content).decode()
    assert [row["To"] for row in csv.DictReader(io.StringIO(one))] == ["K-0001", "K-0002"], (
        "the vouchers that are shown"
    )
    book = b"".join(office_client.get("/ledger/?export=xlsx&kind=opening").streaming_content)
    cells = list(openpyxl.load_workbook(io.BytesIO(book)).active.values)
    assert len(cells) == 4 and cells[1][17] == 340, "a number, not text"
    assert cells[1][1].date() == Voucher.objects.get(number=cells[1][0]).day, "a day, not text"
    assert len(b"".join(office_client.get("/ledger/?export=csv&kind=job").streaming_content).splitlines()) == 1


def test_a_file_says_of_each_row_what_its_page_draws(shop, office_client, office, technician):
    stock(3)
    unit = add_unit(by=None, name="Truck 4", refrigerant="R-134a")
    for _ in range(2):
        start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    Job.objects.filter(pk=start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4()).pk).update(
        substance=""
    )
    made(Container, code="E-1", kind="recovery", tare_mg=5000 * G, arrived_on=today())
    tables = (
        JobTable(Job.objects.select_related("unit__customer", "technician").order_by("id")),
        ContainerTable(Container.objects.order_by("id"), person=office),
    )
    for table in tables:
        quick = list(rows_of(table))
        table.plain = {}
        assert quick == list(rows_of(table)) and len(quick) > 3


def test_all_jobs_are_counted_as_the_list_has_them(shop, office_client, technician_client, technician):
    unit = add_unit(by=None, name="Truck 4", refrigerant="R-134a")
    made = [start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4()) for _ in range(30)]
    drop_job(made[0].pk, by=technician)
    for client in (office_client, technician_client):
        for address, rows in (("", 25), ("?page=2", 4), ("?page=99", 4), ("?state=dropped", 1), ("?text=Truck", 25)):
            table = client.get(f"/jobs/{address}").context["table"]
            assert len(list(table.page.object_list)) == rows, address
            assert table.paginator.count == (1 if "dropped" in address else 29)


@pytest.mark.parametrize(
    "back",
    [
        "//evil.example/",
        "https://evil.example/",
        "/\\evil.example",
        "javascript:alert(1)",
        "/stock/\n",
        "/" * 3000,
        "stock/",
    ],
)
def test_no_address_leads_back_to_another_site(shop, office_client, back):
    stock(1)
    form = {"codes": "K-0001", "to_location": "Van", "day": str(today()), "key": str(uuid.uuid4())}
    answer = office_client.post("/stock/move/?" + urlencode({"back": back}), form)
    assert (answer.status_code, answer.url) == (302, "/stock/")


def test_what_was_done_to_many_leads_back_to_the_list_as_it_was(shop, office_client):
    stock(2)
    page = office_client.get("/stock/?text=K-0&sort=-code").content.decode()
    assert '<input type="hidden" name="back" value="/stock/?text=K-0&amp;sort=-code">' in page
    form = {"codes": ["K-0001", "K-0002"], "to_location": "Van", "day": str(today()), "key": str(uuid.uuid4())}
    address = "/stock/move/?" + urlencode({"back": "/stock/?text=K-0&sort=-code"})
    assert office_client.post(address, form).url == "/stock/?text=K-0&sort=-code"
    assert Container.objects.filter(location__name="Van").count() == 2
    vouchers = Voucher.objects.count()
    again = form | {"codes": ["K-0001", "NONE"], "key": str(uuid.uuid4()), "to_location": "Bay"}
    refused = office_client.post(address, again)
    assert refused.status_code == 422 and "NONE" in refused.content.decode() and Voucher.objects.count() == vouchers
    assert Container.objects.filter(location__name="Van").count() == 2
