"""What pictures draw: their figures are those that were asked for, to scale and to the milligram."""

import datetime as dt
import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.graphics.shapes import Circle, Rect

from inventory.containers.actions import count, move, regrade
from inventory.containers.fullness import Fullness
from inventory.containers.models import Container, Scale, Weighing
from inventory.containers.queries import containers
from inventory.counting.drift import drift
from inventory.ledger.models import Substance
from inventory.paper import control, flow, vessel
from inventory.paper.chart import NARROW, WIDE
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.supply.actions import set_reorder_point
from inventory.supply.levels import enough_of, levels, picture
from tests.inventory.test_office_work import DAY, G, key, stock  # noqa: F401 (a fixture)
from tests.kept import saved

pytestmark = pytest.mark.django_db
QUANTITIES = st.integers(-(10**9), 10**9)


# -- a flow --------------------------------------------------------------------------------------


@given(st.integers(0, 10**9), st.lists(QUANTITIES, max_size=6), st.lists(QUANTITIES, max_size=5))
def test_both_sides_of_a_flow_come_to_the_same_and_are_drawn_to_one_scale(before, came, went):
    after = before + sum(came) - sum(went)
    if after < 0:
        before, after = before - after, 0
    ins = [(f"in {place}", value) for place, value in enumerate(came)]
    outs = [(f"out {place}", value) for place, value in enumerate(went)]
    left, right = flow.parts(("before", before), ins, outs, ("after", after))
    assert sum(one.quantity for one in left) == sum(one.quantity for one in right)
    assert all(one.quantity > 0 for one in (*left, *right))
    assert len(left) + len(right) == sum(map(bool, (before, after, *came, *went)))
    for width in (WIDE, NARROW):
        drawing = flow.draw(left, right, "g", width)
        bars = [one for one in drawing.contents if isinstance(one, Rect)][1:-1]
        total = sum(one.quantity for one in left)
        for one, bar in zip((*left, *right), bars, strict=True):
            assert bar.height == pytest.approx(flow.TALL * one.quantity / total)
            assert bar.y >= 0 and bar.y + bar.height <= drawing.height


def test_a_flow_that_does_not_balance_is_not_drawn():
    with pytest.raises(ValueError, match="do not come to the same"):
        flow.parts(("before", 5), [("in", 1)], [("out", 2)], ("after", 5))


def test_a_picture_says_what_it_is_to_whoever_does_not_see_it():
    shown = flow.picture("A <flow> & more", *flow.parts(("before", 7), [], [], ("after", 7)))
    root = ElementTree.fromstring(re.sub(rb"<!DOCTYPE.*?>", b"", shown.svg(), flags=re.DOTALL))
    said = {one.tag.split("}")[-1]: one.text for one in root}
    assert said["title"] == "A <flow> & more" and "table beside it" in said["desc"]
    assert shown.rows == [("before", 7, None), ("after", None, 7), ("in all", 7, 7)]


# -- a control chart -----------------------------------------------------------------------------


def test_what_lies_outside_its_own_tolerance_is_a_square_and_the_limit_itself_is_within():
    weighings = [
        control.Weighed(DAY, "A", 4 * G, 4 * G),
        control.Weighed(DAY, "B", 4 * G + 1, 4 * G),
        control.Weighed(DAY, "C", -9 * G, 4 * G),
        control.Weighed(DAY, "D", -9 * G, 9 * G),
    ]
    assert [one.outside for one in weighings] == [False, True, True, False]
    drawing = control.draw(weighings)
    squares = [one for one in drawing.contents if isinstance(one, Rect) and one.width == one.height == 7]
    dots = [one for one in drawing.contents if isinstance(one, Circle)]
    assert (len(squares), len(dots)) == (2, 2)
    bands = [one for one in drawing.contents if isinstance(one, Rect) and one.fillColor == control.WITHIN]
    assert bands[3].height == pytest.approx(bands[0].height * 9 / 4)
    inside = bands[0]
    assert dots[0].cy == pytest.approx(inside.y + inside.height), "a difference equal to the limit lies on its edge"


# -- a container ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "said"), [(0, "room left"), (9_000, "room left"), (9_300, "room left"), (9_301, "over it")]
)
def test_a_container_is_as_full_as_it_is(content, said):
    shown = vessel.picture("How full", content * G, ("safe fill", 9_300 * G))
    assert shown.rows[2] == (said, abs(9_300 - content) * G)
    assert len(shown.draw(NARROW).contents) >= 8


