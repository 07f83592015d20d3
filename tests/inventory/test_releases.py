"""What got into the air by accident: what is posted of it, who may say so, and what is asked then."""

import datetime as dt
import html
import re
import uuid

import pytest

from inventory.containers.actions import take_back
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.containers.write_off import NeedsYes
from inventory.ledger.models import Movement, Voucher
from inventory.ledger.verify import verify
from inventory.releases.actions import release
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from inventory.write_offs.actions import agree, ask, what_it_posts
from inventory.write_offs.models import WriteOff
from jobs.people.models import Person
from shopledger.reporting.report import Period
from shopledger.reports import usage
from shopledger.reports.emissions import emissions
from tests.kept import made, saved
from tests.stock import came, delivery, flows, weigh

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)
G = 1000


def head(by="oscar", **more):
    return {"day": DAY + dt.timedelta(3), "by": by, "key": str(uuid.uuid4()), **more}


@pytest.fixture
def stock(shop, technician):
    """C1 with 5 kg by the book and a tare of 6 kg, a bottle of oil, an empty cylinder."""
    made(Scale, code="S1", readability_mg=1000, usual=True)
    made(Location, name="Store")
    delivery(
        came("C1", net=5_000 * G, tare_mg=6_000 * G),
        came("EMPTY", "recovery", tare_mg=5_000 * G),
        came("OIL", "oil", 250_000, "PAG 46"),
        day=DAY,
    )


def row(code):
    return Container.objects.select_related("account").get(code=code)


def lost():
    return flows().get(("CONTAINER", "OTHER_LOSS"), 0)


def test_all_that_the_book_has_is_lost(stock) -> None:
    number = release(code="C1", cause="relief", **head())
    assert row("C1").content == 0 and lost() == 5_000 * G
    assert Voucher.objects.get(number=number).kind == "release"
    assert verify().faults == []


def test_an_estimated_quantity_is_lost(stock) -> None:
    release(code="C1", cause="hose", quantity=300 * G, **head(note="By the length of the hose."))
    assert row("C1").content == 4_700 * G and lost() == 300 * G


def test_by_weights_before_and_after(stock) -> None:
    """What the book had wrong before is no part of it."""
    release(code="C1", cause="hose", before=10_900 * G, after=10_000 * G, **head())
    assert row("C1").content == 4_000 * G and lost() == 900 * G
    assert flows()["CONTAINER", "UNEXPLAINED_LOSS"] == 100 * G
    assert [one.role for one in Weighing.objects.order_by("line")] == ["before", "after"]


def test_by_what_it_weighs_now(stock) -> None:
    """The book tells what was in it, the scale what is left."""
    release(code="C1", cause="valve", after=8_500 * G, **head())
    assert row("C1").content == 2_500 * G and lost() == 2_500 * G
    assert Weighing.objects.get().outcome == "agrees"


def test_a_bottle_of_oil_is_spilled(stock) -> None:
    release(code="OIL", cause="fall", quantity=100_000, **head(note="By the mark on the bottle."))
    assert row("OIL").content == 150_000 and lost() == 100_000


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"code": "NONE"}, "container", "There is no container"),
        ({"code": "EMPTY"}, "container", "holds nothing by the book"),
        ({"quantity": 5_001 * G, "note": "seen"}, "quantity", "5.?001 g cannot leave it"),
        ({"quantity": 0, "note": "seen"}, "quantity", "more than nothing"),
        ({"quantity": 10 * G}, "note", "how it was estimated"),
        ({"cause": "other"}, "note", "what happened"),
        ({"cause": "gremlins"}, "cause", "is no cause"),
        ({"after": 11_000 * G}, "after", "nothing got out"),
        ({"before": 10_000 * G, "after": 10_500 * G}, "after", "cannot weigh more"),
        ({"before": 10_000 * G}, "after", "what it weighs now"),
        ({"quantity": 10 * G, "after": 9_000 * G, "note": "x"}, "quantity", "not both"),
        ({"day": DAY - dt.timedelta(1)}, "day", "came in on"),
    ],
)
def test_what_cannot_be_is_refused(stock, said, field, words) -> None:
    before = Voucher.objects.count()
    with pytest.raises(Refused, match=words) as refused:
        release(**{"code": "C1", "cause": "hose", **head(), **said})
    assert refused.value.field == field and Voucher.objects.count() == before


def test_the_reports_count_it(stock) -> None:
    release(code="C1", cause="hose", quantity=1_430 * G, **head(note="seen"))
    period = Period(DAY, DAY + dt.timedelta(30))
    table = usage.rows(period)
    names = [one.name for one in table.columns]
    found = dict(zip(names, next(one for one in table.rows if one[0] == "R-134a"), strict=True))
    assert found["other_loss"] == 1_430 * G and found["closing"] == 3_570 * G
    told = emissions(period, None)
    gwp = dict(zip([one.name for one in told.columns], told.rows[0], strict=True))
    assert float(gwp["lost"]) == pytest.approx(float(gwp["gwp"]) * 1.43 / 1000)


