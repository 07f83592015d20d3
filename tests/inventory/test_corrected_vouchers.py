"""What a voucher's page says of its corrections, and whose papers are whose."""

import datetime as dt
import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.attachments.actions import attach
from inventory.containers.actions import count, move, take_back
from inventory.containers.models import Scale, Weighing
from inventory.correcting.links import links_of
from inventory.counting.actions import explain
from inventory.counting.queries import without_reason
from inventory.counting.recounting import Shown, recount
from inventory.ledger.models import Voucher
from inventory.ledger.seals import seal
from inventory.parties.models import Party
from inventory.receiving.queries import without_paper
from inventory.shipping.actions import enter_their_weights, ship
from inventory.shop.clock import today
from tests.forms import sent
from tests.inventory.test_attachments import PDF, uploads  # noqa: F401 (a fixture)
from tests.kept import made
from tests.stock import at, came, charge, delivery, weigh

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)
G = 1000


def day(number):
    return DAY + dt.timedelta(number)


@pytest.fixture
def stock(shop):
    """The delivery of C1 with 500 g."""
    made(Scale, code="S1", readability_mg=1000, usual=True)
    return delivery(came("C1", net=500 * G, tare_mg=100 * G), day=DAY, document="INV-1")


def again(net, corrects, **head):
    lines = [came("C1", net=net, tare_mg=100 * G)]
    return delivery(*lines, day=DAY, document="INV-1", corrects=corrects, why="misread", **head)


def words(client, number):
    page = client.get(f"/ledger/{number}/")
    assert page.status_code == 200
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode())))


def test_what_belongs_together_is_linked_both_ways(stock, office_client):
    job = charge("C1", 600 * G, 500 * G, day=day(1))
    new = again(540 * G, stock)
    reversal, rest = new - 1, new + 1
    assert f"Corrected by voucher {new} ; taken back by voucher {reversal} : misread" in words(office_client, stock)
    assert f"This takes back voucher {stock} ; voucher {new} stands in its place" in words(office_client, reversal)
    said = words(office_client, new)
    assert f"This corrects voucher {stock}" in said and f"is in voucher {rest}" in said
    follows = words(office_client, rest)
    assert f"This follows from voucher {new} , which corrects voucher {stock}" in follows
    assert f"C1 , before, 2 Mar 2026 ( voucher {job} ) agreed, now -40 g unexplained loss" in follows
    links = links_of(Voucher.objects.get(number=stock))
    assert (links.corrected_by.number, links.taken_back_by.number) == (new, reversal)


def test_what_was_judged_twice_says_what_it_said_last(stock, office_client):
    job = charge("C1", 600 * G, 500 * G, day=day(1))
    last = again(530 * G, again(540 * G, stock))
    said = f"C1 , before, 2 Mar 2026 ( voucher {job} ) -40 g against the book, now -30 g"
    assert said in words(office_client, last + 1)


def test_what_follows_from_a_taking_back_and_from_a_late_entry(stock, office_client):
    first = weigh("C1", 560 * G, day=day(1))
    weigh("C1", 550 * G, day=day(2))
    back = take_back(first, by="office", note="another one")
    assert f"Taken back by voucher {back} : another one" in words(office_client, first)
    assert f"This follows from voucher {back} , which takes back voucher {first}" in words(office_client, back + 1)
    late = charge("C1", quantity=20 * G, day=day(1))
    assert f"This follows from voucher {late} , which was entered after later ones" in words(office_client, late + 1)


def test_a_voucher_page_shows_nothing_technical(stock, office_client):
    job = charge("C1", 600 * G, 500 * G, day=day(1), at=at(day(1), 15))
    new = again(540 * G, stock)
    for number in range(1, new + 2):
        said = words(office_client, number)
        for word in ("Event", "First revision", "Because", "Restates", "ops", "position", "2026-03-02T"):
            assert word not in said, (number, word)
    assert "Day of the act 1 Mar 2026" in words(office_client, new)
    assert "Day of the act" not in words(office_client, job)


