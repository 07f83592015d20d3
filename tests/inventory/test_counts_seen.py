"""A count tells what was weighed, what was only seen, and what is assumed; it is paused, shared, and keeps its note."""

import datetime as dt
import io
import json
import re

import pytest
from pypdf import PdfReader

from inventory.containers.models import Container, Weighing
from inventory.counting import actions, entering
from inventory.counting.models import Count
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.monthend.queries import steps
from shopledger.reporting.report import Period
from shopledger.reports.stock import variances
from tests.forms import forms_of, sent
from tests.inventory.test_counting import DAY, G, count, enter, key, stock  # noqa: F401 (fixtures)
from tests.reading import without_keys
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
THIN = "\u202f"
SEVEN = f"7{THIN}000"


def form_of(client, page, action=""):
    """The fields of one form of a page."""
    return dict(forms_of(client.get(page).content.decode()))[action]


def test_what_was_only_seen_is_never_posted_as_a_weighing(count):  # noqa: F811
    enter(count, "A", 13_000 * G)
    enter(count, "B", None)
    assert entering.see_rest(count_id=count.pk, by="oscar") == 2, "C and the oil"
    number = actions.post_count(count_id=count.pk, by="oscar")
    assert list(Weighing.objects.filter(voucher=number).values_list("container__code", flat=True)) == ["A"]
    said = json.loads(Voucher.objects.get(number=number).detail)
    assert said["seen"] == ["B", "C", "OIL"] and "assumed" not in said
    assert Container.objects.get(code="B").last_weighed_on is None
    assert verify().faults == []


def test_what_was_neither_weighed_nor_seen_is_said(count, office_client):  # noqa: F811
    enter(count, "A", 13_000 * G)
    number = actions.post_count(count_id=count.pk, by="oscar")
    assert json.loads(Voucher.objects.get(number=number).detail)["assumed"] == ["B", "C", "OIL"]
    page = office_client.get(f"/ledger/{number}/").content.decode()
    assert "Neither weighed nor seen" in page and "B, C, OIL" in page


def test_a_container_seen_elsewhere_than_by_the_book_stands_here_then(count):  # noqa: F811
    enter(count, "V", None)
    actions.post_count(count_id=count.pk, by="oscar")
    assert Container.objects.get(code="V").location.name == "Store" and verify().faults == []


def test_a_corrected_count_keeps_what_was_seen(count, office_client):  # noqa: F811
    enter(count, "A", 13_000 * G)
    enter(count, "V", None)
    number = actions.post_count(count_id=count.pk, by="oscar")
    page = f"/ledger/{number}/correct/"
    form = sent(office_client.get(page).content.decode()) | {"line-0-gross": "13001 g", "why": "Misread."}
    seen = office_client.post(page, form)
    assert office_client.post(page, sent(seen.content.decode()) | {"post": "1"}).status_code == 302
    assert json.loads(Voucher.objects.filter(kind="count").latest("number").detail)["seen"] == ["V"]
    assert Container.objects.get(code="V").location.name == "Store" and verify().faults == []


def test_the_variances_report_tells_the_three_apart(count):  # noqa: F811
    enter(count, "A", 13_000 * G)
    enter(count, "B", None)
    actions.post_count(count_id=count.pk, by="oscar")
    notes = " ".join(map(str, variances(Period(DAY - dt.timedelta(days=60), today()), None).notes))
    assert "1 weighed, 1 seen and not weighed, 2 neither" in notes


def test_the_month_s_end_asks_for_what_was_seen_and_says_so(count, office_client):  # noqa: F811
    enter(count, "B", None)
    actions.post_count(count_id=count.pk, by="oscar")
    found = next(
        one for one in steps(DAY.replace(day=1), DAY.replace(day=31)) if one.title.startswith("Containers not")
    )
    assert "B at Store, never, seen on 2 Mar 2026" in [row.words for row in found.rows]


def test_a_sheet_that_waits_for_reasons_keeps_its_note(stock, office_client):  # noqa: F811
    form = sent(office_client.get(f"/counting/{stock.pk}/").content.decode())
    form |= {"gross-A": "12000", "note": "After the flood", "post": "1", "day": f"{DAY}"}
    assert office_client.post(f"/counting/{stock.pk}/", form).status_code == 302
    assert Count.objects.get().note == "After the flood"
    page = f"/counts/{Count.objects.get().pk}/"
    assert form_of(office_client, page, f"{page}post/")["note"] == "After the flood"


def test_the_note_of_a_count_outlives_a_refusal(count, office_client):  # noqa: F811
    enter(count, "A", 12_000 * G, sure=True)
    page = f"/counts/{count.pk}/"
    assert office_client.post(f"{page}post/", {"note": "Half of the store"}).status_code == 422
    office_client.post(f"{page}reason/", {"code": "A", "reason": "leaked", "note": ""})
    form = form_of(office_client, page, f"{page}post/")
    assert form["note"] == "Half of the store"
    assert office_client.post(f"{page}post/", {"note": form["note"]}).status_code == 302
    assert Voucher.objects.filter(kind="count").latest("number").note == "Half of the store"
    assert verify().faults == []


def test_two_people_do_not_overwrite_each_other(count, office_client, owner_client):  # noqa: F811
    page = f"/counts/{count.pk}/"
    mine, theirs = form_of(office_client, page), form_of(owner_client, page)
    assert owner_client.post(page, theirs | {"code": "A", "gross": "13000"}).status_code == 302
    answer = office_client.post(page, mine | {"code": "A", "gross": "13001"})
    assert answer.status_code == 422 and "entered 13 kg for A meanwhile" in answer.content.decode()
    assert count.entries.get().gross == 13_000 * G
    again = dict(forms_of(answer.content.decode()))[""] | {"sure": "on"}
    assert office_client.post(page, again).status_code == 302
    assert count.entries.get().gross == 13_001 * G
    marks = {client.get(f"{page}state/").json()["mark"] for client in (office_client, owner_client)}
    assert len(marks) == 1 and "open 1 " in marks.pop()


