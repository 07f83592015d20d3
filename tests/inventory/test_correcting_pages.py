"""The page on which an entry is corrected: for each kind of entry its form again, what that posts, and the posting."""

import datetime as dt
import html
import uuid
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from django.db import transaction

from inventory.containers.actions import decant, move, regrade, retire, take_back
from inventory.containers.models import Container, Location, Scale
from inventory.correcting.again import Said, kinds, way_of
from inventory.counting.actions import correct_tare, enter, post_count, start_count
from inventory.counting.entering import give_reason
from inventory.counting.models import Count
from inventory.kept.actions import Brought, Identified, find, give_back, identify, keep_for, take_in
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.machines.actions import recycle
from inventory.machines.models import Machine
from inventory.parties.models import Party
from inventory.receiving.actions import open_stock
from inventory.releases.actions import release
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from jobs.units.actions import add_unit
from jobs.units.models import Customer
from tests.forms import sent
from tests.kept import made, saved
from tests.stock import came, charge, delivery, flows, weigh

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)
G = 1000
WHY = "It was misread from the paper."


def day(number):
    return DAY + dt.timedelta(number)


def said(number, **more):
    return {"day": day(number), "by": "oscar", "key": str(uuid.uuid4()), **more}


@pytest.fixture
def stock(shop, technician):
    """C1 and C2 with 500 g each, REC with 500 g recovered, EMPTY, oil; machines, a reclaimer, a customer."""
    add_unit(by=technician, customer="Ada Example", plate="AD-1", refrigerant="R-134a")
    made(Scale, code="S1", readability_mg=1000, usual=True)
    for serial in ("7", "8"):
        made(Machine, make="Quillon", model="R", serial=serial, does="recycle")
    made(Party, name="Renew", role="reclaimer")
    made(Party, name="Burn", role="destroyer")
    return delivery(
        *(came(code, net=500 * G, tare_mg=100 * G, price_minor=950) for code in ("C1", "C2")),
        came("REC", "recovery", 500 * G, tare_mg=5_000 * G),
        came("EMPTY", "recovery", tare_mg=5_000 * G, location="Van"),
        came("OIL", "oil", 250_000, "PAG 46"),
        day=DAY,
        document="INV-1",
    )


def row(code):
    return Container.objects.select_related("account", "location", "substance").get(code=code)


@dataclass(frozen=True)
class Case:
    """An entry of one kind. make: posts it. filled: fields of its form as they stand there. change: what is corrected.
    then: what it comes to. wrong: a change that cannot have been, and what is said of it."""

    make: Callable[[], int]
    filled: dict
    change: dict
    then: Callable[[], bool]
    wrong: tuple[dict, str]
    technician: bool = False


def used_delivery():
    charge("C1", 600 * G, 500 * G, day=day(1))
    return Voucher.objects.get(kind="receipt").number


def opening():
    return open_stock(lines=[came("OPEN", net=300 * G, tare_mg=100 * G)], **said(0))


def recycled():
    """By a machine that is out of use by now."""
    number = recycle(code="REC", machine=Machine.objects.get(serial="7"), standard="SAE J2788", **said(2))
    saved(Machine.objects.get(serial="7"), retired_on=day(9))
    return number


def counted_place():
    """Counted one by one, with a difference that was explained."""
    made = start_count(
        location=Location.objects.get(name="Store"), day=today(), scale=None, by="oscar", key=uuid.uuid4()
    )
    for code, gross in (("C1", 550 * G), ("C2", 600 * G), ("OIL", 240_000)):
        enter(count_id=made.pk, code=code, gross=gross, by="oscar", sure=True)
    give_reason(count_id=made.pk, code="C1", reason="leaked", note="at the valve")
    give_reason(count_id=made.pk, code="OIL", reason="unknown")
    return post_count(count_id=made.pk, by="oscar")


def ada():
    """The customer's code."""
    return Customer.objects.get().code


def taken_in(number=1):
    brought = Brought("refillable", "R-134a", "recovered", 5_000 * G, 15_000 * G, "Store", "OWN")
    return take_in(owner=ada(), brought=brought, **said(number))


