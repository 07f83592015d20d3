"""A spreadsheet brought in from the browser: seen as it is, put right by pointing, asked about, posted last."""

import datetime as dt
import io
import re
import uuid

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.receiving.actions import Arrival, open_stock
from shopledger.logbook.models import LoadedLog
from shopledger.sheet_pages.models import SheetMapping, SheetUpload

pytestmark = pytest.mark.django_db(transaction=True)
STOCK = "Stock list\n\nCode;Gas;Type;Weight;Place\nC-1;R134a;can;340;Store\nC-2;R-134a;can;500;store\nTotal;;;840;\n"


@pytest.fixture(autouse=True)
def data(settings, tmp_path, shop):
    settings.DATA_DIR = tmp_path
    with writing():
        Scale.objects.create(code="shop scale", readability_mg=1000, usual=True)
    return tmp_path


def send(client, text=STOCK, kind="stock", name="Store.csv", **more):
    body = text if isinstance(text, bytes) else text.encode()
    return client.post(
        "/sheets/", {"key": str(uuid.uuid4()), "kind": kind, "file": SimpleUploadedFile(name, body), **more}
    )


def fields(page):
    """What the page's form would send, as a browser fills it in."""
    form = page[page.index("pointing") : page.rindex("</form>")] if "pointing" in page else ""
    form = form[: form.index("</form>")] if "</form>" in form else form
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name:
            found[name[1]] = value[1] if value else ""
    for name, inside in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.S):
        chosen = re.search(r'<option value="([^"]*)"\s*selected', inside) or re.search(
            r'<option value="([^"]*)"', inside
        )
        found[name] = chosen[1] if chosen else ""
    return found


def put(client, url, answers=(), **more):
    """Send the page's form with some of its fields changed; answers: by a question's id."""
    sent = fields(client.get(url).content.decode())
    names = {value: name.removeprefix("id-") for name, value in sent.items() if name.startswith("id-answer")}
    sent |= {names[id]: value for id, value in dict(answers).items()} | more
    return client.post(f"{url}put/", sent)


def test_a_sheet_is_seen_asked_about_and_posted_once(office_client):
    answer = send(office_client)
    assert answer.status_code == 302
    page = office_client.get(answer.url).content.decode()
    assert "1 question" in page and "What does Weight say" in page and "Stock list" in page and "a total" in page
    put(office_client, answer.url, {"column:weight": "net"})
    page = office_client.get(answer.url).content.decode()
    assert "In which unit is Weight" in page and "Which day is it" in page
    put(office_client, answer.url, {"unit:net": "g", "date": "2026-01-05"})
    page = office_client.get(answer.url).content.decode()
    assert "This will be posted" in page and "R-134a: 2 containers with 840 g in all" in page
    assert "can of R-134a, 340 g: C-1" in page and not Container.objects.exists()
    for _ in range(2):
        assert office_client.post(f"{answer.url}load/").status_code == 302
    assert {one.code: one.content for one in Container.objects.all()} == {"C-1": 340_000, "C-2": 500_000}
    count = Voucher.objects.count()
    again = send(office_client)
    put(office_client, again.url, {"column:weight": "net"})
    put(office_client, again.url, {"unit:net": "g", "date": "2026-01-05"})
    assert "was loaded before; nothing was changed" in office_client.get(again.url).content.decode()
    assert Voucher.objects.count() == count


def test_a_column_is_put_right_by_pointing_and_a_mapping_is_kept(office_client):
    text = STOCK.replace("Weight", "Net (g)").replace("Place", "Remarks")
    answer = send(office_client, text)
    put(office_client, answer.url, {"date": "2026-01-05"})
    put(office_client, answer.url, **{"column-4": "location"})
    page = office_client.get(answer.url).content.decode()
    assert "This will be posted" in page, page[page.index("<main") :][:3000]
    office_client.post(f"{answer.url}name/", {"name": "the old list"})
    mapping = SheetMapping.objects.get(name="the old list")
    assert mapping.heads["remarks"] == "location" and "date" not in mapping.answers
    office_client.post(f"{answer.url}load/")
    assert {one.location.name for one in Container.objects.all()} == {"Store"}
    later = send(office_client, text.replace("C-1", "C-3").replace("C-2", "C-4"), mapping=mapping.pk)
    put(office_client, later.url, {"date": "2026-02-05"})
    page = office_client.get(later.url).content.decode()
    assert "Understood by the mapping the old list" in page and "This will be posted" in page


def test_rows_are_pointed_at(office_client):
    answer = send(office_client, STOCK.replace("Weight", "Net (g)"))
    put(office_client, answer.url, {"date": "2026-01-05"})
    put(office_client, answer.url, first="5")
    page = office_client.get(answer.url).content.decode()
    assert "R-134a: 1 container with 500 g in all" in page
    put(office_client, answer.url, first="4", last="4")
    assert "R-134a: 1 container with 340 g in all" in office_client.get(answer.url).content.decode()


def test_faults_are_marked_and_go_back_as_a_sheet(office_client):
    answer = send(office_client, STOCK.replace("Weight", "Net (g)").replace("340", "=1+1").replace("500", "-5"))
    put(office_client, answer.url, {"date": "2026-01-05"})
    page = office_client.get(answer.url).content.decode()
    assert (
        "Store!D4" in page and "Store!D5" in page and "<mark>=1+1</mark>" in page and "This will be posted" not in page
    )
    body = office_client.get(f"{answer.url}remarks.xlsx").content
    sheet = openpyxl.load_workbook(io.BytesIO(body)).active
    assert sheet["D4"].value == "=1+1" and sheet["D4"].data_type == "s"
    assert "no figure" in sheet["F4"].value and sheet["F3"].value == "Remarks" and not sheet["F6"].value
    assert office_client.post(f"{answer.url}load/").status_code == 409 and not Container.objects.exists()


def test_a_refused_file_keeps_what_was_chosen_and_leaves_nothing(office_client, data):
    answer = send(office_client, b"%PDF-1.7", kind="jobs")
    page = answer.content.decode()
    assert answer.status_code == 422 and "This is no spreadsheet" in page and not SheetUpload.objects.exists()
    assert re.search(r'value="jobs"[^>]*checked', page) and not list((data / "sheets").glob("*"))


def test_dropped_it_is_gone(office_client, data):
    answer = send(office_client)
    assert office_client.post(f"{answer.url}drop/").status_code == 302
    assert not list((data / "sheets").glob("*/cells.json"))
    assert "Nothing of it was posted" in office_client.get(answer.url).content.decode()


def test_a_technician_sees_none_of_it(technician_client, office_client):
    answer = send(office_client)
    assert technician_client.get("/sheets/").status_code == 403 and technician_client.get(answer.url).status_code == 403


def test_what_can_hardly_be_stands_beside_what_will_be_posted_and_the_yes_is_kept(office_client):
    with writing():
        store = Location.objects.create(name="Store")
    line = Arrival("can", "R-134a", False, "virgin", 340_000, 1, store.name, "C-1")
    open_stock(lines=[line], day=dt.date(2026, 1, 5), by="otto", key=str(uuid.uuid4()))
    url = send(office_client, "Code,Date,Gross\nC-1,2026-01-06,4400 g\n", "counts", "Count.csv").url
    page = office_client.get(url).content.decode()
    assert "This will be posted" in page and "Count!C2: " in page and "Posting it says yes." in page
    office_client.post(f"{url}load/")
    assert SheetUpload.objects.get().state == "loaded"
    assert LoadedLog.objects.get().confirmed == [["counts.csv:1: gross", "4400 g"]]
