"""What is a customer's, and what was found and is held, changes no figure of the shop's: every report, list and sum
answers the same with and without it, but those whose subject it is."""

import datetime as dt
import io
import re
import uuid

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.containers.actions import count, decant, move
from inventory.containers.models import Location, Scale
from inventory.containers.queries import fillable, on_hand
from inventory.counting import queries as counting
from inventory.counting.actions import enter, start_count
from inventory.kept.actions import Brought, find, give_back, keep_for, take_in
from inventory.ledger.verify import verify
from inventory.places.queries import standing_at
from inventory.supply.costs import losses_by_month, stock_value
from inventory.supply.queries import at_a_glance, supplies
from jobs.units.actions import add_unit
from jobs.units.models import Customer
from shopledger.findings.queries import findings
from shopledger.monthend.queries import steps
from shopledger.reporting.output import make
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.kept import made
from tests.stock import came, charge, delivery, recover, weigh

pytestmark = pytest.mark.django_db
G = 1000
MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
EVE, LATER, AFTER = (dt.date(2026, 3, day) for day in (2, 9, 10))
ITS_SUBJECT = {"kept", "apart", "apart-variances"}  # reports that are about just this


def head(day=LATER, **said):
    return {"day": day, "by": "olive", "key": str(uuid.uuid4()), **said}


@pytest.fixture
def world(shop, technician):
    """A shop with cylinders of its own, used and weighed, one with gas missing. Its customers' codes."""
    made(Scale, code="bench", readability_mg=1000, usual=True)
    for name in ("Ada Example", "Bo Example"):
        add_unit(by=technician, customer=name, plate=name[:2].upper() + "-1", refrigerant="R-134a")
    lines = [came(code, net=9_000 * G, tare_mg=5_000 * G, price_minor=9_000) for code in ("C1", "C2")]
    lines += [came(code, "recovery", tare_mg=6_000 * G) for code in ("R1", "R2", "R3")]
    delivery(*lines, day=EVE)
    weigh("C1", 13_900 * G, day=LATER)
    charge("C2", 14_000 * G, 13_480 * G, day=LATER)
    recover("R1", 300 * G, day=LATER)
    return list(Customer.objects.order_by("id").values_list("code", flat=True))


def own(code, gross=15_000, substance="R-134a"):
    said = {"kind": "refillable", "substance": substance, "grade": "recovered", "location": "Store"}
    return Brought(code=code, tare_mg=5_000 * G, gross_mg=gross * G, **said)


def apart(ada):
    """A customer's cylinder with gas in it and one that went back, both weighed, with gas missing; one of a gas that
    the shop never had; and one that was found and is held."""
    for code, gross in (("OWN", 15_000), ("WENT", 9_000)):
        take_in(owner=ada, brought=own(code, gross), **head(EVE))
    take_in(owner=ada, brought=own("RARE", substance="R-410A"), **head(AFTER))
    count(readings={"OWN": 14_000 * G, "WENT": 8_999 * G}, **head(follows=0))
    give_back(code="WENT", **head(AFTER))
    move(codes=["OWN"], location="Cage", **head(AFTER))
    find(kind="recovery", gross_mg=12_000 * G, location="Store", found_where="shed", code="F-1", **head(EVE))


def told(name, key):
    table = make(REPORTS[name], MARCH, key, "olive").table
    pictures = [draw(MARCH) for draw in REPORTS[name].pictures]
    return [column.name for column in table.columns], table.said(), [(one.rows, one.svg()) for one in pictures if one]


def _differences():
    found = counting.differences(MARCH.first, MARCH.last)
    return list(found.values_list("container__code", "difference", "reason"))


def _at_places():
    found = standing_at(Location.objects.all()).items()
    return {place: (one.containers, one.held) for place, one in found if one.containers}


SUMS = {
    "on hand": on_hand,
    "at a glance": at_a_glance,
    "supplies": lambda: supplies(MARCH.last),
    "stock value": lambda: stock_value(MARCH.last),
    "losses": lambda: losses_by_month(MARCH.first, MARCH.last),
    "fillable": fillable,
    "at places": _at_places,
    "unexplained": lambda: counting.unexplained(MARCH.first, MARCH.last),
    "differences": _differences,
    "without a reason": lambda: counting.without_reason().count(),
    "not weighed since": lambda: [one.code for one in counting.not_weighed_since(MARCH.last)],
    "patterns": lambda: list(counting.seen(MARCH.first, MARCH.last).values()),
    "findings": lambda: findings(MARCH),
    "chart": lambda: told("variances", None)[2],
    **{f"by {key}": lambda key=key: counting.grouped(key, MARCH.first, MARCH.last) for key in counting.KEYS},
}