def given_back():
    taken_in()
    return give_back(code="OWN", **said(2, note="by Ada"))


def found_one(number=1):
    return find(
        kind="recovery", gross_mg=12_000 * G, location="Store", found_where="behind the shed", code="F1", **said(number)
    )[0]


def identified():
    found_one()
    known = Identified("R-134a", 9_000 * G, "identifier 7", purity="99.5")
    return identify(code="F1", said=known, **said(2))


LINE = {
    "kind": "refillable",
    "substance": "R-134a",
    "grade": "virgin",
    "count": "1",
    "tare": "100 g",
    "location": "Store",
}
CASES = {
    "receipt": Case(
        used_delivery,
        {
            "supplier": "Acme",
            "document": "INV-1",
            "day": "2026-03-01",
            "line-TOTAL_FORMS": "5",
            **{f"line-0-{name}": value for name, value in LINE.items() if name != "count"},
            "line-0-code": "C1",
            "line-0-count": "2",
            "line-0-net": "500 g",
            "line-0-price": "9.50",
            "line-1-substance": "R-134a",
            "line-2-net": "",
            "line-3-net": "250 mL",
        },
        {"line-0-net": "520 g", "supplier": "Bolt"},
        lambda: (
            (row("C2").content, row("C2").price_minor, flows()["SUPPLIER", "CONTAINER"]) == (520 * G, 950, 1_790_000)
        ),
        ({"line-0-net": "520"}, "has no unit"),
    ),
    "opening": Case(
        opening,
        {"day": "2026-03-01", "line-0-code": "OPEN", "line-0-net": "300 g", "line-0-tare": "100 g"},
        {"line-0-net": "310 g"},
        lambda: row("OPEN").content == 310 * G,
        ({"line-0-code": "C1"}, "The code C1 is in the book already"),
    ),
    "move": Case(
        lambda: move(codes=["C1", "C2"], location="Van", **said(2, note="by Ann")),
        {"containers": "C1\nC2", "to_location": "Van", "day": "2026-03-03"},
        {"containers": "C1", "to_location": "Van 2"},
        lambda: [row(code).location.name for code in ("C1", "C2")] == ["Van 2", "Store"],
        ({"containers": "C1\nNONE"}, "There is no container &#x27;NONE&#x27;"),
    ),
    "decant": Case(
        lambda: decant(source="C1", into="EMPTY", before=600 * G, after=500 * G, **said(2)),
        {"source": "C1", "into": "EMPTY", "before": "600", "after": "500", "quantity": "", "scale": "S1"},
        {"after": "450", "source": "C2"},
        lambda: (row("C1").content, row("C2").content, row("EMPTY").content) == (500 * G, 350 * G, 150 * G),
        ({"after": "650"}, "cannot weigh more"),
    ),
    "regrade": Case(
        lambda: regrade(code="REC", grade="reclaimed", **said(2, note="by Renew")),
        {"container": "REC", "grade": "reclaimed", "note": "by Renew"},
        {"grade": "recycled"},
        lambda: row("REC").grade == "recycled",
        ({"grade": "recovered"}, "is graded recovered already"),
    ),
    "regrade by a machine": Case(
        recycled,
        {"container": "REC", "standard": "SAE J2788"},
        {"standard": "SAE J2843"},
        lambda: "SAE J2843" in Voucher.objects.filter(kind="regrade").latest("number").detail,
        ({"container": "C1"}, "only what was recovered is recycled"),
    ),
    "retirement": Case(
        lambda: retire(codes=["C1"], residue_into="EMPTY", **said(2)),
        {"containers": "C1", "residue_into": "EMPTY"},
        {"containers": "C2", "residue_into": ""},
        lambda: (row("C1").retired_on, row("C2").retired_on, row("EMPTY").content) == (None, day(2), 0),
        ({"residue_into": "OIL"}, "OIL is for oil"),
    ),
    "release": Case(
        lambda: release(code="C1", cause="hose", quantity=200 * G, **said(2, note="by the hose")),
        {"container": "C1", "cause": "hose", "how": "estimated", "quantity": "200 g", "note": "by the hose"},
        {"cause": "valve", "quantity": "250 g"},
        lambda: row("C1").content == 250 * G,
        ({"quantity": "600 g"}, "600 g cannot leave it"),
    ),
    "count": Case(
        lambda: weigh("C1", 600 * G, day=day(2), note="after lunch"),
        {"line-0-code": "C1", "line-0-gross": "600 g", "line-0-scale": "S1", "note": "after lunch"},
        {"line-0-code": "C2", "line-0-gross": "580 g"},
        lambda: (row("C1").content, row("C2").content) == (500 * G, 480 * G),
        ({"line-0-code": "NONE"}, "There is no container &#x27;NONE&#x27;"),
    ),
    "count of a place": Case(
        counted_place,
        {"line-0-code": "C1", "line-0-gross": "550 g", "line-1-code": "C2", "line-2-gross": "240 mL"},
        {"line-0-gross": "560 g", "line-2-DELETE": "on"},
        lambda: (
            (row("C1").content, row("OIL").content) == (460 * G, 250_000)
            and Count.objects.get().voucher == Voucher.objects.get(kind="count", first_revision__kind="count")
            and Count.objects.get().voucher.weighings.get(container__code="C1").explanations.get().note
            == "at the valve"
        ),
        ({"line-1-code": "C1"}, "C1 has two readings"),
    ),
    "tare": Case(
        lambda: correct_tare(code="C1", tare_mg=110 * G, **said(2, note="weighed empty")),
        {"container": "C1", "tare_mg": "110 g", "note": "weighed empty", "day": "2026-03-03"},
        {"tare_mg": "101 g", "note": "by its stamp"},
        lambda: (row("C1").tare_mg, row("C1").tare_changes.latest("pk").why) == (101 * G, "by its stamp"),
        ({"note": ""}, "How it was found"),
    ),
    "shipment": Case(
        lambda: ship(
            parcels={"REC": None, "C1": 100 * G},
            purpose="reclaim",
            party=Party.objects.get(name="Renew"),
            **said(2, document="S-1"),
        ),
        {
            "purpose": "reclaim",
            "document": "S-1",
            "line-0-container": "REC",
            "line-0-quantity": "",
            "line-1-container": "C1",
            "line-1-quantity": "100 g",
        },
        {"line-1-DELETE": "on", "purpose": "destroy"},
        lambda: (row("C1").content, row("REC").content, flows()["CONTAINER", "DESTROYER"]) == (500 * G, 0, 500 * G),
        ({"line-1-quantity": "700 g"}, "700 g cannot leave it"),
    ),
    "taking in": Case(
        taken_in,
        {"kind": "refillable", "substance": "R-134a", "gross": "15000", "tare": "5000", "code": "OWN"},
        {"gross": "15500"},
        lambda: (row("OWN").content, row("OWN").kept_for) == (10_500 * G, ada()),
        ({"gross": "4000"}, "cannot weigh"),
    ),
    "setting apart": Case(
        lambda: keep_for(code="EMPTY", owner=ada(), **said(2, note="for their heat pump")),
        {"container": "EMPTY", "note": "for their heat pump"},
        {"note": "for their cold room"},
        lambda: row("EMPTY").kept_for == ada(),
        ({"container": "C1"}, "C1"),
    ),
    "giving back": Case(
        given_back,
        {"container": "OWN", "note": "by Ada"},
        {"note": "by her brother"},
        lambda: row("OWN").retired_on == day(2),
        ({"container": "C1"}, "C1"),
    ),
    "found": Case(
        found_one,
        {"kind": "recovery", "location": "Store", "code": "F1", "gross": "12000", "found_where": "behind the shed"},
        {"gross": "12100"},
        lambda: row("F1").unknown and row("F1").last_gross == 12_100 * G,
        ({"gross": "0"}, "A weight is more than nothing"),
    ),
    "identification": Case(
        identified,
        {"container": "F1", "substance": "R-134a", "tare": "9000", "purity": "99.5"},
        {"tare": "9500"},
        lambda: row("F1").content == 2_500 * G,
        ({"purity": "50"}, "that is a mixture"),
    ),
}


