"""What is written off beyond the shop's limit waits for a second person's yes."""

import html
import json
import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.containers.actions import count, decant, retire
from inventory.containers.models import Container, Location, Scale
from inventory.containers.preview import mark
from inventory.containers.write_off import NeedsYes
from inventory.counting.actions import start_count
from inventory.counting.entering import enter, give_reason
from inventory.ledger.models import Movement, Record
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from inventory.write_offs.actions import agree, ask, refuse, what_it_posts, withdraw
from inventory.write_offs.models import WriteOff
from jobs.people.models import Person
from tests.inventory.test_office_pages import CANS, CYLINDER, OIL, delivery
from tests.kept import made, posted, saved

pytestmark = pytest.mark.django_db
G = 1000


def plain(client, page):
    """A page's words, one space between them."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", client.get(page).content.decode().partition("<main")[2]))
    return re.sub(r"\s+", " ", text)


@pytest.fixture
def ready(shop, office_client, owner_client):
    made(Scale, code="bench", readability_mg=1000, usual=True)
    made(Location, name="Store")
    full = {**CYLINDER, "kind": "refillable", "net": "5 kg"}
    office_client.post("/receiving/new/", delivery(CANS, full, OIL))
    saved(Shop.current(), write_off_mg=500 * G, write_off_ul=100_000)
    return office_client


def form(**more):
    return {"key": str(uuid.uuid4()), "day": str(today()), "residue_into": "", **more}


def retired(client, *codes, **more):
    return client.post("/stock/retire/", form(codes=list(codes), **more))


def head(by="oscar", **more):
    return {"day": today(), "by": by, "key": str(uuid.uuid4()), **more}


def lost():
    return sum(Movement.objects.filter(target_class__in=[8, 12]).values_list("quantity", flat=True))


def test_up_to_the_limit_one_person_is_enough(ready):
    answer = retired(ready, "CAN-0001")
    assert answer.status_code == 302 and "write-offs" not in answer.url
    assert (lost(), WriteOff.objects.count()) == (340 * G, 0)


def test_beyond_it_nothing_is_posted_before_another_says_yes(ready, owner_client):
    answer = retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    assert answer.url == f"/write-offs/{kept.pk}/"
    assert (lost(), kept.state, kept.asked_by) == (0, "waiting", "oscar")
    page = ready.get(answer.url).content.decode()
    assert "680 g of R-134a" in page and "Yes, post it" not in page and "Withdraw it" in page
    shown = owner_client.get(answer.url)
    assert "Yes, post it" in shown.content.decode()
    assert "680 g of R-134a" in owner_client.get("/").content.decode()
    done = owner_client.post(f"/write-offs/{kept.pk}/agree/", {"shown": shown.context["shown"]})
    kept.refresh_from_db()
    assert done.status_code == 302 and kept.state == "agreed" and kept.answered_by == "olive"
    voucher = kept.voucher
    assert (voucher.recorded_by, json.loads(voucher.detail)["agreed"]) == ("oscar", "olive")
    assert lost() == 680 * G and Container.objects.get(code="CAN-0002").retired_on == today()
    assert verify().faults == []
    said = Record.objects.filter(kind="write-off").latest("id")
    assert json.loads(said.body)["state"] == "agreed"


def test_whoever_asked_cannot_say_yes_and_a_technician_neither(ready, technician_client):
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    shown = ready.get(f"/write-offs/{kept.pk}/").context["shown"]
    answer = ready.post(f"/write-offs/{kept.pk}/agree/", {"shown": shown})
    assert answer.status_code == 409 and "You asked for it" in answer.content.decode()
    assert technician_client.post(f"/write-offs/{kept.pk}/agree/", {"shown": shown}).status_code == 403
    assert technician_client.get(f"/write-offs/{kept.pk}/").status_code == 404  # not one of theirs
    assert lost() == 0 and WriteOff.objects.get().is_waiting


def test_the_same_form_asks_once(ready):
    sent = form(codes=["CAN-0001", "CAN-0002"])
    assert ready.post("/stock/retire/", sent).url == ready.post("/stock/retire/", sent).url
    assert WriteOff.objects.count() == 1


def test_other_content_under_its_id_is_refused_before_the_yes_and_after_it(ready, owner_client):
    sent = form(codes=["CAN-0001", "CAN-0002"])
    waits = ready.post("/stock/retire/", sent).url
    other = {**sent, "codes": ["CAN-0003", "CAN-0004"]}
    refused = ready.post("/stock/retire/", other)
    page = refused.content.decode()
    assert (
        refused.status_code == 422 and "already recorded as" in page and f'or <a href="{waits}">open write off' in page
    )
    assert WriteOff.objects.count() == 1 and ready.post("/stock/retire/", sent).url == waits
    owner_client.post(f"{waits}agree/", {"shown": owner_client.get(waits).context["shown"]})
    assert ready.post("/stock/retire/", other).status_code == 422
    assert ready.post("/stock/retire/", sent).status_code == 302 and posted().filter(kind="retirement").count() == 1


def test_several_small_ones_count_together(ready):
    retired(ready, "CAN-0001")
    assert "write-offs" in retired(ready, "CAN-0002").url
    with pytest.raises(NeedsYes):
        retire(codes=["CAN-0003"], residue_into="", **head())
    assert retire(codes=["CAN-0003"], residue_into="", **head(by="olive"))  # another person's own share


def test_one_that_two_agreed_to_does_not_count_and_taken_back_gives_no_leave(ready, owner_client):
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    shown = owner_client.get(f"/write-offs/{kept.pk}/").context["shown"]
    number = agree(pk=kept.pk, by="olive", shown=shown)
    retire(codes=["CAN-0003"], residue_into="", **head())  # 340 g alone
    ready.post(f"/ledger/{number}/reverse/", {"key": str(uuid.uuid4()), "note": "they are there"})
    with pytest.raises(NeedsYes):
        retire(codes=["CAN-0004"], residue_into="", **head())


def test_no_needs_a_reason_and_posts_nothing(ready, owner_client):
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    assert owner_client.post(f"/write-offs/{kept.pk}/refuse/", {"answer": ""}).status_code == 422
    assert owner_client.post(f"/write-offs/{kept.pk}/refuse/", {"answer": "weigh them"}).status_code == 302
    kept.refresh_from_db()
    assert (kept.state, kept.answer, lost()) == ("refused", "weigh them", 0)
    assert "weigh them" in ready.get(f"/write-offs/{kept.pk}/").content.decode()
    for again in (
        lambda: agree(pk=kept.pk, by="olive", shown=""),
        lambda: withdraw(pk=kept.pk, by="oscar"),
        lambda: refuse(pk=kept.pk, by="olive", answer="once more"),
    ):
        with pytest.raises(Refused, match="refused by Olive Test"):
            again()


def test_whoever_asked_withdraws(ready, owner_client):
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    assert owner_client.post(f"/write-offs/{kept.pk}/withdraw/").status_code == 409
    assert ready.post(f"/write-offs/{kept.pk}/withdraw/").status_code == 302
    assert WriteOff.objects.get().state == "withdrawn" and lost() == 0


def test_what_was_recorded_meanwhile_is_shown_before_it_is_posted(ready, owner_client):
    """What it would post changes: then the yes was given to something else."""
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    shown = owner_client.get(f"/write-offs/{kept.pk}/").context["shown"]
    count(readings={"CAN-0001": 240 * G}, **(head(by="olive") | {"day": today() - timedelta(days=1)}))
    answer = owner_client.post(f"/write-offs/{kept.pk}/agree/", {"shown": shown})
    assert answer.status_code == 409 and "look at it again" in answer.content.decode()
    assert WriteOff.objects.get().is_waiting


def test_what_cannot_be_posted_any_more_says_why(ready, owner_client):
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    retire(codes=["CAN-0001"], residue_into="", **head(by="olive"))
    page = owner_client.get(f"/write-offs/{kept.pk}/").content.decode()
    assert "cannot be posted" in page and "Yes, post it" not in page


def test_a_yes_of_another_day_leaves_the_act_on_its_own(ready, owner_client, monkeypatch):
    retired(ready, "CAN-0001", "CAN-0002")
    kept = WriteOff.objects.get()
    day = today()
    monkeypatch.setattr("django.utils.timezone.now", lambda now=kept.asked_at: now + timedelta(days=3))
    agree(pk=kept.pk, by="olive", shown=mark(what_it_posts(kept)))
    assert Container.objects.get(code="CAN-0001").retired_on == day
    assert verify().faults == []


def test_a_weighing_that_loses_more_waits_also_in_the_bay(ready, technician_client, owner_client):
    code = Container.objects.get(kind="refillable").code
    sent = {"key": str(uuid.uuid4()), "day": str(today()), "gross": "9 kg", "scale": "bench", "note": ""}
    asked = technician_client.post(f"/stock/containers/{code}/weigh/", sent)
    if asked.status_code == 422:  # questioned first: it looks like a slip
        asked = technician_client.post(f"/stock/containers/{code}/weigh/", {**sent, "sure": "on"})
    kept = WriteOff.objects.get()
    assert asked.url == f"/write-offs/{kept.pk}/" and technician_client.get(asked.url).status_code == 200
    shown = owner_client.get(asked.url).context["shown"]
    agree(pk=kept.pk, by="olive", shown=shown)
    assert lost() == 1_000 * G and verify().faults == []


def started(client):
    """A count of the store that misses a kilogram and is posted; returns it and the answer."""
    made_count = start_count(
        location=Location.objects.get(name="Store"),
        day=today(),
        scale=Scale.objects.get(),
        by="oscar",
        key=uuid.uuid4(),
    )
    code = Container.objects.get(kind="refillable").code
    enter(count_id=made_count.pk, code=code, gross=9_000 * G, by="oscar", sure=True)
    give_reason(count_id=made_count.pk, code=code, reason="unknown")
    return made_count, client.post(f"/counts/{made_count.pk}/post/", {"note": "monthly"})


def test_a_count_of_a_place_waits_too(ready, owner_client):
    made_count, answer = started(ready)
    kept = WriteOff.objects.get()
    assert answer.url == f"/write-offs/{kept.pk}/"
    assert ready.post(f"/counts/{made_count.pk}/post/", {"note": "monthly"}).url == answer.url
    shown = owner_client.get(answer.url).context["shown"]
    number = agree(pk=kept.pk, by="olive", shown=shown)
    made_count.refresh_from_db()
    assert (made_count.state, made_count.voucher_id, made_count.ended_by) == ("posted", number, "oscar")
    assert verify().faults == []


def test_oil_has_a_limit_of_its_own(ready):
    code = Container.objects.get(kind="oil").code
    with pytest.raises(NeedsYes, match="250 mL of PAG 46"):
        retire(codes=[code], residue_into="", **head())
    saved(Shop.current(), write_off_ul=None)
    assert retire(codes=[code], residue_into="", **head())


def test_a_correction_cannot_go_around_it(ready):
    number = retire(codes=["CAN-0001"], residue_into="", **head())
    with pytest.raises(Refused, match="Take voucher"):
        retire(codes=["CAN-0001", "CAN-0002"], residue_into="", corrects=number, why="both", **head())
    assert lost() == 340 * G and posted().filter(kind="reversal").count() == 0


def test_exactly_the_limit_is_within_it(ready):
    saved(Shop.current(), write_off_mg=680 * G)
    assert retire(codes=["CAN-0001", "CAN-0002"], residue_into="", **head())
    saved(Shop.current(), write_off_mg=680 * G + 339_999)
    with pytest.raises(NeedsYes):
        retire(codes=["CAN-0003"], residue_into="", **head())


def test_a_limit_asks_for_two_who_could_say_yes(shop, owner, owner_client):
    assert Person.objects.filter(role__in=["office", "owner"], is_active=True).count() == 1
    page = owner_client.get("/settings/")
    sent = {name: value for name, value in page.context["form"].initial.items() if value is not None}
    answer = owner_client.post("/settings/", {**sent, "write_off_mg": "500 g"})
    assert answer.status_code == 422 and "Nobody but you could say yes" in answer.content.decode()
    Person.objects.create_user("oda", password="wet pump 7 am", name="Oda", role="office")
    assert owner_client.post("/settings/", {**sent, "write_off_mg": "500 g"}).status_code == 302
    assert Shop.current().write_off_mg == 500 * G


def test_a_visitor_and_the_empty_list(ready, owner_client):
    assert Client().get("/write-offs/").status_code == 302
    assert "Nothing was written off beyond the limit." in owner_client.get("/write-offs/").content.decode()


def test_asked_for_twice_by_the_program_is_one(ready):
    with pytest.raises(NeedsYes) as needed:
        retire(codes=["CAN-0001", "CAN-0002"], residue_into="", **head())
    assert ask(needed.value).pk == ask(needed.value).pk


@pytest.fixture
def decanted(ready):
    """4 kg went by the book from one cylinder into another, and the first was weighed so. The decant's voucher."""
    full = {**CYLINDER, "kind": "refillable", "net": "5 kg"}
    assert ready.post("/receiving/new/", delivery(full, document="INV-2")).status_code == 302
    source, into = Container.objects.filter(kind="refillable").order_by("code").values_list("code", flat=True)
    number = decant(source=source, into=into, quantity=4000 * G, **head())
    count(readings={source: 6000 * G}, **head())
    assert lost() == 0
    return number


