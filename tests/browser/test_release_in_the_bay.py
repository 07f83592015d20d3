"""A hose burst: a technician says so from the container's page on the phone, and reads what is asked then."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.models import Voucher
from inventory.shop.clock import today
from tests.browser import driving
from tests.kept import made
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db(transaction=True)
G, KG = 1_000, 1_000_000


@pytest.fixture
def stock(shop, technician):
    made(Scale, code="bench", readability_mg=G, usual=True)
    made(Location, name="Store")
    delivery(came("CYL-1", net=9 * KG, tare_mg=6 * KG), day=today())


def test_a_burst_hose_from_the_phone(stock, phone, live_server, technician, owner) -> None:
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/stock/containers/CYL-1/")
    driving.shot(phone, "container-phone")
    phone.find_element(By.LINK_TEXT, "Accidental release").click()
    driving.wait_for_text(phone, "By the book CYL-1 holds")
    driving.shot(phone, "release-phone")
    Select(phone.find_element(By.NAME, "cause")).select_by_visible_text("burst hose")
    phone.find_element(By.CSS_SELECTOR, "input[name=how][value=weighed]").click()
    phone.find_element(By.NAME, "after").send_keys("13800")
    phone.execute_script("document.querySelector('form.sheet button.primary').click()")
    driving.wait_for_text(phone, "What is asked now")
    driving.shot(phone, "asked-phone")
    assert Container.objects.select_related("account").get().content == 7_800 * G
    number = Voucher.objects.get(kind="release").number
    driving.set_screen(phone, driving.DESK)
    phone.get(f"{live_server.url}/ledger/{number}/")
    driving.shot(phone, "voucher-desk")
    driving.sign_in(phone, live_server, owner)
    for name, page in (("release", "/stock/release/"), ("logs", "/logs/"), ("container", "/stock/containers/CYL-1/")):
        phone.get(f"{live_server.url}{page}")
        driving.shot(phone, f"{name}-desk")
