"""A passkey in a real browser, whose device is a virtual one, on the phone and on the desk."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from selenium.webdriver.common.by import By
from selenium.webdriver.common.virtual_authenticator import Protocol, Transport, VirtualAuthenticatorOptions

from shopledger.signin.models import Passkey, SignIn
from tests.browser import driving
from tests.browser.test_accessible import faults
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
SCREENS = {"phone": driving.PHONE, "desk": driving.DESK}


@pytest.fixture
def authenticator(driver):
    options = VirtualAuthenticatorOptions(
        protocol=Protocol.CTAP2,
        transport=Transport.INTERNAL,
        has_resident_key=True,
        has_user_verification=True,
        is_user_verified=True,
    )
    driver.add_virtual_authenticator(options)
    yield driver
    driver.remove_virtual_authenticator()


def looked_at(driver, name):
    for scheme in (False, True):
        driving.set_dark(driver, scheme)
        driver.execute_script("document.getAnimations().forEach((one) => one.finish())")
        assert faults(driver) == [], name
    driving.set_dark(driver, False)
    assert driving.overflow(driver) == 0, name
    driving.shot(driver, name)


def in_one_look(driver, css):
    """Whether it stands on the screen without scrolling."""
    return driver.execute_script(
        "const box = document.querySelector(arguments[0]).getBoundingClientRect();"
        "return box.top >= 0 && box.bottom <= document.documentElement.clientHeight",
        css,
    )


@pytest.mark.parametrize("screen", SCREENS)
def test_it_is_added_used_and_removed(authenticator, live_server, shop, technician, screen):
    driver = authenticator
    driving.set_screen(driver, SCREENS[screen])
    driving.sign_in(driver, live_server, technician)
    driver.get(live_server.url + reverse("second-factor"))
    driving.wait_for(driver, "[data-passkey=new]:not([hidden])")
    looked_at(driver, f"second-factor-{screen}")
    driving.act_on(driver, "[name=passkey_name]", lambda field: field.send_keys("my phone"))
    driving.act_on(driver, "[data-passkey=new]", lambda button: button.click())
    driving.wait_for_text(driver, "The passkey my phone was added. It signs you in by itself")
    looked_at(driver, f"second-factor-on-{screen}")
    key = Passkey.objects.get()
    assert key.verified and key.site == "localhost"

    driver.execute_cdp_cmd("Network.clearBrowserCookies", {})
    driver.get(f"{live_server.url}{reverse('sign-in')}?next={reverse('jobs')}")
    driving.wait_for(driver, "[data-passkey=sign-in]:not([hidden])")
    looked_at(driver, f"sign-in-passkey-{screen}")
    assert driving.small_targets(driver) == []
    driving.act_on(driver, "[data-passkey=sign-in]", lambda button: button.click())
    driving.wait_until(driver, lambda: driver.current_url == live_server.url + reverse("jobs"))
    assert SignIn.objects.latest("id").how == "passkey"

    driver.get(live_server.url + reverse("sign-ins"))
    looked_at(driver, f"sign-ins-{screen}")
    driver.get(live_server.url + reverse("second-factor"))
    driving.act_on(driver, f"form[action='{reverse('passkey-remove', args=[key.pk])}'] button", lambda one: one.click())
    driving.wait_for_text(driver, "The passkey my phone was removed")
    assert not Passkey.objects.exists()

    driver.execute_cdp_cmd("Network.clearBrowserCookies", {})
    driver.get(live_server.url + reverse("sign-in"))
    assert in_one_look(driver, "[data-passkey=sign-in]") and in_one_look(driver, "[name=password]")
    driving.act_on(driver, "[data-passkey=sign-in]", lambda button: button.click())
    driving.wait_for_text(driver, "This passkey was not taken")
    assert [one for one in driving.console_errors(driver) if "422" not in one] == []


def test_beside_the_password(authenticator, live_server, shop, technician):
    driver = authenticator
    driving.set_screen(driver, driving.PHONE)
    driving.sign_in(driver, live_server, technician)
    driver.get(live_server.url + reverse("second-factor"))
    driving.act_on(driver, "[data-passkey=new]", lambda button: button.click())
    driving.wait_for_text(driver, "was added")
    Passkey.objects.update(verified=False)  # as of a device that did not ask who holds it
    driver.execute_cdp_cmd("Network.clearBrowserCookies", {})
    driver.get(live_server.url + reverse("sign-in"))
    driver.find_element(By.NAME, "username").send_keys("tess")
    driver.find_element(By.NAME, "password").send_keys(PASSWORD)
    driver.find_element(By.CSS_SELECTOR, "form.sheet button.primary").click()
    driving.wait_for_text(driver, "Now use your passkey")
    looked_at(driver, "sign-in-half-way")
    driving.act_on(driver, "[data-passkey=sign-in]", lambda button: button.click())
    driving.wait_until(driver, lambda: driver.current_url == live_server.url + reverse("home"))
    assert SignIn.objects.latest("id").how == "password and passkey"


@pytest.mark.parametrize("screen", SCREENS)
def test_it_proves_again_who_somebody_is(authenticator, live_server, shop, technician, screen):
    driver = authenticator
    driving.set_screen(driver, SCREENS[screen])
    driving.sign_in(driver, live_server, technician)
    driver.get(live_server.url + reverse("second-factor"))
    driving.act_on(driver, "[data-passkey=new]", lambda button: button.click())
    driving.wait_for_text(driver, "was added")
    SignIn.objects.update(proved=timezone.now() - dt.timedelta(minutes=30))
    driver.get(live_server.url + reverse("second-factor"))
    driving.wait_for_text(driver, "Who you are, again")
    looked_at(driver, f"again-{screen}")
    driver.find_element(By.NAME, "password").send_keys(PASSWORD)
    driver.find_element(By.CSS_SELECTOR, "form.sheet button.primary").click()
    driving.wait_for_text(driver, "Now use your passkey")
    driving.wait_for(driver, "[data-passkey=sign-in]:not([hidden])")
    looked_at(driver, f"again-half-way-{screen}")
    assert driving.small_targets(driver) == []
    driving.act_on(driver, "[data-passkey=sign-in]", lambda button: button.click())
    driving.wait_until(driver, lambda: driver.current_url == live_server.url + reverse("second-factor"))
    assert SignIn.objects.latest("id").how == "password and passkey"


def test_the_owner_looks_who_signs_in_how(desk, live_server, shop, owner, technician):
    driving.sign_in(desk, live_server, owner)
    for screen, size in SCREENS.items():
        driving.set_screen(desk, size)
        desk.get(live_server.url + reverse("ways-in"))
        looked_at(desk, f"ways-in-{screen}")