def test_it_can_be_taken_back(stock) -> None:
    number = release(code="C1", cause="hose", **head())
    take_back(number, by="oscar", note="It was another one.")
    assert row("C1").content == 5_000 * G and lost() == 0 and verify().faults == []


def test_what_was_weighed_after_it_is_told_anew(stock) -> None:
    """A loss that a count found is explained by the release that is entered late."""
    weigh("C1", 8_000 * G, day=DAY + dt.timedelta(5))
    assert flows()["CONTAINER", "UNEXPLAINED_LOSS"] == 3_000 * G
    release(code="C1", cause="hose", quantity=3_000 * G, **head(note="seen"))
    assert lost() == 3_000 * G and ("CONTAINER", "UNEXPLAINED_LOSS") not in flows()
    assert verify().faults == []


def test_a_customers_own_gas_is_lost_too(stock, office) -> None:
    from inventory.kept.actions import Brought, take_in
    from jobs.units.actions import add_unit
    from jobs.units.models import Customer
    from shopledger.reports import kept

    add_unit(by=None, customer="Ada Example", plate="AD-1", refrigerant="R-134a")
    brought = Brought("refillable", "R-134a", "recovered", 5_000 * G, 15_000 * G, "Store", "OWN")
    take_in(owner=Customer.objects.get().code, brought=brought, **{**head(), "day": DAY})
    release(code="OWN", cause="fall", before=15_000 * G, after=14_000 * G, **head())
    release(code="OWN", cause="fall", **head(follows=Voucher.objects.latest("number").number))
    assert row("OWN").content == 0 and flows()["KEPT", "OTHER_LOSS"] == 10_000 * G
    table = kept.rows(Period(DAY, DAY + dt.timedelta(30)), None)
    names = [one.name for one in table.columns]
    assert dict(zip(names, table.rows[0], strict=True))["other_loss"] == 10_000 * G


def test_more_than_one_person_may_write_off_waits_for_a_second(stock, office) -> None:
    saved(Shop.current(), write_off_mg=500 * G)
    made(Person, username="olga", name="Olga", role="owner")
    with pytest.raises(NeedsYes) as needed:
        release(code="C1", cause="hose", **head(at=dt.datetime(2026, 3, 4, 9, 30, tzinfo=dt.UTC)))
    kept = ask(needed.value)
    assert lost() == 0 and [one.kind for one in what_it_posts(kept)] == ["release"]
    from inventory.containers.preview import mark

    number = agree(pk=kept.pk, by="olga", shown=mark(what_it_posts(kept)))
    assert lost() == 5_000 * G and WriteOff.objects.get().voucher_id == number


# -- the page --------------------------------------------------------------------------------------------


def typed(**said):
    return {
        "key": str(uuid.uuid4()),
        "container": "C1",
        "cause": "hose",
        "how": "all",
        "day": "2026-03-04",
        "note": "",
        **said,
    }


def words(answer):
    text = html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode().partition("<main")[2]))
    return re.sub(r"\s+", " ", text)


def test_a_technician_says_it_from_the_containers_page(stock, technician_client) -> None:
    page = technician_client.get("/stock/containers/C1/").content.decode()
    assert "/stock/release/?container=C1" in page
    answer = technician_client.post("/stock/release/?container=C1", typed(how="weighed", after="8500 g"), follow=True)
    assert lost() == 2_500 * G
    voucher = Voucher.objects.get(kind="release")
    said = words(answer)
    assert f"Voucher {voucher.number}" in said and "burst hose" in said
    assert "What is asked now" in said and "Do not vent refrigerant" in said


def test_who_and_when_are_kept(stock, office_client, technician) -> None:
    sent = typed(how="estimated", quantity="200 g", note="By the hose.", time="09:30", who=technician.username)
    assert office_client.post("/stock/release/", sent).status_code == 302
    voucher = Voucher.objects.get(kind="release")
    assert voucher.done_by == technician.username and "09:30" not in voucher.note
    assert Movement.objects.filter(voucher=voucher, target_class=9).get().quantity == 200 * G


@pytest.mark.parametrize(
    ("said", "words_"),
    [
        ({"how": "weighed"}, "Type what it weighs now"),
        ({"how": "estimated", "note": "x"}, "Type how much got out"),
        ({"how": "estimated", "quantity": "200 g"}, "how it was estimated"),
        ({"how": "estimated", "quantity": "0 g", "note": "None, they say."}, "nothing"),
        ({"how": "all", "after": "8 kg"}, "choose weighed"),
        ({"how": ""}, "Choose how it is known"),
        ({"cause": ""}, "Choose the cause"),
        ({"container": ""}, "Name the container"),
    ],
)
def test_what_is_wrong_stands_at_its_field(stock, office_client, said, words_) -> None:
    answer = office_client.post("/stock/release/", typed(**said))
    assert answer.status_code == 422 and words_ in words(answer) and lost() == 0
