"""A page does not move under the eye when its pictures arrive."""

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from inventory.containers.actions import count
from inventory.containers.models import Scale
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today
from tests.browser import driving
from tests.kept import made
from tests.stock import charge

G = 1_000
MOST = 0.002  # of the screen that moves, times how far; without the room it was 0.003 to 0.08
TALL = 2400  # CSS pixels: what is below the screen moves unseen
SHIFTED = """
const done = arguments[0];
let moved = 0;
const told = [];
new PerformanceObserver((seen) => {
  for (const one of seen.getEntries()) {
    moved += one.value;
    for (const by of one.sources) {
      told.push(`${by.node?.nodeName}.${by.node?.className} ${by.previousRect.y} to ${by.currentRect.y}`);
    }
  }
}).observe({type: "layout-shift", buffered: true});
const images = [...document.images];
images.forEach((one) => { one.loading = "eager"; });
Promise.all(images.map((one) => one.decode().catch(() => 0))).then(() => {
  requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(() => done([moved, images.length, told]), 200)));
});
"""


@pytest.fixture
def weighed(shop):
    made(Scale, code="bench", readability_mg=G, usual=True)
    line = Arrival("refillable", "R-134a", False, "virgin", 9_000 * G, 1, "Store", "CYL", tare_mg=9_000 * G)
    open_stock(lines=[line], day=today() - dt.timedelta(days=60), by="olive", key=str(uuid.uuid4()))
    charge("CYL", 18_000 * G, 17_500 * G, day=today() - dt.timedelta(days=40))
    count(readings={"CYL": 17_400 * G}, day=today() - dt.timedelta(days=3), by="o", key=str(uuid.uuid4()))


@pytest.mark.parametrize("screen", ["DESK", "PHONE"])
def test_pictures_arrive_in_the_room_that_was_kept_for_them(driver, live_server, owner, weighed, screen):
    driving.set_screen(driver, getattr(driving, screen) | {"height": TALL})
    driving.sign_in(driver, live_server, owner)
    asked = f"?first={today() - dt.timedelta(days=80)}&last={today()}"
    for page in (
        reverse("home"),
        reverse("container", args=["CYL"]),
        f"{reverse('report', args=['usage'])}{asked}",
        f"{reverse('differences-over-time')}{asked}&scale=bench",
    ):
        driver.get(live_server.url + page)
        moved, images, told = driver.execute_async_script(SHIFTED)
        print(f"{screen} {page}: {images} pictures, moved by {moved:.4f}")
        assert images and moved <= MOST, (page, told)