@pytest.fixture(params=CASES)
def case(request, stock):
    return CASES[request.param]


class Page:
    """The page that corrects a voucher, as somebody uses it."""

    def __init__(self, client, number):
        self.client, self.number, self.address = client, number, f"/ledger/{number}/correct/"

    def filled(self):
        answer = self.client.get(self.address)
        assert answer.status_code == 200
        return sent(answer.content.decode())

    def seen(self, form):
        """What the first sending answers."""
        return self.client.post(self.address, form)

    def posted(self, form):
        """Both sendings, one after the other."""
        answer = self.seen(form)
        assert answer.status_code == 200, answer.content.decode()
        return self.client.post(self.address, {**sent(answer.content.decode()), "post": "1"})


@pytest.fixture
def page(case, office_client):
    return Page(office_client, case.make())


def test_each_form_that_is_registered_is_tried(stock):
    ways = set()
    for case in CASES.values():
        with transaction.atomic():
            ways.add(way_of(Said(Voucher.objects.get(number=case.make()))))
            transaction.set_rollback(True)
    assert ways == {one for registered in kinds.values() for one in registered}


def test_the_form_holds_what_was_said(case, page):
    filled = page.filled()
    assert {name: filled.get(name) for name in case.filled} == case.filled
    assert filled["why"] == ""


