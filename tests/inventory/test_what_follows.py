"""What a correction brings with it, further on than the container that it names."""

import uuid

import pytest
from django.utils import timezone

from inventory.containers.actions import count, decant, move, retire
from inventory.containers.models import Container, Location
from inventory.counting.actions import enter, judge, post_count, start_count
from inventory.counting.models import Count, Explanation
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.shipping.actions import sent_of, ship
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.inventory.test_correcting_pages import DAY, WHY, G, Page, day, row, said, stock  # noqa: F401 (a fixture)
from tests.stock import came, charge, delivery, weigh

pytestmark = pytest.mark.django_db


def blank(code):
    """A recovery cylinder that comes empty, and takes the substance of what is put into it."""
    return came(code, "recovery", substance="", tare_mg=100 * G)


def full(code, **more):
    return came(code, net=500 * G, tare_mg=100 * G, **more)


def again(number, *lines):
    return delivery(*lines, day=DAY, corrects=number, why=WHY)


def test_another_substance_goes_on_to_what_was_decanted(stock):  # noqa: F811
    first = delivery(full("X"), day=DAY)
    delivery(blank("E"), blank("F"), day=DAY)
    decant(source="X", into="E", quantity=200 * G, **said(1))
    decant(source="E", into="F", quantity=50 * G, **said(2))
    again(first, full("X", substance="R-32"))
    assert [row(code).substance.code for code in "XEF"] == ["R-32"] * 3
    assert [row(code).content for code in "XEF"] == [300 * G, 150 * G, 50 * G]
    assert verify().faults == []


def test_another_substance_goes_on_through_what_was_left_in_a_retired_container(stock):  # noqa: F811
    delivery(blank("E"), blank("F"), day=DAY)
    first = delivery(full("X"), day=DAY)
    retire(codes=["X"], residue_into="E", **said(1))
    decant(source="E", into="F", quantity=100 * G, **said(2))
    again(first, full("X", substance="R-32"))
    assert [row(code).substance.code for code in "EF"] == ["R-32"] * 2 and verify().faults == []


def test_another_source_goes_on_to_where_it_was_passed_on(stock):  # noqa: F811
    delivery(blank("E"), blank("F"), came("Y", "recovery", 400 * G, substance="R-32", tare_mg=100 * G), day=DAY)
    first = decant(source="REC", into="E", quantity=200 * G, **said(1))
    decant(source="E", into="F", quantity=100 * G, **said(2))
    move(codes=["F"], location="Van", **said(3))
    decant(source="Y", into="E", quantity=200 * G, corrects=first, why=WHY, **said(1))
    assert [row(code).substance.code for code in "EF"] == ["R-32"] * 2 and verify().faults == []


def test_what_was_weighed_in_grams_does_not_become_oil(stock):  # noqa: F811
    first = delivery(full("X"), day=DAY)
    weigh("X", 590 * G, day=day(1))
    last = Voucher.objects.latest("number").number
    with pytest.raises(
        Refused, match=rf"X would hold oil, and voucher {last} of 2 Mar 2026 .* Correct voucher {last} f"
    ):
        again(first, came("X", "oil", 500_000, "PAG 46"))
    assert Voucher.objects.latest("number").number == last and row("X").substance.code == "R-134a"


def test_what_was_not_used_yet_may_have_been_oil(stock):  # noqa: F811
    again(delivery(full("X"), day=DAY), came("X", "oil", 500_000, "PAG 46"))
    assert row("X").substance.code == "PAG 46" and verify().faults == []


def test_a_single_use_container_that_was_filled_is_named_as_the_reason(stock):  # noqa: F811
    first = delivery(blank("E"), day=DAY)
    decant(source="REC", into="E", quantity=100 * G, **said(1))
    with pytest.raises(Refused, match="With this, E would be a single-use container on 2 Mar 2026, when voucher"):
        again(first, came("E", "can", substance="", tare_mg=100 * G))


def test_a_count_is_judged_at_the_moment_of_each_reading(stock):  # noqa: F811
    store = Location.objects.get(name="Store")
    made = start_count(location=store, day=today(), scale=None, by="oscar", key=uuid.uuid4())
    charge("C1", quantity=100 * G, day=today(), at=timezone.now())
    enter(count_id=made.pk, code="C1", gross=500 * G, by="oscar", sure=True)
    assert not judge(Count.objects.get(pk=made.pk))[0].outside
    post_count(count_id=made.pk, by="oscar")
    assert not Explanation.objects.exists() and verify().faults == []


