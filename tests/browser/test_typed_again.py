"""What was typed into a plain form is there again: after a network that failed, a sign-in that ended, a reload."""

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from selenium.webdriver.common.by import By

from inventory.parties.models import Party
from tests.browser import driving
from tests.browser.test_three_people import fill, press
from tests.browser.test_two_people_one_phone import sign_in, sign_out
from tests.browser.test_without_network import line  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)
KEPT = "return JSON.stringify(Object.entries(sessionStorage).filter(([name]) => name.startsWith('typed')))"


@pytest.fixture
def form(phone, line, shop, office):  # noqa: F811
    """The form of a new party, with a name typed."""
    phone.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": line.url, "storageTypes": "all"})
    driving.sign_in(phone, line, office)
    address = line.url + reverse("party-new")
    phone.get(address)
    write(phone)
    return address


def write(phone):
    fill(phone, "#main [name=name]", "Quillon Cold")
    driving.wait_until(phone, lambda: phone.execute_script(KEPT) != "[]")


def name(phone):
    return driving.wait_for(phone, "#main [name=name]").get_attribute("value")


def test_after_a_network_that_failed(phone, line, form):  # noqa: F811
    assert "Quillon" not in phone.execute_script(KEPT), "it is sealed"
    line.cut()
    press(phone, "#main form button.primary")
    driving.wait_until(phone, lambda: "ERR_" in phone.page_source)
    line.mend()
    phone.get(form)
    driving.wait_for_text(phone, "No answer came to what you last sent from here")
    driving.shot(phone, "typed-offered")
    assert driving.small_targets(phone) == [] and name(phone) == ""
    press(phone, ".typed button")
    assert name(phone) == "Quillon Cold"
    press(phone, "#main form button.primary")
    driving.wait_for_text(phone, "Quillon Cold")
    driving.wait_until(phone, lambda: phone.execute_script(KEPT) == "[]")
    assert Party.objects.get().name == "Quillon Cold"
    phone.get(form)
    assert name(phone) == "" and phone.find_elements(By.CSS_SELECTOR, ".typed") == []


def test_after_a_sign_in_that_ended(phone, line, form, office):  # noqa: F811
    for _ in range(2):  # the second time is as the first
        Session.objects.all().delete()
        press(phone, "#main form button.primary")
        driving.wait_for(phone, "[name=username]")
        sign_in(phone, line, office)
        phone.get(form)
        driving.wait_for_text(phone, "What you typed is put back")
        assert name(phone) == "Quillon Cold" and not Party.objects.exists()
    driving.shot(phone, "typed-put-back")
    press(phone, "#main form button.primary")
    driving.wait_until(phone, Party.objects.exists)


def test_after_a_reload_and_dropped(phone, form):
    phone.refresh()
    driving.wait_until(phone, lambda: name(phone) == "Quillon Cold")
    phone.get(form)
    driving.wait_for_text(phone, "You typed something here before and did not send it.")
    phone.find_element(By.XPATH, "//button[text()='Drop it']").click()
    assert phone.execute_script(KEPT) == "[]" and name(phone) == ""


def test_nobody_else_is_offered_it(phone, line, form, owner):  # noqa: F811
    Session.objects.all().delete()
    sign_in(phone, line, owner)
    phone.get(form)
    assert name(phone) == "" and "Quillon" not in phone.execute_script(KEPT)
    sign_out(phone)
    driving.wait_for(phone, "[name=username]")
    assert phone.execute_script(KEPT) == "[]"


def test_no_password_is_kept(phone, line, form):  # noqa: F811
    phone.execute_script("sessionStorage.clear()")
    phone.get(line.url + reverse("password"))
    fill(phone, "#main [type=password]", "my own secret")
    press(phone, "#main form button.primary")
    driving.wait_for(phone, ".errors")
    assert phone.execute_script(KEPT) == "[]"