@pytest.mark.parametrize("name", [name for name in REPORTS if name not in ITS_SUBJECT])
def test_no_report_counts_it(world, name):
    keys = (None, *REPORTS[name].keys)
    before = [told(name, key) for key in keys]
    apart(world[0])
    assert [told(name, key) for key in keys] == before
    assert verify().faults == []


@pytest.mark.parametrize("name", SUMS)
def test_no_list_and_no_sum_counts_it(world, name):
    before = SUMS[name]()
    assert before is not None
    apart(world[0])
    assert SUMS[name]() == before


def test_the_month_names_it_apart(world):
    """The steps of the shop's own are as they were; what is a customer's is named in a step of its own."""
    own = ("Containers not weighed in the month", "Differences without a reason")
    before = {step.title: (step.count, step.rows) for step in steps(MARCH.first, MARCH.last, MARCH.last)}
    apart(world[0])
    after = {step.title: (step.count, step.rows) for step in steps(MARCH.first, MARCH.last, MARCH.last)}
    assert {title: after[title] for title in own} == {title: before[title] for title in own}
    theirs = [rows for title, (_, rows) in after.items() if title.startswith("Customers' cylinders")]
    assert [row.words for rows in theirs for row in rows] == [
        "OWN at Cage, last on 9 Mar 2026",
        "RARE at Store, last on 10 Mar 2026",
        "OWN on 9 Mar 2026",
    ]


# -- where it does count ------------------------------------------------------------------------------------------


def rows(name):
    table = make(REPORTS[name], MARCH, None, "olive").table
    return [dict(zip([column.name for column in table.columns], row, strict=True)) for row in table.rows]


def test_reports_of_their_own_name_it(world):
    apart(world[0])
    found = {row["code"]: row for row in rows("apart")}
    assert set(found) == {"OWN", "WENT", "RARE", "F-1"}
    assert (found["OWN"]["whose"], found["OWN"]["in"], found["OWN"]["closing"]) == (
        "Ada Example",
        10_000 * G,
        9_000 * G,
    )
    assert (found["OWN"]["out"], found["OWN"]["weighed"]) == (1_000 * G, 14_000 * G)
    assert (found["WENT"]["out"], found["WENT"]["closing"]) == (4_000 * G, 0)
    assert (found["F-1"]["whose"], found["F-1"]["weighed"], found["F-1"]["closing"]) == (
        "nobody knows yet",
        12_000 * G,
        0,
    )
    theirs = [(row["container"], row["difference"]) for row in rows("apart-variances")]
    assert theirs == [("OWN", 0), ("WENT", 0), ("OWN", -1_000 * G), ("WENT", -1 * G), ("RARE", 0)]
    [kept] = [row for row in rows("kept") if row["substance"] == "R-134a"]
    assert (kept["unexplained_loss"], kept["weighing_difference"]) == (1_000 * G, -1 * G)
    assert [one.difference for one in counting.differences(theirs=True)] == [-1_000 * G]
    assert [one["net"] for one in counting.grouped("scale", MARCH.first, MARCH.last, True)] == [-1_001 * G]


def test_each_weighing_counts_with_whom_the_gas_was_of_then(world):
    """A cylinder of the shop that was kept for a customer for some days, and is the shop's again."""
    days = [dt.date(2026, 3, day) for day in (11, 12, 13, 14, 15)]
    take_in(owner=world[0], brought=own("OWN"), **head(EVE))
    keep_for(code="R2", owner=world[0], **head(AFTER))
    decant(source="OWN", into="R2", quantity=500 * G, **head(days[0]))
    weigh("R2", 6_400 * G, day=days[1])
    give_back(code="R2", stays=True, **head(days[2]))
    recover("R2", 300 * G, day=days[3])
    weigh("R2", 6_200 * G, day=days[4])
    shops = [(row["container"], row["difference"]) for row in rows("variances") if row["container"] == "R2"]
    theirs = [(row["container"], row["difference"]) for row in rows("apart-variances") if row["container"] == "R2"]
    assert (shops, theirs) == ([("R2", -100 * G)], [("R2", -100 * G)])
    [sum_of] = [one for one in counting.unexplained(MARCH.first, MARCH.last) if one.substance == "R-134a"]
    assert sum_of.total == -200 * G, "100 g of C1's, 100 g of R2's since it is the shop's again"
    found = {row["code"]: (row["in"], row["out"]) for row in rows("apart")}
    assert found["R2"] == (500 * G, 500 * G)
    assert {row["code"]: row["closing"] for row in rows("containers")}["R2"] == 200 * G
    assert verify().faults == []