def test_a_code_read_instead_of_a_weight_says_the_one_before_was_seen(count, office_client):  # noqa: F811
    page = f"/counts/{count.pk}/"
    answer = office_client.post(page, {"code": "A"})
    assert answer.url == f"{page}?code=A", "its weight comes next"
    answer = office_client.post(page, {"code": "A", "gross": "B"})
    assert answer.url == f"{page}?code=B"
    assert office_client.post(page, {"code": "B", "gross": "14000"}).url == page
    assert list(count.entries.order_by("id").values_list("container__code", "gross")) == [
        ("A", None),
        ("B", 14_000 * G),
    ]


def test_a_blind_count_does_not_say_what_the_book_has(count, office_client, shop):  # noqa: F811
    page, sheet = f"/counts/{count.pk}/", f"/counting/{count.location_id}/sheet.pdf"
    paper = lambda: PdfReader(io.BytesIO(office_client.get(sheet).content)).pages[0].extract_text()  # noqa: E731
    body = office_client.get(page).content.decode()
    assert SEVEN in body and re.search(r"7.?000 g", paper())
    Shop.objects.update(blind_counts=True)
    enter(count, "A", 13_000 * G)
    shown = office_client.get(page).content.decode()
    assert SEVEN not in shown and "in all" not in shown and "within tolerance" not in shown
    assert not re.search(r"7.?000 g", paper()) and "R-134a" in paper()
    for code in ("B", "C", "OIL"):
        enter(count, code, None)
    assert "in all" in office_client.get(page).content.decode(), "once all is counted it says"


def blind(count, client):  # noqa: F811
    Shop.objects.update(blind_counts=True)
    return client.get(f"/counts/{count.pk}/").content.decode()


def test_a_blind_count_offers_nothing_as_expected(count, office_client, shop):  # noqa: F811
    page = f"/counts/{count.pk}/"
    seeing = office_client.get(page).content.decode()
    assert "seen as expected" in seeing and "F8" in without_keys(seeing)
    shown = blind(count, office_client)
    assert "expected" not in shown and "F8" not in without_keys(shown)
    answer = office_client.post(f"{page}rest/")
    assert answer.status_code == 422 and "counts blind" in answer.content.decode()
    assert not count.entries.exists()


def test_a_blind_count_that_is_refused_hides_what_is_left(count, office_client, shop):  # noqa: F811
    page = f"/counts/{count.pk}/"
    enter(count, "A", 12_400 * G)
    blind(count, office_client)
    refused = office_client.post(f"{page}post/", {"note": ""}).content.decode()
    assert SEVEN not in refused, "what C holds by the book"
    assert "more than weighing can explain" in refused and 'name="reason"' in refused
    assert office_client.post(f"{page}reason/", {"code": "A", "reason": "leaked", "note": ""}).status_code == 302
    assert SEVEN not in office_client.get(page).content.decode()
    assert office_client.post(f"{page}post/", {"note": ""}).status_code == 302


@pytest.mark.parametrize(
    ("code", "reading"), [("A", "14000"), ("A", "60 kg"), ("A", "8100"), ("C", "4000"), ("C", "7000")]
)
def test_a_question_of_a_blind_count_tells_no_figure_of_the_book(count, office_client, code, reading):  # noqa: F811
    page = f"/counts/{count.pk}/"
    assert office_client.post(page, {"code": code, "gross": reading}).status_code in {302, 422}
    count.entries.all().delete()
    blind(count, office_client)
    answer = office_client.post(page, {"code": code, "gross": reading})
    said = answer.content.decode() if answer.status_code == 422 else ""
    for figure in (
        f"5{THIN}000 g",
        f"8{THIN}000 g",
        f"13{THIN}000 g",
        "13 kg",
        "14 kg",
        "15 kg",
        f"6{THIN}000 g",
        SEVEN,
    ):
        assert figure not in said.replace("14000", "").replace("60 kg", ""), figure
    assert "by the book" not in said.split('id="lists"')[0] and "should weigh" not in said


def test_a_first_weighing_that_leaves_nothing_for_the_container_is_refused(stock):  # noqa: F811
    delivery(came("NEW", net=9_000 * G), day=DAY)
    made_count = actions.start_count(location=stock, day=DAY, scale=None, by="oscar", key=key())
    for sure in (False, True):
        with pytest.raises(Refused, match="NEW holds 9\u202f000 g by the book, and 8\u202f500 g with itself are less"):
            enter(made_count, "NEW", 8_500 * G, sure=sure)
    enter(made_count, "NEW", 15_000 * G)


@pytest.mark.parametrize(
    ("code", "reading", "said"),
    [
        ("OIL", "9999999999 mL", "more than 1000 L"),
        ("OIL", "1e3", "35 mL"),
        ("OIL", "5 pints", "pints"),
        ("a", "13 kg", "Is A meant?"),
        ("ZZ", "13 kg", "receive it first"),
    ],
)
def test_what_is_wrong_is_said_of_what_was_meant(count, office_client, code, reading, said):  # noqa: F811
    """An oil's slip is none of a mass, and a code in small letters is known by sight."""
    answer = office_client.post(f"/counts/{count.pk}/", {"code": code, "gross": reading})
    told = " ".join(words for them in answer.context["form"].errors.values() for words in them)
    assert answer.status_code == 422 and said in told and "a mass is wanted" not in told, told