def test_who_may_sees_the_way_to_correct_it(stock, office_client, technician_client, technician):
    own = weigh("C1", 600 * G, day=day(1), done_by=technician.username)
    other = weigh("C1", 600 * G, day=day(2))
    for client, numbers in ((office_client, {stock, own, other}), (technician_client, {own})):
        pages = {number: client.get(f"/ledger/{number}/").content.decode() for number in range(1, other + 1)}
        assert {n for n, page in pages.items() if f'href="/ledger/{n}/correct/"' in page} == numbers
    form = sent(technician_client.get(f"/ledger/{own}/correct/").content.decode())
    form |= {"line-0-gross": "590 g", "why": "It was misread."}
    seen = technician_client.post(f"/ledger/{own}/correct/", form).content.decode()
    answer = technician_client.post(f"/ledger/{own}/correct/", {**sent(seen), "post": "1"})
    assert answer.status_code == 302
    new = Voucher.objects.get(first_revision=own).number
    for number in (own, new - 1, new):
        page = technician_client.get(f"/ledger/{number}/").content.decode()
        assert ('/correct/"' in page) == (number == new)
    assert technician_client.get(f"/ledger/{other}/correct/").status_code == 403


def test_why_a_voucher_is_not_corrected(stock, office_client):
    job = charge("C1", 600 * G, 500 * G, day=day(1))
    new = again(540 * G, stock)
    said = {
        stock: f"Voucher {stock} was corrected by voucher {new}; correct that one.",
        job: "A job is corrected on a page of its own.",
        new - 1: "What was taken back stays taken back",
        new + 1: f"It follows from voucher {new}; correct what is wrong there, and this goes along.",
    }
    for number, words_ in said.items():
        answer = office_client.get(f"/ledger/{number}/correct/")
        assert (answer.status_code, words_ in answer.content.decode()) == (409, True), number


def test_what_was_recorded_meanwhile_is_shown_before_it_is_posted(stock, office_client):
    address = f"/ledger/{stock}/correct/"
    form = {**sent(office_client.get(address).content.decode()), "line-0-net": "540 g", "why": "x"}
    seen = {**sent(office_client.post(address, form).content.decode()), "post": "1"}
    charge("C1", 600 * G, 500 * G, day=day(1))
    count = Voucher.objects.count()
    answer = office_client.post(address, seen)
    assert answer.status_code == 409 and "Something was recorded meanwhile" in answer.content.decode()
    assert Voucher.objects.count() == count
    form = {**sent(answer.content.decode()), "post": "1"}
    assert office_client.post(address, form).status_code == 302
    assert Voucher.objects.count() == count + 3, "the reversal, what is right, what follows"
    address = f"/ledger/{Voucher.objects.get(first_revision=stock).number}/correct/"
    unseen = {**sent(office_client.get(address).content.decode()), "why": "x", "post": "1"}
    assert office_client.post(address, unseen).status_code == 200
    assert Voucher.objects.count() == count + 3


def test_back_to_the_form_and_more_lines_lose_nothing(stock, office_client):
    address = f"/ledger/{stock}/correct/"
    form = {**sent(office_client.get(address).content.decode()), "line-0-net": "540 g", "why": "It was."}
    seen = sent(office_client.post(address, form).content.decode())
    back = office_client.post(address, {**seen, "change": "1"})
    kept = sent(back.content.decode())
    assert back.status_code == 200 and kept == {**form, "line-1-count": kept["line-1-count"]}
    longer = sent(office_client.post(address, {**kept, "more": "1"}).content.decode())
    assert longer["line-TOTAL_FORMS"] == str(int(kept["line-TOTAL_FORMS"]) + 3) and longer["line-0-net"] == "540 g"


def test_a_line_may_be_added_and_taken_off(stock, office_client):
    address = f"/ledger/{stock}/correct/"
    form = {**sent(office_client.get(address).content.decode()), "line-0-DELETE": "on", "why": "x"}
    form |= {
        f"line-1-{name}": form[f"line-0-{name}"] for name in ("kind", "substance", "grade", "net", "tare", "location")
    }
    form |= {"line-1-code": "C9", "line-1-net": "600 g", "line-1-tare": "2 kg"}
    seen = sent(office_client.post(address, form).content.decode())
    assert office_client.post(address, {**seen, "post": "1"}).status_code == 302
    page = office_client.get("/stock/").content.decode()
    assert "C9" in page and ">C1<" not in page


def test_the_order_of_a_day_is_asked(stock, office_client):
    moved = move(codes=["C1"], location="Van", day=day(3), by="office")
    weighed = weigh("C1", 600 * G, day=day(2))
    form = {**sent(office_client.get(f"/ledger/{moved}/correct/").content.decode()), "day": "2026-03-03", "why": "x"}
    asked = office_client.post(f"/ledger/{moved}/correct/", form)
    assert asked.status_code == 422 and f"after voucher {weighed}: count, with C1" in asked.content.decode()
    answer = {**sent(asked.content.decode()), "follows": "0"}
    seen = sent(office_client.post(f"/ledger/{moved}/correct/", answer).content.decode())
    assert office_client.post(f"/ledger/{moved}/correct/", {**seen, "post": "1"}).status_code == 302
    assert Voucher.objects.count() == weighed + 2, "the reversal and what is right"


