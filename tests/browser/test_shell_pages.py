"""The page around every page, in a real browser: by keyboard, by thumb, in the dark, without the network."""

import pytest
from django.urls import reverse
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import WebDriverWait

from tests.browser import driving
from tests.conftest import PASSWORD

LINKS_SHOWN = "return [...document.querySelectorAll('.nav a')].filter(a => a.checkVisibility()).map(a => a.textContent)"


def fits_and_can_be_pressed(driver):
    assert driving.overflow(driver) == 0
    assert driving.small_targets(driver) == []


def test_signing_in_by_keyboard_alone(phone, live_server, technician, shop):
    phone.get(live_server.url + reverse("preferences"))
    assert phone.switch_to.active_element.get_attribute("name") == "username"
    phone.switch_to.active_element.send_keys("tess", Keys.TAB, "wrong", Keys.ENTER)
    summary = driving.wait_for(phone, ".errors")
    assert "do not belong together" in summary.text
    assert phone.switch_to.active_element == summary
    fits_and_can_be_pressed(phone)
    driving.shot(phone, "sign-in-refused")
    phone.find_element(By.NAME, "password").send_keys(PASSWORD, Keys.ENTER)
    driving.wait_for_text(phone, "How pages look")
    assert phone.current_url == live_server.url + reverse("preferences")
    assert driving.console_errors(phone) == []


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_own_pages_fit_and_can_be_pressed(driver, live_server, owner, shop, screen):
    driving.set_screen(driver, driving.PHONE if screen == "phone" else driving.DESK)
    driving.sign_in(driver, live_server, owner)
    for name in ("home", "preferences", "password"):
        driver.get(live_server.url + reverse(name))
        fits_and_can_be_pressed(driver)
        driving.shot(driver, f"{name}-{screen}")
    assert driving.console_errors(driver) == []


def test_the_owner_s_way_everywhere_on_a_phone_is_under_more(phone, live_server, owner, shop):
    driving.sign_in(phone, live_server, owner)
    phone.get(live_server.url)
    assert "People" not in phone.execute_script(LINKS_SHOWN)
    phone.find_element(By.CSS_SELECTOR, ".more summary").click()
    assert "People" in phone.execute_script(LINKS_SHOWN)
    fits_and_can_be_pressed(phone)
    driving.shot(phone, "more-phone")
    phone.find_element(By.TAG_NAME, "body").send_keys(Keys.ESCAPE)
    assert "People" not in phone.execute_script(LINKS_SHOWN)
    assert phone.switch_to.active_element.text == "More"
    driving.set_screen(phone, driving.DESK)
    shown = phone.execute_script(LINKS_SHOWN)
    assert "Counting" in shown and "People" not in shown, "the office's ways are in sight; the owner's are under More"
    assert phone.find_element(By.CSS_SELECTOR, ".band").size["height"] < 70, "one line"
    phone.find_element(By.CSS_SELECTOR, ".more summary").click()
    assert phone.execute_script(LINKS_SHOWN).count("Counting") == 1
    assert "People" in phone.execute_script(LINKS_SHOWN)
    fits_and_can_be_pressed(phone)
    driving.shot(phone, "more-desk")


def test_the_office_needs_no_more_on_a_desk(desk, live_server, office, shop):
    driving.sign_in(desk, live_server, office)
    desk.get(live_server.url)
    assert "Month end" in desk.execute_script(LINKS_SHOWN)
    assert not desk.find_element(By.CSS_SELECTOR, ".more").is_displayed()


def test_units_are_chosen_and_signing_out_ends_the_day(phone, live_server, technician, shop):
    driving.sign_in(phone, live_server, technician)
    phone.get(live_server.url + reverse("preferences"))
    phone.find_element(By.CSS_SELECTOR, "input[name=mass_unit][value=oz]").click()
    phone.find_element(By.CSS_SELECTOR, "form.form button.primary").click()
    driving.wait_for_text(phone, "Saved.")
    technician.refresh_from_db()
    assert technician.mass_unit == "oz"
    phone.find_element(By.CSS_SELECTOR, ".who summary").click()
    phone.find_element(By.XPATH, "//button[text()='Sign out']").click()
    driving.wait_for(phone, "input[name=username]")
    phone.get(live_server.url)
    assert reverse("sign-in") in phone.current_url


