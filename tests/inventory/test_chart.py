"""Charts: what is drawn is what the figures say, as a picture that runs nothing."""

import datetime as dt
import uuid
from xml.etree import ElementTree

import pytest

from inventory.containers.actions import count
from inventory.containers.models import Scale
from inventory.containers.queries import running_content
from inventory.measures.days import said_day
from inventory.paper import chart
from inventory.paper.chart import _nice, bars, step_line, svg
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from tests.kept import made

DAY = dt.date(2026, 3, 2)


@pytest.mark.parametrize(("top", "nice"), [(0, 1), (1, 1), (1.2, 2), (340, 500), (501, 1000), (0.03, 0.05)])
def test_scales_end_at_a_round_figure(top, nice):
    assert _nice(top) == pytest.approx(nice)


def test_a_step_line_and_bars_are_pictures():
    for drawing in (
        step_line([(DAY, 340), (DAY + dt.timedelta(5), 120)], "g"),
        step_line([], "g"),
        bars(["2026-01", "2026-02"], [("charged", [5, 7]), ("difference", [-1, 2])], "kg"),
        bars([], [], "kg"),
    ):
        picture = svg(drawing)
        root = ElementTree.fromstring(picture)  # noqa: S314 (our own)
        assert root.tag.endswith("svg") and b"<script" not in picture


@pytest.mark.django_db
def test_a_container_s_content_over_time(shop, technician_client):
    made(Scale, code="bench", readability_mg=1000, usual=True)
    line = Arrival("can", "R-134a", False, "virgin", 340_000, 1, "Store", "K-1", tare_mg=100_000)
    open_stock(lines=[line], day=DAY, by="o", key=str(uuid.uuid4()))
    count(readings={"K-1": 300_000}, day=DAY + dt.timedelta(9), by="o", key=str(uuid.uuid4()))
    assert running_content("K-1") == [(DAY, 340_000), (DAY + dt.timedelta(9), 200_000)]
    answer = technician_client.get("/stock/containers/K-1/chart.svg")
    assert answer["Content-Type"] == "image/svg+xml" and said_day(today()).encode() in answer.content
    narrow = technician_client.get("/stock/containers/K-1/chart.svg?narrow=1").content
    assert b'width="340.0"' in narrow or b'width="340"' in narrow
    assert "chart.svg" in technician_client.get("/stock/containers/K-1/").content.decode()


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0, 0, [0, 1]),
        (0, 7, [0, 2, 4, 6, 8]),
        (-3, 2, [-3, -2, -1, 0, 1, 2]),
        (-10, 0, [-10, -8, -6, -4, -2, 0]),
        (-24_995, 10, [-30_000, -20_000, -10_000, 0, 10_000]),
        (0, 10_829, [0, 5_000, 10_000, 15_000]),
    ],
)
def test_the_axis_has_round_figures(low, high, ticks):
    assert chart.scale_of(low, high) == ticks
