"""What a list says of all that its filter leaves, and an address that shows a list again as it was seen."""

import re
import uuid
from html import unescape
from urllib.parse import urlencode

import pytest

from inventory.containers.actions import take_back
from inventory.containers.models import Container
from inventory.ledger.models import Movement
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from inventory.shop.models import ChosenColumns
from jobs.drafts.models import Job
from jobs.drafts.queries import totals_by_substance
from tests.forms import forms_of

pytestmark = pytest.mark.django_db
G = 1000


def words(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page)).split())


@pytest.fixture
def shelves(shop):
    kinds = (
        ("R-134a", 340 * G, 3, "Store", "A-1"),
        ("R-1234yf", 1_250 * G, 2, "Store", "B-1"),
        ("R-134a", 900 * G, 1, "Van", "V-1"),
    )
    for substance, net, count, place, code in kinds:
        line = Arrival("can", substance, False, "virgin", net, count, place, code, tare_mg=100 * G)
        receive(
            lines=[line],
            supplier=supplier_called("Acme"),
            document=f"D-{code}",
            day=today(),
            by="o",
            key=str(uuid.uuid4()),
        )


def test_the_stock_that_a_filter_leaves_is_summed_exactly(shelves, office_client):
    place = Container.objects.get(code="A-1").location_id
    found = office_client.get(f"/stock/?location={place}").context["totals"]
    assert [(one.code, one.total, one.count) for one in found] == [
        ("R-1234yf", 2_500 * G, 2),
        ("R-134a", 1_020 * G, 3),
    ]
    assert "Totals of what is filtered" not in office_client.get("/stock/").content.decode()
    assert "Totals of what is filtered" in office_client.get(f"/stock/?location={place}").content.decode()


def test_what_filtered_vouchers_move_is_summed_exactly(shelves, office_client):
    (row,) = office_client.get("/ledger/?document=D-A").context["totals"]
    assert (row["code"], row["source"], row["target"], row["quantity"]) == (
        "R-134a",
        "supplier",
        "container",
        1_020 * G,
    )
    whole = office_client.get(f"/ledger/?since={today()}").context["totals"]
    assert sum(row["quantity"] for row in whole) == sum(one.quantity for one in Movement.objects.all())
    assert office_client.get("/ledger/?kind=receipt").context["totals"] == []


def test_jobs_are_summed_as_they_stand(world_of_jobs):
    for row in totals_by_substance(Job.objects.all()):
        signed = [job for job in Job.objects.filter(state="signed") if job.substance == row["substance"]]
        assert row["charged"] == sum(job.charged_mg for job in signed)
        assert row["recovered"] == sum(job.recovered_mg for job in signed)
        assert row["jobs"] == Job.objects.filter(substance=row["substance"]).count()


@pytest.fixture
def world_of_jobs(tmp_path, settings):
    from tests.shopledger.world import build

    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "uploads"
    build(tmp_path)


def heads(page: str) -> list[str]:
    table = page[page.rindex("<thead>") : page.rindex("</thead>")]  # the list stands last
    return [words(one) for one in re.findall(r"<th .*?</th>", table, re.DOTALL)]


def test_an_address_shows_the_columns_that_it_names_whatever_its_reader_chose(shelves, office_client, owner_client):
    ChosenColumns.objects.create(username="oscar", table="stock", columns=["kind", "content"])
    shown = office_client.get("/stock/?substance=&sort=-code")
    page = shown.content.decode()
    assert heads(page)[1:] == ["Code", "Kind", "Holds"]
    link = unescape(re.search(r'href="([^"]*)">Link to this view', page)[1])
    assert "columns=kind%2Ccontent" in link and "sort=-code" in link
    assert heads(owner_client.get(f"/stock/{link}").content.decode())[1:] == ["Code", "Kind", "Holds"]
    assert len(heads(owner_client.get("/stock/?columns=nothing,<b>").content.decode())) > 5
    assert "columns" not in ChosenColumns.objects.get().columns


def test_the_supplier_s_number_is_a_column_to_choose(shelves, office_client):
    Container.objects.filter(code="V-1").update(supplier_number="X-77")
    assert "Supplier's number" not in heads(office_client.get("/stock/").content.decode())
    chosen = office_client.get("/stock/?columns=supplier_number,content").content.decode()
    assert heads(chosen)[1:] == ["Code", "Supplier's number", "Holds"] and "X-77" in chosen


def test_deliveries_are_filtered_by_whom_they_came_from_and_summed(shelves, office_client):
    other = supplier_called("Other")
    line = Arrival("can", "R-134a", False, "virgin", 500 * G, 2, "Store", "O-1", tare_mg=100 * G)
    number = receive(lines=[line], supplier=other, document="O-9", day=today(), by="o", key=str(uuid.uuid4()))
    whole = office_client.get("/receiving/")
    assert len(whole.context["table"].rows) == 4 and whole.context["totals"] == []
    narrow = office_client.get(f"/receiving/?party={other.pk}")
    assert [row.record.number for row in narrow.context["table"].rows] == [number]
    assert [(one["code"], one["quantity"]) for one in narrow.context["totals"]] == [("R-134a", 1_000 * G)]
    take_back(number, by="o", note="not ours", key=str(uuid.uuid4()))
    again = office_client.get(f"/receiving/?party={other.pk}")
    assert again.context["totals"] == [] and "taken back" in again.content.decode()
    file = office_client.get("/receiving/?document=O-9&export=csv")
    assert b"".join(file.streaming_content).decode().splitlines()[1].startswith(f"{number},")


@pytest.mark.parametrize("page", ["/receiving/", "/leaving/", "/ledger/", "/receiving/parties/", "/differences/"])
def test_lists_have_columns_to_choose_and_an_address_of_what_is_shown(shelves, office_client, page):
    shown = office_client.get(page).content.decode()
    assert 'name="columns"' in shown and "Link to this view" in shown
    one = office_client.get(page).context["table"].choices[0]
    assert len(heads(office_client.get(f"{page}?columns={one['name']}").content.decode())) == 2


@pytest.mark.parametrize(
    "page",
    ["/stock/", "/jobs/", "/receiving/", "/leaving/", "/buying/", "/buying/invoices/", "/differences/"],
)
def test_a_filter_that_leaves_nothing_out_says_so(shelves, office_client, page):
    shown = office_client.get(page).content.decode()
    assert "<select" in shown and "-----" not in re.sub("<!--.*?-->", "", shown)


@pytest.mark.parametrize("page", ["/receiving/", "/leaving/", "/differences/?first=soon&x="])
def test_a_filter_that_cannot_be_read_says_so(shelves, office_client, page):
    assert "The list is not filtered" in office_client.get(f"{page}?since=soon").content.decode()


def test_the_way_back_to_a_list_keeps_its_filter(shelves, office_client):
    """What is chosen in a filtered list is moved, and the same list is shown again."""
    place = Container.objects.get(code="A-1").location_id
    there = f"/stock/?location={place}&sort=-code"
    page = office_client.get(there).content.decode()
    back = unescape(re.search(r'name="back" value="([^"]*)"', page)[1])
    assert back == there
    asked = f"/stock/move/?{urlencode({'codes': 'A-1', 'location': place, 'back': back})}"
    form = dict(forms_of(office_client.get(asked).content.decode()))[""]
    answer = office_client.post(asked, form | {"to_location": "Van"})
    assert answer.status_code == 302 and answer.url == there
    assert Container.objects.get(code="A-1").location.name == "Van"