# -- from the ledger -----------------------------------------------------------------------------


def test_levels_are_the_stock_that_can_be_charged_at_the_end_of_each_day(stock):  # noqa: F811
    gas = Substance.objects.get(code="R-134a")
    assert levels(gas, DAY, today()) == [(DAY, (5_000 + 4 * 340) * G)], "what was recovered or is mixed does not count"
    regrade(code="REC", grade="recycled", day=DAY + dt.timedelta(3), by="oscar", key=key())
    move(codes=["NEW"], location="Van", day=DAY + dt.timedelta(4), by="oscar", key=key())
    more = [(DAY + dt.timedelta(3), (8_000 + 4 * 340) * G), (DAY + dt.timedelta(4), (8_000 + 4 * 340) * G)]
    assert levels(gas, DAY, today()) == [(DAY, 6_360 * G), *more], "a move changes nothing"
    later = DAY + dt.timedelta(10)
    assert levels(gas, later, today()) == [(later, 9_360 * G)], "begun with what there was"
    assert levels(gas, DAY - dt.timedelta(5), DAY - dt.timedelta(1)) == [(DAY - dt.timedelta(5), 0)]


def test_what_is_enough_is_the_line_of_the_picture(stock, office_client, django_assert_num_queries):  # noqa: F811
    gas = Substance.objects.get(code="R-134a")
    assert enough_of(gas) is None
    set_reorder_point(substance=gas, location=None, least=7_000 * G)
    last = today()
    with django_assert_num_queries(2):
        shown = picture(gas, DAY, last)
    assert enough_of(gas) == 7_000 * G and b"buy more under 7\xe2\x80\xaf000 g" in shown.svg()
    page = office_client.get(f"/enough/{gas.pk}/").content.decode()
    assert shown.alt in page and "6\u202f360 g" in page
    assert office_client.get(f"/enough/{gas.pk}/chart.svg").headers["Content-Type"] == "image/svg+xml"


def test_differences_over_time_are_those_of_the_weighings(stock, office_client, django_assert_num_queries):  # noqa: F811
    scale = Scale.objects.get(code="bench")
    assert drift(scale, DAY, today()) is None
    count(readings={"NEW": 12_500 * G, "REC": 11_001 * G}, day=DAY + dt.timedelta(1), by="oscar", key=key())
    weighed = {one.container.code: one for one in Weighing.objects.filter(role="count")}
    last = today()
    with django_assert_num_queries(1):
        shown = drift(scale, DAY, last)
    assert {row[1]: row[2:] for row in shown.rows} == {
        code: (one.difference, one.tolerance) for code, one in weighed.items()
    }
    assert shown.rows[0][2] + shown.rows[1][2] == -500 * G + 1 * G
    place = weighed["NEW"].container.location
    assert drift(place, DAY, today()).rows == shown.rows
    page = office_client.get(f"/differences/over-time/?scale=bench&first={DAY}&last={today()}").content.decode()
    assert "-500 g" in page and "chart.svg?scale=bench&amp;first=" in page
    assert "-500 g" in office_client.get(f"/differences/over-time/?place=Store&first={DAY}").content.decode()
    grouped = office_client.get(f"/differences/?by=scale&first={DAY}&last={today()}").content.decode()
    assert "bench, over time" in grouped
    assert office_client.get("/differences/over-time/?scale=none").status_code == 404


def test_a_list_and_a_page_show_how_full_each_is(stock, office_client):  # noqa: F811
    full = Fullness(Shop.current().rules, today())
    found = {one.code: full.most(one) for one in containers()}
    assert found["CAN-1"] == ("came with", 340 * G) and found["REC"] is None, "what its stamp says is not known"
    page = office_client.get("/stock/").content.decode()
    assert '<meter class="" max="340000" value="340000"' in page
    saved(Container.objects.get(code="REC"), water_capacity_mg=4_000 * G)
    name, most = full.most(containers().get(code="REC"))
    assert name == "safe fill"
    fill = containers().get(code="REC")
    assert full.picture(fill).rows == [("holds", 3_000 * G), ("safe fill", most), ("room left", most - 3_000 * G)]
    assert full.picture(fill).alt in office_client.get("/stock/containers/REC/").content.decode()
    assert office_client.get("/stock/containers/REC/fill.svg").status_code == 200
    assert office_client.get("/stock/containers/OLD/fill.svg").status_code == 404
