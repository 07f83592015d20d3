"""What was typed into a plain form is there again: after a network that failed, a sign-in that ended, a reload."""

import datetime as dt

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from selenium.webdriver.common.by import By

from inventory.containers.models import Container
from inventory.parties.models import Party
from tests.browser import driving
from tests.browser.test_three_people import fill, press
from tests.browser.test_two_people_one_phone import sign_in, sign_out
from tests.browser.test_without_network import line  # noqa: F401 (fixture)
from tests.kept import made
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db(transaction=True)
SENT = "return Object.keys(sessionStorage).filter((name) => name.startsWith('typed-state')).length"
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


def test_what_is_asked_about_is_an_answer_and_what_was_typed_is_kept_on(phone, line, shop, office):  # noqa: F811
    """A page that asks before it posts answers what was sent; what it shows was typed, so it outlives the network."""
    phone.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": line.url, "storageTypes": "all"})
    delivery(came("C1", "recovery", net=5_000_000, tare_mg=6_000_000), day=dt.date(2026, 3, 1))
    party = made(Party, code="P-000001", name="Second Melt", role="reclaimer")
    driving.sign_in(phone, line, office)
    address = f"{line.url}{reverse('shipment-new')}?codes=C1"
    phone.get(address)
    fill(phone, "#main [name=document]", "W-17")
    phone.find_element(By.CSS_SELECTOR, f"#main [name=party] option[value='{party.pk}']").click()
    phone.find_element(By.CSS_SELECTOR, "#main [name=purpose] option[value=reclaim]").click()
    press(phone, "#main form [name=ask]")
    driving.wait_for_text(phone, "Is this right?")
    driving.wait_until(phone, lambda: phone.execute_script(SENT) == 0)
    assert phone.find_elements(By.CSS_SELECTOR, ".typed") == []
    line.cut()
    press(phone, "#main form button.primary")
    driving.wait_until(phone, lambda: "ERR_" in phone.page_source)
    line.mend()
    phone.get(address)
    driving.wait_for_text(phone, "No answer came to what you last sent from here")
    press(phone, ".typed button")
    assert driving.wait_for(phone, "[name=document]").get_attribute("value") == "W-17"
    press(phone, "#main form [name=ask]")
    driving.wait_for_text(phone, "Is this right?")
    press(phone, "#main form button.primary")
    driving.wait_until(phone, lambda: Container.objects.select_related("account").get().content == 0)


def test_a_form_whose_field_is_called_as_a_verb_of_the_page(phone, line, shop, technician):  # noqa: F811
    """A field of a release is called before, and hides what the browser calls so of a form."""
    phone.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": line.url, "storageTypes": "all"})
    driving.sign_in(phone, line, technician)
    phone.get(line.url + reverse("release"))
    fill(phone, "#main [name=note]", "The hose burst")
    driving.wait_until(phone, lambda: phone.execute_script(KEPT) != "[]")
    line.cut()
    press(phone, "#main form button.primary")
    driving.wait_until(phone, lambda: "ERR_" in phone.page_source)
    line.mend()
    phone.get(line.url + reverse("release"))
    driving.wait_for_text(phone, "No answer came to what you last sent from here")
    press(phone, ".typed button")
    assert driving.wait_for(phone, "#main [name=note]").get_property("value") == "The hose burst"
