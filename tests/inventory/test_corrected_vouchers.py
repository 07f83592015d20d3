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
from tests.stock import at, came, charge, delivery, weigh

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)
G = 1000


def day(number):
    return DAY + dt.timedelta(number)


@pytest.fixture
def stock(shop):
    """C1 with 500 g. Voucher 1."""
    Scale.objects.create(code="S1", readability_mg=1000, usual=True)
    return delivery(came("C1", net=500 * G, tare_mg=100 * G), day=DAY, document="INV-1")


def again(net=500 * G, corrects=1, **head):
    lines = [came("C1", net=net, tare_mg=100 * G)]
    return delivery(*lines, day=DAY, document="INV-1", corrects=corrects, why="misread", **head)


def words(client, number):
    page = client.get(f"/ledger/{number}/")
    assert page.status_code == 200
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode())))


def test_what_belongs_together_is_linked_both_ways(stock, office_client):
    charge("C1", 600 * G, 500 * G, day=day(1))
    new = again(540 * G)  # 3 the reversal, 4, 5 what follows
    assert "Corrected by voucher 4 ; taken back by voucher 3 : misread" in words(office_client, 1)
    assert "This takes back voucher 1 ; voucher 4 stands in its place" in words(office_client, 3)
    said = words(office_client, new)
    assert "This corrects voucher 1" in said and "is in voucher 5" in said
    follows = words(office_client, 5)
    assert "This follows from voucher 4 , which corrects voucher 1" in follows
    assert "C1 , before, 2 Mar 2026 ( voucher 2 ) agreed, now -40 g unexplained loss" in follows
    links = links_of(Voucher.objects.get(number=1))
    assert (links.corrected_by.number, links.taken_back_by.number) == (4, 3)


def test_what_was_judged_twice_says_what_it_said_last(stock, office_client):
    charge("C1", 600 * G, 500 * G, day=day(1))
    again(again(540 * G) and 530 * G, corrects=4)
    assert "C1 , before, 2 Mar 2026 ( voucher 2 ) -40 g against the book, now -30 g" in words(office_client, 8)


def test_what_follows_from_a_taking_back_and_from_a_late_entry(stock, office_client):
    first = weigh("C1", 560 * G, day=day(1))
    weigh("C1", 550 * G, day=day(2))
    take_back(first, by="office", note="another one")
    assert "Taken back by voucher 4 : another one" in words(office_client, first)
    assert f"This follows from voucher 4 , which takes back voucher {first}" in words(office_client, 5)
    charge("C1", quantity=20 * G, day=day(1))
    assert "This follows from voucher 6 , which was entered after later ones" in words(office_client, 7)


def test_a_voucher_page_shows_nothing_technical(stock, office_client):
    charge("C1", 600 * G, 500 * G, day=day(1), at=at(day(1), 15))
    for number in range(1, again(540 * G) + 2):
        said = words(office_client, number)
        for word in ("Event", "First revision", "Because", "Restates", "ops", "position", "2026-03-02T"):
            assert word not in said, (number, word)
    assert "Day of the act 1 Mar 2026" in words(office_client, 4)
    assert "Day of the act" not in words(office_client, 2)


def test_who_may_sees_the_way_to_correct_it(stock, office_client, technician_client, technician):
    own = weigh("C1", 600 * G, day=day(1), done_by=technician.username)
    weigh("C1", 600 * G, day=day(2))
    for client, numbers in ((office_client, {1, own, 3}), (technician_client, {own})):
        shown = {n for n in (1, 2, 3) if f'href="/ledger/{n}/correct/"' in client.get(f"/ledger/{n}/").content.decode()}
        assert shown == numbers
    form = sent(technician_client.get(f"/ledger/{own}/correct/").content.decode())
    form |= {"line-0-gross": "590 g", "why": "It was misread."}
    seen = technician_client.post(f"/ledger/{own}/correct/", form).content.decode()
    answer = technician_client.post(f"/ledger/{own}/correct/", {**sent(seen), "post": "1"})
    assert answer.status_code == 302
    for number in (own, own + 3, 5):
        page = technician_client.get(f"/ledger/{number}/").content.decode()
        assert ('/correct/"' in page) == (number == 5)
    assert technician_client.get("/ledger/3/correct/").status_code == 403


def test_why_a_voucher_is_not_corrected(stock, office_client):
    charge("C1", 600 * G, 500 * G, day=day(1))
    again(540 * G)
    said = {
        1: "Voucher 1 was corrected by voucher 4; correct that one.",
        2: "A job is corrected on a page of its own.",
        3: "What was taken back stays taken back",
        5: "It follows from voucher 4; correct what is wrong there, and this goes along.",
    }
    for number, words_ in said.items():
        answer = office_client.get(f"/ledger/{number}/correct/")
        assert (answer.status_code, words_ in answer.content.decode()) == (409, True), number