def test_what_follows_from_taking_back_waits_too(decanted, ready, owner_client):
    """Else a loss is decanted away in the book, weighed so, and the decant is taken back."""
    sent = {"key": str(uuid.uuid4()), "note": "it was not decanted"}
    waits = ready.post(f"/ledger/{decanted}/reverse/", sent).url
    assert "write-offs" in waits and lost() == 0
    kept = WriteOff.objects.get()
    assert (kept.lost, kept.asked_by) == ([["R-134a", False, 4000 * G]], "oscar")
    assert ready.post(f"/ledger/{decanted}/reverse/", sent).url == waits
    assert ready.get("/write-offs/").status_code == 200
    shown = owner_client.get(waits).context["shown"]
    number = agree(pk=kept.pk, by="olive", shown=shown)
    assert posted().get(number=number).reverses_id == decanted and lost() == 4000 * G and verify().holds
    retire(codes=["CAN-0001"], residue_into="", **head())  # what two agreed to is nobody's share


def test_what_follows_from_a_correction_or_a_late_entry_is_no_way_around_it_either(decanted, ready):
    source, into = Container.objects.filter(kind="refillable").order_by("code").values_list("code", flat=True)
    with pytest.raises(Refused, match="Take voucher .* back"):
        decant(source=source, into=into, quantity=1000 * G, **head(corrects=decanted, why="it was less"))
    with pytest.raises(Refused, match="more than one person may write off"):
        decant(source=into, into=source, quantity=1000 * G, **head(follows=decanted))
    assert lost() == 0 and verify().holds