def text_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_a_count_has_it_under_heads_and_totals_of_its_own(world, office_client):
    apart(world[0])
    take_in(owner=world[0], brought=own("OWN3"), **head(EVE))
    store = Location.objects.get(name="Store")
    begun = start_count(location=store, day=AFTER, scale=None, by="olive", key=uuid.uuid4())
    for code, gross in (("C2", 13_400 * G), ("OWN3", 14_900 * G)):
        enter(count_id=begun.pk, code=code, gross=gross, by="olive")
    said = text_of(office_client.get(reverse("count", args=[begun.pk])))
    own_part, their_part = said.split("Customers' cylinders, counted")
    assert "R-134a in all: 8 400 g , by the book 8 480 g , difference -80 g" in own_part
    assert "R-134a in all: 9 900 g , by the book 10 kg , difference -100 g" in their_part
    assert "OWN3 :" not in own_part and "C2 :" not in their_part
    assert "Held until known" in their_part and "F-1" in their_part
    sheet = office_client.get(reverse("count-paper", args=[store.pk])).content
    paper = re.sub(r"\s+", " ", "".join(page.extract_text() for page in PdfReader(io.BytesIO(sheet)).pages))
    ours, theirs = paper.split("Customers' cylinders: no stock of the shop's")
    assert "C2" in ours and "OWN3" not in ours and "OWN3" in theirs and "F-1" in theirs.split("Held until known")[1]
    assert "In all by the book: 17.68 kg R-134a" in ours and "In all by the book: 10 kg R-134a" in theirs
    typed = text_of(office_client.get(reverse("count-place", args=[store.pk])))
    ours, theirs = typed.split("Readings of customers' cylinders")
    assert "OWN3" not in ours and "OWN3" in theirs


def test_what_is_typed_in_is_told_under_its_own_head(world, office_client):
    take_in(owner=world[0], brought=own("OWN3"), **head(EVE))
    store = Location.objects.get(name="Store")
    said = {"key": uuid.uuid4(), "day": AFTER.isoformat(), "gross-C2": "13400", "gross-OWN3": "14900"}
    ours, theirs = text_of(office_client.post(reverse("count-place", args=[store.pk]), said)).split(
        "Readings of customers' cylinders"
    )
    assert "R-134a in all: 8 400 g" in ours and "R-134a in all: 9 900 g" in theirs


def test_the_list_of_stock_is_of_the_shop_until_others_are_asked_for(world, office_client):
    apart(world[0])

    def listed(**asked):
        answer = office_client.get(reverse("stock"), {"export": "csv", **asked})
        lines = b"".join(answer.streaming_content).decode("utf-8-sig").splitlines()
        return {line.split(",")[0] for line in lines[1:]}

    shops = {"C1", "C2", "R1", "R2", "R3"}
    assert listed() == shops
    assert listed(whose="everybody") == shops | {"OWN", "RARE", "F-1"}
    assert listed(whose="customers") == listed(whose=world[0]) == {"OWN", "RARE"}
    assert listed(text="OW") == {"OWN"}, "a code finds its container whosever it is"
    assert listed(state="unknown") == {"F-1"}
    assert listed(whose="customers", state="retired") == {"WENT"} and listed(state="retired") == set()


def test_its_differences_have_a_page_of_their_own(world, office_client):
    apart(world[0])
    said = {"first": MARCH.first, "last": MARCH.last}
    ours = text_of(office_client.get(reverse("differences"), said))
    theirs = text_of(office_client.get(reverse("differences"), {**said, "whose": "customers"}))
    assert "C1" in ours and "OWN" not in ours and "OWN" in theirs and "C1" not in theirs
    assert "1 difference of customers' cylinders without a reason" in text_of(office_client.get(reverse("counting")))
    page = office_client.get(reverse("difference", args=[counting.differences(theirs=True).get().pk]))
    assert "Differences of customers' cylinders" in text_of(page)