def test_the_deposit_follows_a_corrected_shipment(stock):  # noqa: F811
    sent = {"parcels": {"D": None}, "purpose": "reclaim", "party": Party.objects.get(name="Renew")}
    delivery(full("D", deposit_minor=5000), day=DAY)
    first = ship(**sent, containers_go=True, **said(5))
    ship(**sent, containers_go=True, corrects=first, why=WHY, **said(3))
    assert row("D").deposit_back_on == row("D").retired_on == day(3)


def test_a_long_delivery_is_corrected_as_it_was_posted(stock, office_client):  # noqa: F811
    cans = Arrival("can", "R-134a", False, "virgin", 340 * G, 300, "Store")
    said = {"document": "", "by": "o", "key": str(uuid.uuid4())}
    page = Page(office_client, receive(lines=[cans, cans], supplier=supplier_called("Acme"), day=DAY, **said))
    filled = page.filled()
    assert (filled["line-0-count"], filled["line-1-count"]) == ("500", "100")
    assert page.seen({**filled, "why": WHY}).status_code == 200


def test_many_lines_are_not_too_many_fields(stock, office_client):  # noqa: F811
    lines = [came(f"L{number}", net=(300 + number) * G, tare_mg=100 * G) for number in range(120)]
    page = Page(office_client, delivery(*lines, day=DAY))
    assert page.seen({**page.filled(), "why": WHY}).status_code == 200


def test_a_technician_puts_one_own_reading_right_and_counts_no_more(stock, technician_client, technician):  # noqa: F811
    number = weigh("C1", 600 * G, day=day(1), done_by=technician.username)
    page = Page(technician_client, number)
    more = {"line-TOTAL_FORMS": "2", "line-1-code": "C2", "line-1-gross": "200 g", "line-1-scale": ""}
    answer = page.seen({**page.filled(), **more, "why": WHY})
    assert answer.status_code == 422 and "one reading" in answer.content.decode()


def test_a_container_coded_like_a_party_is_called_by_its_code(stock, office_client):  # noqa: F811
    party = Party.objects.get(name="Renew")
    delivery(full(party.code), day=DAY)
    page = Page(office_client, ship(parcels={party.code: None}, purpose="reclaim", party=party, **said(1)))
    shown = page.seen({**page.filled(), "why": WHY}).content.decode()
    assert f"{party.code} to reclaimer Renew" in shown


def test_a_count_is_corrected_without_a_question_for_each_reading(stock, office_client, django_assert_max_num_queries):  # noqa: F811
    lines = [came(f"L{number}", net=500 * G, tare_mg=100 * G) for number in range(60)]
    delivery(*lines, day=DAY)
    number, _ = count(readings={line.code: 600 * G for line in lines}, **said(2))
    page = Page(office_client, number)
    form = {**page.filled(), "why": WHY, "line-0-gross": "599 g"}
    with django_assert_max_num_queries(80):
        assert page.seen(form).status_code == 200


def test_a_count_of_many_containers_is_corrected(stock, office_client):  # noqa: F811
    said_of_each = "virgin", 500 * G
    lines = [Arrival("can", "R-134a", False, *said_of_each, n, "Store", tare_mg=100 * G) for n in (500, 2)]
    delivery(*lines, day=DAY)
    codes = Container.objects.filter(kind="can").values_list("code", flat=True)
    number, _ = count(readings=dict.fromkeys(codes, 600 * G), **said(2))
    page = Page(office_client, number)
    assert page.seen({**page.filled(), "why": WHY}).status_code == 200


def test_what_was_sent_follows_what_was_corrected_before_it(stock, office_client):  # noqa: F811
    first = charge("C1", quantity=100 * G, day=day(1))
    sent = {"parcels": {"C1": None, "C2": 50 * G}, "purpose": "reclaim", "party": Party.objects.get(name="Renew")}
    number = ship(**sent, **said(3))
    charge("C1", quantity=150 * G, day=day(1), corrects=first, why=WHY)
    assert sent_of(Voucher.objects.get(number=number)) == [("C1", 350 * G), ("C2", 50 * G)]
    assert "350" in office_client.get(f"/ledger/{number}/").content.decode()


def test_a_deposit_that_is_said_later_is_closed_with_the_container(stock):  # noqa: F811
    first = delivery(full("D"), day=DAY)
    ship(parcels={"D": None}, purpose="reclaim", party=Party.objects.get(name="Renew"), containers_go=True, **said(5))
    again(first, full("D", deposit_minor=5000))
    assert row("D").deposit_back_on == day(5)


def test_a_form_without_its_count_of_lines_says_so_in_plain_words(stock, office_client):  # noqa: F811
    page = Page(office_client, stock)
    form = {name: value for name, value in page.filled().items() if "_FORMS" not in name}
    answer = page.seen({**form, "why": WHY})
    assert answer.status_code == 422 and "did not arrive whole" in answer.content.decode()