def test_what_was_recorded_meanwhile_is_shown_before_it_is_posted(stock, office_client):
    form = {**sent(office_client.get("/ledger/1/correct/").content.decode()), "line-0-net": "540 g", "why": "x"}
    seen = {**sent(office_client.post("/ledger/1/correct/", form).content.decode()), "post": "1"}
    charge("C1", 600 * G, 500 * G, day=day(1))
    answer = office_client.post("/ledger/1/correct/", seen)
    assert answer.status_code == 409 and "Something was recorded meanwhile" in answer.content.decode()
    assert Voucher.objects.count() == 2
    form = {**sent(answer.content.decode()), "post": "1"}
    assert office_client.post("/ledger/1/correct/", form).status_code == 302
    unseen = {**sent(office_client.get("/ledger/4/correct/").content.decode()), "why": "x", "post": "1"}
    assert office_client.post("/ledger/4/correct/", unseen).status_code == 200
    assert Voucher.objects.count() == 5


def test_back_to_the_form_and_more_lines_lose_nothing(stock, office_client):
    form = {**sent(office_client.get("/ledger/1/correct/").content.decode()), "line-0-net": "540 g", "why": "It was."}
    seen = sent(office_client.post("/ledger/1/correct/", form).content.decode())
    back = office_client.post("/ledger/1/correct/", {**seen, "change": "1"})
    kept = sent(back.content.decode())
    assert back.status_code == 200 and kept == {**form, "line-1-count": kept["line-1-count"]}
    longer = sent(office_client.post("/ledger/1/correct/", {**kept, "more": "1"}).content.decode())
    assert longer["line-TOTAL_FORMS"] == str(int(kept["line-TOTAL_FORMS"]) + 3) and longer["line-0-net"] == "540 g"


def test_a_line_may_be_added_and_taken_off(stock, office_client):
    form = {**sent(office_client.get("/ledger/1/correct/").content.decode()), "line-0-DELETE": "on", "why": "x"}
    form |= {
        f"line-1-{name}": form[f"line-0-{name}"] for name in ("kind", "substance", "grade", "net", "tare", "location")
    }
    form |= {"line-1-code": "C9", "line-1-net": "600 g"}
    seen = sent(office_client.post("/ledger/1/correct/", form).content.decode())
    assert office_client.post("/ledger/1/correct/", {**seen, "post": "1"}).status_code == 302
    page = office_client.get("/stock/").content.decode()
    assert "C9" in page and ">C1<" not in page


def test_the_order_of_a_day_is_asked(stock, office_client):
    moved = move(codes=["C1"], location="Van", day=day(3), by="office")
    weigh("C1", 600 * G, day=day(2))
    form = {**sent(office_client.get(f"/ledger/{moved}/correct/").content.decode()), "day": "2026-03-03", "why": "x"}
    asked = office_client.post(f"/ledger/{moved}/correct/", form)
    assert asked.status_code == 422 and "after voucher 3: count, with C1" in asked.content.decode()
    answer = {**sent(asked.content.decode()), "follows": "0"}
    seen = sent(office_client.post(f"/ledger/{moved}/correct/", answer).content.decode())
    assert office_client.post(f"/ledger/{moved}/correct/", {**seen, "post": "1"}).status_code == 302
    assert Voucher.objects.count() == 5


def test_of_many_movements_those_in_doubt_are_shown_and_the_others_added_up(shop, office_client):
    Scale.objects.create(code="S1", readability_mg=1000, usual=True)
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
    form = {**sent(office_client.get("/ledger/1/correct/").content.decode()), "line-0-net": "540 g", "why": "x"}
    shown = office_client.post("/ledger/1/correct/", form).content.decode()
    assert "All days up to 2026-03-02 are sealed and stay as they are." in shown


# -- papers ----------------------------------------------------------------------------------------------


def test_a_paper_stays_that_of_its_delivery(stock, office_client):
    first = again(540 * G)
    assert [one.number for one in without_paper(today(), today())] == [first]
    attach(subject="voucher:1", upload=SimpleUploadedFile("i.pdf", PDF), by="oscar", title="Invoice 1")
    second = again(530 * G, corrects=first)
    attach(subject=f"voucher:{first}", upload=SimpleUploadedFile("j.pdf", PDF + b" "), by="oscar", title="Invoice 2")
    assert not without_paper(DAY, today())
    for number in (1, first, second):
        assert "Invoice 1" in words(office_client, number) and "Invoice 2" in words(office_client, number)
    assert "Invoice" not in words(office_client, second - 1)


def test_a_paper_of_another_delivery_does_not_count(stock):
    other = delivery(came("C2", net=500 * G), day=DAY, document="INV-2")
    attach(subject=f"voucher:{other}", upload=SimpleUploadedFile("i.pdf", PDF), by="oscar")
    assert [one.number for one in without_paper(DAY, today())] == [1]
    again(540 * G)
    assert [one.number for one in without_paper(DAY, today())] == [4]


def test_what_they_found_stays_with_a_corrected_shipment(stock, office_client):
    renew = Party.objects.create(name="Renew", role="reclaimer")
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
