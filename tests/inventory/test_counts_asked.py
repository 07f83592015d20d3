"""What is typed at a count is asked about like every weight, but not for being far from the book; one yes is kept."""

import json

import pytest

from inventory.containers.models import Scale
from inventory.counting import actions, entering
from inventory.counting.models import Count
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.scales.sending import Connection, connect_scale
from inventory.shop.models import Shop
from tests.forms import forms_of, sent
from tests.inventory.test_counting import DAY, G, count, enter, key, stock  # noqa: F401 (fixtures)
from tests.inventory.test_scale_sends import confirmed
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
SENT = "ST,GS,+0012.998kg<CR>"


def read(client, count, **fields):  # noqa: F811
    return client.post(f"/counts/{count.pk}/", fields)


@pytest.mark.parametrize("reading", ["12000", "8001", "13500", "16 kg"])
def test_far_from_the_book_is_what_a_count_finds_out(count, office_client, reading):  # noqa: F811
    assert read(office_client, count, code="A", gross=reading).status_code == 302


@pytest.mark.parametrize(
    ("code", "reading", "why"),
    [
        ("A", "7000", "It weighs 8\u202f000 g when it is empty."),
        ("A", "200 kg", "Hardly one of its kind holds over 150 kg."),
        ("NEW", "9050", "empty ones weigh"),
        ("OIL", "300", "The bottle came with 250 mL."),
    ],
)
def test_what_can_hardly_be_is_asked_once_and_the_yes_is_kept(count, office_client, code, reading, why):  # noqa: F811
    delivery(came("NEW", net=9_000 * G), day=DAY)
    asked = read(office_client, count, code=code, gross=reading)
    page = asked.content.decode()
    assert asked.status_code == 422 and why in page and not count.entries.exists()
    form = dict(forms_of(page))[""]
    assert form["gross"] == reading, "what was typed stays"
    sure = page.split('type="checkbox" name="sure" value="')[1].split('"')[0]
    assert read(office_client, count, **form | {"sure": sure}).status_code == 302
    assert read(office_client, count, **form | {"gross": f"1{reading}", "sure": sure}).status_code in {302, 422}
    enter(count, code, count.entries.get().gross, sure=True, sure_of=sure.partition(" ")[2])
    entering.give_reason(count_id=count.pk, code=code, reason="unknown")
    number = actions.post_count(count_id=count.pk, by="oscar")
    said = json.loads(Voucher.objects.get(number=number).detail)
    assert list(said["sure"]) == [code] and verify().faults == []
    assert "Asked about, and right" in office_client.get(f"/ledger/{number}/").content.decode()


@pytest.mark.parametrize("reading", ["1300", "0"])
def test_what_cannot_be_is_refused_and_says_what_would_be_right(count, office_client, reading):  # noqa: F811
    page = read(office_client, count, code="A", gross=reading).content.decode()
    assert "cannot be" in page and "It weighs 8\u202f000 g when it is empty." in page
    assert 'type="checkbox" name="sure"' not in page and not count.entries.exists()


def test_a_yes_to_a_weight_is_none_to_what_another_entered(count, office_client, owner_client):  # noqa: F811
    mine = dict(forms_of(office_client.get(f"/counts/{count.pk}/").content.decode()))[""]
    assert read(owner_client, count, code="A", gross="13000").status_code == 302
    answer = read(office_client, count, **mine | {"code": "A", "gross": "7000", "sure": "gross 7000 g"})
    assert answer.status_code == 422 and "entered 13 kg for A meanwhile" in answer.content.decode()


def test_a_question_first_leaves_what_another_entered_to_the_next(count, office_client, owner_client):  # noqa: F811
    mine = dict(forms_of(office_client.get(f"/counts/{count.pk}/").content.decode()))[""]
    assert read(owner_client, count, code="A", gross="13000").status_code == 302
    asked = read(office_client, count, **mine | {"code": "A", "gross": "7000"}).content.decode()
    again = dict(forms_of(asked))[""] | {"sure": "gross 7000 g"}
    answer = read(office_client, count, **again)
    assert answer.status_code == 422 and "entered 13 kg for A meanwhile" in answer.content.decode()
    last = dict(forms_of(answer.content.decode()))[""]
    both = office_client.post(f"/counts/{count.pk}/", last | {"sure": ["gross 7000 g", "on"]})
    assert both.status_code == 302 and count.entries.get().sure == "7000 g"


def test_a_typed_sheet_is_asked_too(stock, office_client):  # noqa: F811
    address = f"/counting/{stock.pk}/"
    form = sent(office_client.get(address).content.decode()) | {"day": f"{DAY}", "gross-A": "7000", "gross-B": "13999"}
    asked = office_client.post(address, form | {"post": "1"})
    assert asked.status_code == 422 and "when it is empty" in asked.content.decode() and not Count.objects.exists()
    answer = office_client.post(address, form | {"post": "1", "sure": "gross-A 7000 g"})
    assert answer.status_code == 302 and Count.objects.get().entries.get(container__code="A").sure == "7000 g"


def test_a_blind_sheet_does_not_tell_why_it_asks(stock, office_client, shop):  # noqa: F811
    Shop.objects.update(blind_counts=True)
    address = f"/counting/{stock.pk}/"
    form = sent(office_client.get(address).content.decode()) | {"day": f"{DAY}", "gross-A": "7000"}
    page = office_client.post(address, form).content.decode()
    assert "7000 g?" in page and "when it is empty" not in page
    page = office_client.post(address, form | {"gross-A": "12500"}).content.decode()
    assert "Post the count" in page and "unexplained" not in page and "500 g" not in page


def test_a_corrected_count_is_asked_about_what_changed(count, office_client):  # noqa: F811
    enter(count, "A", 13_000 * G)
    enter(count, "B", 14_000 * G)
    number = actions.post_count(count_id=count.pk, by="oscar")
    page = f"/ledger/{number}/correct/"
    form = sent(office_client.get(page).content.decode()) | {"line-0-gross": "7000 g", "why": "Misread."}
    assert "when it is empty" in office_client.post(page, form).content.decode()


def test_what_the_scale_sent_is_kept_with_the_reading(count, office_client):  # noqa: F811
    connect_scale(confirmed(Scale.objects.get()), connection=Connection("serial", 2400, 7, "even"))
    given = {"code": "A", "gross": "12.998 kg", "gross_raw": SENT}
    other = read(office_client, count, **given | {"gross": "12.9 kg"})
    assert other.status_code == 422 and "and this is another weight" in other.content.decode()
    assert read(office_client, count, **given).status_code == 302
    entry = count.entries.get()
    assert (entry.gross, entry.scale.code, entry.raw) == (12_998 * G, "bench", f"{SENT} | gross, stable")
    assert "ST,GS,+0012.998kg" in office_client.get(f"/counts/{count.pk}/").content.decode()
    assert read(office_client, count, code="A", gross="12.997 kg").status_code == 302
    assert count.entries.get().raw == "", "the other weight was typed"
    assert read(office_client, count, **given | {"code": "OIL"}).status_code == 422


def test_a_reading_that_comes_after_the_count_was_posted_is_told_so(count, office_client):  # noqa: F811
    enter(count, "A", 13_000 * G)
    actions.post_count(count_id=count.pk, by="oscar")
    late = read(office_client, count, code="B", gross="14000")
    assert late.status_code == 422 and "This count was posted by oscar as voucher" in late.content.decode()