def test_several_small_ones_that_follow_count_together(decanted, ready):
    source, into = Container.objects.filter(kind="refillable").order_by("code").values_list("code", flat=True)
    decant(source=source, into=into, quantity=3700 * G, **head(corrects=decanted, why="it was less"))
    assert lost() == 300 * G
    with pytest.raises(NeedsYes):
        retire(codes=["CAN-0001"], residue_into="", **head())


def test_people_are_named_and_acts_are_said_in_words(ready, owner_client):
    """On the list, the page, home, the trail and in sentences, to whoever asked and whoever answers."""
    started(ready)
    kept = WriteOff.objects.get()
    for page in ("/write-offs/", f"/write-offs/{kept.pk}/", "/"):
        told = plain(owner_client, page)
        assert "Oscar Test" in told and "oscar" not in told, page
    assert "count of a place" in plain(owner_client, "/write-offs/")
    assert "Count of a place, asked for by Oscar Test" in plain(owner_client, f"/write-offs/{kept.pk}/")
    trail = plain(owner_client, "/trail/?what=write-off")
    assert "count of a place" in trail and "post_count" not in trail
    refused = owner_client.post(f"/write-offs/{kept.pk}/withdraw/").content.decode()
    assert "Oscar Test asked for it, and withdraws it; you may refuse it." in refused
    told = owner_client.post(f"/write-offs/{kept.pk}/refuse/", {"answer": "weigh them"}, follow=True).content.decode()
    assert "It is refused; Oscar Test reads why." in told
    assert "Refused by Olive Test" in plain(ready, f"/write-offs/{kept.pk}/")
    refused = owner_client.post(f"/write-offs/{kept.pk}/refuse/", {"answer": "again"}).content.decode()
    assert "It was refused by Olive Test already" in refused and "Refused by Olive Test" in refused


def test_whoever_is_no_person_keeps_the_name_that_was_kept(ready, owner_client):
    retired(ready, "CAN-0001", "CAN-0002")
    with pytest.raises(NeedsYes) as needed:
        retire(codes=["CAN-0003", "CAN-0004"], residue_into="", **head(by="command line"))
    ask(needed.value)
    assert "command line" in plain(owner_client, "/write-offs/")


def test_the_list_asks_no_more_for_more_of_them(ready, owner_client, django_assert_max_num_queries):
    retired(ready, "CAN-0001", "CAN-0002")
    with CaptureQueriesContext(connection) as few:
        owner_client.get("/write-offs/")
    asked = len(few)
    retired(ready, "CAN-0003", "CAN-0004")
    retired(owner_client, "CAN-0005", "CAN-0006")
    with django_assert_max_num_queries(asked):
        assert owner_client.get("/write-offs/").content.decode().count("680 g") == 3
