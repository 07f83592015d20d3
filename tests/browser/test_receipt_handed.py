"""The latest seal's receipt is given to somebody, on the office's computer and on a phone."""

import datetime as dt
import uuid

import pytest

from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.clock import today
from shopledger.sealing.actions import hand_out, issue, seal_period
from tests.browser import driving
from tests.browser.test_three_people import fill, looks_right, press

pytestmark = pytest.mark.django_db(transaction=True)
LAST = dt.date(2026, 3, 31)


@pytest.fixture
def sealed(shop, settings, tmp_path):
    """March closed, with two cans in it."""
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    line = Arrival("can", "R-134a", False, "virgin", 340_000, 2, "Store", tare_mg=110_000)
    receive(lines=[line], supplier=supplier_called("Acme"), document="D-1", day=LAST, by="oscar", key=str(uuid.uuid4()))
    made = seal_period(LAST, "olive")
    issue(made, "olive")
    return made


def test_the_owner_gives_the_receipt_away(desk, live_server, sealed, owner):
    driving.sign_in(desk, live_server, owner)
    desk.get(f"{live_server.url}/")
    driving.wait_for_text(desk, "A receipt to hand out")
    looks_right(desk, "receipt-home")
    desk.get(f"{live_server.url}/month/?month=2026-03")
    driving.wait_for_text(desk, "Nobody holds a receipt")
    driving.act_on(desk, ".notice.warning", lambda it: None)
    looks_right(desk, "receipt-month")
    desk.get(f"{live_server.url}/seals/")
    looks_right(desk, "receipt-seals")
    press(desk, ".notice a")
    driving.wait_for_text(desk, "Nobody holds it yet")
    looks_right(desk, "receipt-seal")
    press(desk, f"a[href='/seals/{sealed.pk}/handed/']")
    fill(desk, "#id_to", "Ada Example, bookkeeper")
    looks_right(desk, "receipt-form")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "marked by olive")
    looks_right(desk, "receipt-handed")
    desk.get(f"{live_server.url}/")
    driving.wait_for_text(desk, "Open jobs")
    assert "A receipt to hand out" not in desk.page_source


def test_the_pages_fit_a_phone(phone, live_server, sealed, owner):
    driving.sign_in(phone, live_server, owner)
    for name, address in (
        ("home", "/"),
        ("seals", "/seals/"),
        ("form", f"/seals/{sealed.pk}/handed/"),
        ("seal", f"/seals/{sealed.pk}/"),
    ):
        phone.get(f"{live_server.url}{address}")
        looks_right(phone, f"receipt-phone-{name}")
        assert driving.small_targets(phone) == [], name
    hand_out(
        sealed, to="Ada Example-Featherstonehaugh, bookkeeper", day=today(), by=owner.username, key=str(uuid.uuid4())
    )
    phone.refresh()
    driving.wait_for_text(phone, "marked by olive")
    looks_right(phone, "receipt-phone-handed")
    assert driving.small_targets(phone) == []
