"""What the next weeks will need, against figures worked by hand."""

import datetime as dt
import uuid
from fractions import Fraction as F

import pytest

from inventory.buying.need import Need, lead_days, quantile, season, spread
from inventory.buying.proposal import proposals
from inventory.orders.actions import OrderHead, Wanted, order_sent, place_order
from inventory.orders.models import Order
from inventory.parties.actions import supplier_called
from inventory.shop.clock import today
from tests.stock import came, charge, delivery

G = 1000


def test_the_median_and_its_spread_by_hand():
    # Of 1, 2, 3, 4: the median lies half way between 2 and 3, the quarters a quarter of a step inside.
    assert spread([4, 1, 3, 2]) == spread([1, 2, 3, 4])
    assert (spread([1, 2, 3, 4]).median, spread([1, 2, 3, 4]).low, spread([1, 2, 3, 4]).high) == (
        F(5, 2),
        F(7, 4),
        F(13, 4),
    )
    assert quantile([7], F(3, 4)) == 7
    assert spread([0] * 10 + [900] * 3).median == 0, "weeks without use count"


def test_the_season_is_that_of_a_year_ago_and_bounded():
    assert season([100] * 13, [150] * 4) == F(3, 2)
    assert season([100] * 13, [500] * 4) == 2 and season([100] * 13, [0] * 4) == F(1, 2)
    assert season([0] * 13, [100] * 4) is None


def test_the_lead_time_is_the_median_rounded_up():
    assert lead_days([]) is None
    assert lead_days([3, 4, 9, 5]) == 5, "between 4 and 5, up"


def test_a_need_by_hand():
    need = Need([1000] * 13, None, 7, 2000, 1500, 500)
    # One week until it comes and four after: 5,000; with 500 below which it is short, 2,000 here and 1,500 coming.
    assert (need.expected, need.wanted, need.containers(340)) == (5000, 2000, 6)
    uneven = Need([0, 0, 0, 400, 400, 800, 800, 800, 1200, 1200, 1600, 2000, 4000], F(3, 2), 14, 0, 0)
    # Median 800, upper quarter 1,200: (2 x 1,200 + 4 x 800) x 1.5.
    assert uneven.expected == 8400
    assert Need([100] * 13, None, 7, 10_000, 0).wanted == 0 and Need([100] * 13, None, 7, 0, 0).containers(0) == 0


@pytest.fixture
def used(shop):
    """400 g a week for 13 weeks out of what Acme delivered; its two orders came after 4 and 6 days."""
    cans = [came(f"CAN-{n:02}", "can", 500 * G, grade="virgin", tare_mg=100 * G, price_minor=1500) for n in range(14)]
    for ago, days in ((120, 4), (110, 6)):
        head = OrderHead(today() - dt.timedelta(ago))
        line = Wanted("can", "R-134a", False, "virgin", 500 * G, 7)
        acme = supplier_called("Acme")
        order = place_order(supplier=acme, head=head, lines=[line], by="o", key=uuid.uuid4())
        order_sent(code=order.code, on=head.day)
        part = cans[:7] if days == 4 else cans[7:]
        delivery(*part, day=head.day + dt.timedelta(days), order=order)
    for week in range(13):
        charge(f"CAN-{week:02}", quantity=400 * G, day=today() - dt.timedelta(7 * week))


@pytest.mark.django_db
def test_a_proposal_names_what_it_rests_on(used):
    (one,) = proposals(today())
    assert one.need.weeks == [400 * G] * 13 and one.need.factor is None
    assert (one.need.lead, one.leads, one.supplier.name) == (5, 2, "Acme")
    assert one.need.on_hand == 14 * 500 * G - 13 * 400 * G
    # 400 x 5/7 + 4 x 400 = 1,885.7; 1,800 are here.
    assert one.need.expected == F(400 * G * 5, 7) + 1_600 * G and one.count == 1


@pytest.mark.django_db
def test_one_button_makes_the_order_and_what_is_on_its_way_counts(used, office_client):
    page = office_client.get("/buying/need/")
    form = page.context["forms"][0]
    said = {"key": str(form["key"].value()), "supplier": form.of.pk, "count-R-134a": "3"}
    answer = office_client.post("/buying/need/", said)
    order = Order.objects.order_by("-id").first()
    assert answer.status_code == 302 and answer.url == f"/buying/orders/{order.pk}/"
    (line,) = order.lines.all()
    assert (line.kind, line.net, line.count, line.price_minor) == ("can", 500 * G, 3, 1500)
    assert line.expected_on == today() + dt.timedelta(5)
    (one,) = proposals(today())
    assert one.need.on_order == 1_500 * G and one.count == 0
    assert office_client.get(f"/buying/orders/{order.pk}/order.pdf").content.startswith(b"%PDF")
    rows = b"".join(office_client.get(f"/buying/orders/{order.pk}/order.csv").streaming_content).decode().splitlines()
    assert rows[1].startswith("can,R-134a,virgin,500.000,g,3,15.00,")


@pytest.mark.django_db
def test_an_order_of_nothing_is_refused_and_keeps_what_was_typed(used, office_client):
    form = office_client.get("/buying/need/").context["forms"][0]
    said = {"key": str(form["key"].value()), "supplier": form.of.pk, "count-R-134a": "0"}
    before = Order.objects.count()
    answer = office_client.post("/buying/need/", said)
    assert answer.status_code == 422 and "at least one line" in answer.content.decode()
    assert Order.objects.count() == before


@pytest.mark.django_db
def test_the_season_of_a_year_ago_counts_where_the_ledger_goes_back_so_far(shop):
    then = today() - dt.timedelta(364)
    delivery(came("BIG", net=50_000 * G, grade="virgin", tare_mg=7_000 * G), day=then - dt.timedelta(200))
    for week in range(13):
        charge("BIG", quantity=200 * G, day=then - dt.timedelta(7 * week))
        charge("BIG", quantity=300 * G, day=today() - dt.timedelta(7 * week))
    for week in range(4):
        charge("BIG", quantity=300 * G, day=then + dt.timedelta(7 * week + 1))
    (one,) = proposals(today())
    assert one.need.factor == F(3, 2) and one.need.spread.median == 300 * G