def test_of_many_movements_those_in_doubt_are_shown_and_the_others_added_up(shop, office_client):
    made(Scale, code="S1", readability_mg=1000, usual=True)
    cans = [came(f"CAN-{n}", "can", 340 * G, tare_mg=100 * G) for n in range(1, 9)]
    delivery(*cans, day=DAY)
    number, _ = count(readings={f"CAN-{n}": 439 * G for n in range(1, 9)}, day=day(1), by="oscar")
    form = {**sent(office_client.get(f"/ledger/{number}/correct/").content.decode()), "line-7-gross": "400 g"}
    seen = office_client.post(f"/ledger/{number}/correct/", {**form, "why": "x"}).content.decode()
    said = html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", seen)))
    now = said.partition("As it is entered now")[2]
    assert "8 movements: 8 g R-134a" in said.partition("As it is entered now")[0]
    assert now.index("CAN-8 to unexplained loss 40 g R-134a check") < now.index("7 movements: 7 g R-134a")


def test_of_a_sealed_day_it_is_dated_today_and_said(stock, office_client):
    seal(day(1), "olive")
    address = f"/ledger/{stock}/correct/"
    form = {**sent(office_client.get(address).content.decode()), "line-0-net": "540 g", "why": "x"}
    shown = office_client.post(address, form).content.decode()
    assert 'All days up to <time datetime="2026-03-02">2 Mar 2026</time> are sealed and stay as they are.' in shown


def test_a_reason_that_cannot_be_kept_is_refused_at_its_field(stock, office_client):
    address, before = f"/ledger/{stock}/correct/", Voucher.objects.count()
    form = {**sent(office_client.get(address).content.decode()), "line-0-net": "540 g", "why": "mis\x82read"}
    page = office_client.post(address, form).content.decode()
    assert "U+0082" in page and 'href="#id_why"' in page and Voucher.objects.count() == before


# -- papers ----------------------------------------------------------------------------------------------


def test_a_paper_stays_that_of_its_delivery(stock, office_client):
    first = again(540 * G, stock)
    assert [one.number for one in without_paper(today(), today())] == [first]
    attach(subject=f"voucher:{stock}", upload=SimpleUploadedFile("i.pdf", PDF), by="oscar", title="Invoice 1")
    second = again(530 * G, first)
    attach(subject=f"voucher:{first}", upload=SimpleUploadedFile("j.pdf", PDF + b" "), by="oscar", title="Invoice 2")
    assert not without_paper(DAY, today())
    for number in (stock, first, second):
        assert "Invoice 1" in words(office_client, number) and "Invoice 2" in words(office_client, number)
    assert "Invoice" not in words(office_client, second - 1)


def test_a_paper_of_another_delivery_does_not_count(stock):
    other = delivery(came("C2", net=500 * G), day=DAY, document="INV-2")
    attach(subject=f"voucher:{other}", upload=SimpleUploadedFile("i.pdf", PDF), by="oscar")
    assert [one.number for one in without_paper(DAY, today())] == [stock]
    new = again(540 * G, stock)
    assert [one.number for one in without_paper(DAY, today())] == [new]


def test_what_they_found_stays_with_a_corrected_shipment(stock, office_client):
    renew = made(Party, name="Renew", role="reclaimer")
    sent_away = {"parcels": {"C1": 100 * G}, "purpose": "reclaim", "party": renew, "day": day(1), "by": "oscar"}
    number = ship(**sent_away)
    enter_their_weights(number=number, weights={"C1": 105 * G}, document="R-1", by="oscar")
    new = ship(**{**sent_away, "parcels": {"C1": 104 * G}}, corrects=number, why="misread")
    assert "C1: sent 104 g they found 105 g , 1 g beside ours, R-1" in words(office_client, new)


def test_a_reason_stays_with_a_difference_that_is_still_there(stock):
    number = weigh("C1", 550 * G, day=day(1))
    explain(weighing_id=Weighing.objects.get().pk, reason="leaked", note="valve", by="oscar")
    said = {"day": day(1), "by": "oscar", "why": "misread"}
    new = recount(readings={"C1": Shown(540 * G, "S1")}, corrects=number, **said)
    assert Weighing.objects.get(voucher=new).explanations.get().note == "valve" and not without_reason().exists()
    last = recount(readings={"C1": Shown(600 * G, "S1")}, corrects=new, **said)
    assert not Weighing.objects.get(voucher=last).explanations.exists()
