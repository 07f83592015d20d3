"""The page that says a form was not taken, in a real browser: what was typed is on it, and is sent by one button."""

import pytest
from django.db import OperationalError
from django.urls import reverse
from selenium.webdriver.common.by import By

from inventory.ledger.models import Voucher
from tests.browser import driving
from tests.inventory.test_office_pages import ready  # noqa: F401 (a fixture)

FILL = """
for (const [name, value] of Object.entries(arguments[0])) document.getElementsByName(name)[0].value = value;
"""


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_a_delivery_that_was_not_taken_is_sent_again(driver, live_server, ready, office, monkeypatch, screen):  # noqa: F811
    def away(*args, **kwargs):
        raise OperationalError("database is locked")

    driving.set_screen(driver, driving.PHONE if screen == "phone" else driving.DESK)
    driving.sign_in(driver, live_server, office)
    driver.get(live_server.url + reverse("receipt-new"))
    typed = {"supplier": "Acme & Söhne", "document": "INV-7", "day": "2026-03-02", "line-0-kind": "can"}
    typed |= {"line-0-substance": "R-134a", "line-0-net": "340 g", "line-0-count": "24", "line-0-tare": "100 g"}
    typed |= {"line-0-location": "Store"}
    driver.execute_script(FILL, typed)
    with monkeypatch.context() as patched:
        patched.setattr("inventory.receiving.views.receive", away)
        driver.execute_script("document.querySelector('main form').requestSubmit()")
        driving.wait_for_text(driver, "The ledger cannot be reached just now")
    text = driver.find_element(By.TAG_NAME, "main").text
    assert "Acme & Söhne" in text and "line 1, net" in text and "340 g" in text
    assert driving.overflow(driver) == 0 and driving.small_targets(driver) == []
    driving.shot(driver, f"typed-{screen}")
    driver.find_element(By.XPATH, "//button[.='Send it again']").click()
    driving.wait_for_text(driver, "INV-7")
    assert Voucher.objects.get(kind="receipt").document == "INV-7"