def test_first_it_is_shown_and_then_posted_once(case, page, office):
    form = {**page.filled(), **case.change, "why": WHY}
    before = Voucher.objects.count()
    seen = page.seen(form)
    shown = html.unescape(seen.content.decode())
    assert seen.status_code == 200 and f"Voucher {page.number} is taken back" in shown and WHY in shown
    assert Voucher.objects.count() == before and not hasattr(Voucher.objects.get(number=page.number), "reversed_by")
    again = {**sent(seen.content.decode()), "post": "1"}
    answer = page.client.post(page.address, again)
    new = Voucher.objects.get(first_revision=page.number)
    assert (answer.status_code, answer.url) == (302, f"/ledger/{new.number}/")
    assert case.then() and verify().faults == []
    reversal = Voucher.objects.get(reverses=page.number)
    assert (reversal.note, new.recorded_by, new.day) == (WHY, office.username, today())
    posted = Voucher.objects.count()
    assert page.client.post(page.address, again).url == answer.url
    assert page.seen(form).url == answer.url
    assert Voucher.objects.count() == posted


def test_corrected_to_what_was_said_it_leaves_nothing(case, page):
    """Nothing that a form holds is lost on the way through it."""
    before, kept = (
        flows(),
        list(Container.objects.order_by("code").values_list("code", "account", "nominal", "tare_mg")),
    )
    said = [Said(Voucher.objects.get(number=page.number)).event.ops]
    assert page.posted({**page.filled(), "why": WHY}).status_code == 302
    assert flows() == before and verify().faults == []
    assert list(Container.objects.order_by("code").values_list("code", "account", "nominal", "tare_mg")) == kept
    assert [Said(Voucher.objects.get(first_revision=page.number)).event.ops] == said


def test_what_is_refused_leaves_nothing_behind(case, page, technician_client):
    before, parties = Voucher.objects.count(), Party.objects.count()
    form = {**page.filled(), "why": WHY}
    change, words = case.wrong
    for answer in (page.seen({**form, **change}), page.seen({**form, "why": " "})):
        assert answer.status_code == 422
    assert "Say what was wrong" in answer.content.decode()
    assert words in page.seen({**form, **change}).content.decode()
    for answer in (technician_client.get(page.address), technician_client.post(page.address, form)):
        assert answer.status_code == 403
    assert (Voucher.objects.count(), Party.objects.count()) == (before, parties)


def test_what_was_taken_back_is_not_corrected(case, page, stock):
    form = {**page.filled(), "why": WHY}
    if page.number == stock:
        return  # it was used, and so is corrected only
    number = take_back(page.number, by="oscar", note="not so")
    for answer in (page.client.get(page.address), page.seen(form)):
        assert answer.status_code == 409
        assert (
            f"Voucher {page.number} was taken back by voucher {number}; record what is right" in answer.content.decode()
        )