def test_a_double_tap_sends_a_form_once(phone, live_server, technician, shop):
    driving.sign_in(phone, live_server, technician)
    phone.get(live_server.url + reverse("preferences"))
    sent = phone.execute_script(
        """
        let sent = 0;
        window.addEventListener("submit", (event) => {
          if (!event.defaultPrevented) sent += 1;
          event.preventDefault(); // the page stays, as it does while the server thinks
        });
        const button = document.querySelector("form.form button.primary");
        button.click(); button.click(); button.click();
        return sent;
        """
    )
    assert sent == 1


@pytest.fixture
def asking(phone, live_server, technician, shop):
    """A page with buttons that ask the server by themselves."""
    driving.sign_in(phone, live_server, technician)
    phone.get(live_server.url + reverse("preferences"))
    phone.execute_script(
        """
        const main = document.querySelector("main");
        main.insertAdjacentHTML("afterbegin", `
          <button id="ask" hx-get="/me/units/" hx-target="#answer">Ask</button>
          <button id="lost" hx-get="/no-such-page/" hx-target="#answer">Ask for nothing</button>
          <div id="answer">as it was</div>`);
        htmx.process(main);
        """
    )
    return phone


def test_no_network_is_said_and_the_page_stays(asking):
    driving.set_offline(asking, True)
    asking.find_element(By.ID, "ask").click()
    driving.wait_for_text(asking, "The network did not answer, so this was not sent.")
    assert asking.find_element(By.ID, "answer").text == "as it was"
    driving.set_offline(asking, False)
    asking.find_element(By.ID, "ask").click()
    WebDriverWait(asking, driving.LONG).until(lambda d: d.find_element(By.ID, "answer").text != "as it was")
    assert "The network did not answer" not in asking.find_element(By.TAG_NAME, "body").text


def test_a_fault_goes_above_the_page_and_not_into_its_part(asking):
    asking.find_element(By.ID, "lost").click()
    driving.wait_for_text(asking, "There is no such page or record")
    assert asking.find_element(By.CSS_SELECTOR, "#said [role=alert]").text.startswith("Nothing here.")
    assert asking.find_element(By.ID, "answer").text == "as it was"


def test_an_ended_sign_in_leads_the_page_to_sign_in_and_back(asking, live_server):
    asking.delete_all_cookies()
    asking.find_element(By.ID, "ask").click()
    driving.wait_for(asking, "input[name=username]").send_keys("tess", Keys.TAB, PASSWORD, Keys.ENTER)
    driving.wait_for_text(asking, "How pages look")
    assert asking.current_url == live_server.url + reverse("preferences")


def test_pages_work_without_scripts(desk, live_server, technician, shop):
    driving.sign_in(desk, live_server, technician)
    desk.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        desk.get(live_server.url + reverse("preferences"))
        desk.find_element(By.CSS_SELECTOR, "input[name=volume_unit][value=L]").click()
        desk.find_element(By.CSS_SELECTOR, "form.form button.primary").click()
        driving.wait_for(desk, ".notice.success")
        desk.find_element(By.CSS_SELECTOR, ".who summary").click()
        assert desk.find_element(By.XPATH, "//button[text()='Sign out']").is_displayed()
    finally:
        desk.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def test_the_first_stop_of_the_keyboard_skips_the_navigation(desk, live_server, technician, shop):
    driving.sign_in(desk, live_server, technician)
    desk.get(live_server.url)
    desk.find_element(By.TAG_NAME, "body").send_keys(Keys.TAB)
    skip = desk.switch_to.active_element
    assert skip.text == "Skip to the page"
    assert skip.rect["y"] >= 0  # seen while it has the focus
    skip.send_keys(Keys.ENTER)
    assert desk.switch_to.active_element.get_attribute("id") == "main"
