"""A technician enters a unit on a phone; the pages of units, customers and people in a real browser."""

import datetime as dt

import pytest
from django.urls import reverse
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from jobs.people import actions as people
from jobs.units import actions
from jobs.units.models import Unit
from tests.browser import driving

VIN = "1G4AH59H45G118341"  # the worked example of 49 CFR 565.15


def type_into(driver, field, text):
    box = driver.find_element(By.ID, f"id_{field}")
    box.clear()
    box.send_keys(text, Keys.TAB)


def save(driver):
    button = driver.find_element(By.CSS_SELECTOR, "form.form button.primary")
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
    button.click()


@pytest.fixture
def like_unit(transactional_db):
    return actions.add_unit(
        by=None,
        name="Earlier van",
        make="Verrin",
        model="Ember",
        year=2005,
        refrigerant="R-134a",
        customer="Jo Bell",
        charge_min_mg=480_000,
        charge_max_mg=520_000,
        label_confirmed=True,
        oil="PAG 46",
    )


def test_a_unit_is_entered_on_a_phone(phone, live_server, like_unit, technician):
    driving.sign_in(phone, live_server, technician)
    phone.get(live_server.url + reverse("unit-new"))
    assert driving.overflow(phone) == 0
    assert driving.small_targets(phone) == []
    type_into(phone, "vin", VIN[:-1] + "2")
    driving.wait_for_text(phone, "The check digit does not fit")
    type_into(phone, "vin", VIN)
    driving.wait_for_text(phone, "Position 10 names model year 2005")
    phone.find_element(By.ID, "id_customer").send_keys("bel")
    driving.wait_for(phone, '#customer-choices option[value="Jo Bell"]')
    type_into(phone, "customer", "Jo Bell")
    type_into(phone, "make", "verrin")
    type_into(phone, "model", "EMBER")
    type_into(phone, "year", "2005")
    Select(phone.find_element(By.ID, "id_refrigerant")).select_by_value("R-134a")
    driving.wait_for_text(phone, "From earlier jobs here")
    driving.shot(phone, "unit-new-suggestion")
    use = driving.wait_for(phone, "#suggestion button")
    phone.execute_script("arguments[0].scrollIntoView({block: 'center'})", use)
    use.click()
    driving.wait_for(phone, '#id_charge_max_mg[value="520"]')
    driving.shot(phone, "unit-new-filled")
    save(phone)
    assert "is entered as U-" in driving.wait_for(phone, ".notice.success").text
    driving.shot(phone, "unit")
    assert driving.overflow(phone) == 0
    added = Unit.objects.get(vin=VIN)
    assert added.customer == like_unit.customer
    assert (added.charge_min_mg, added.charge_max_mg, added.label_confirmed) == (480_000, 520_000, False)
    assert driving.console_errors(phone) == []


def test_enter_in_a_field_saves_and_does_not_take_the_suggestion(desk, live_server, like_unit, technician):
    driving.sign_in(desk, live_server, technician)
    desk.get(live_server.url + reverse("unit-edit", args=[like_unit.pk]))
    type_into(desk, "charge_max_mg", "600")
    desk.find_element(By.ID, "id_name").send_keys(Keys.ENTER)
    assert "Earlier van is saved" in driving.wait_for(desk, ".notice.success").text
    like_unit.refresh_from_db()
    assert like_unit.charge_max_mg == 600_000


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_every_page_fits_the_screen(request, live_server, like_unit, owner, technician, screen):
    driver = request.getfixturevalue(screen)
    held = people.add_certificate(
        by=owner,
        person=technician,
        scheme="Section 609",
        number="INVENTED-1",
        issued=dt.date(2020, 1, 1),
        expires=dt.date(2024, 1, 1),
    )
    driving.sign_in(driver, live_server, owner)
    pages = {
        "units": [],
        "unit": [like_unit.pk],
        "unit-edit": [like_unit.pk],
        "customers": [],
        "customer-new": [],
        "customer": [like_unit.customer_id],
        "customer-edit": [like_unit.customer_id],
        "people": [],
        "person-new": [],
        "person": [technician.pk],
        "person-edit": [technician.pk],
        "person-password": [technician.pk],
        "certificate-new": [technician.pk],
        "certificate-edit": [held.pk],
    }
    for name, arguments in pages.items():
        driver.get(live_server.url + reverse(name, args=arguments))
        driving.shot(driver, f"{name}-{screen}")
        assert driving.overflow(driver) == 0, name
        if screen == "phone":
            assert driving.small_targets(driver) == [], name
        assert driving.console_errors(driver) == [], name
