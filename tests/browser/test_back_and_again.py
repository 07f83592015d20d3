"""A form is posted, the person goes back, changes something and posts again: nothing is lost, nothing is twice."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from inventory.ledger.models import Voucher
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, looks_right, press  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)
KEY = "document.querySelector('[name=key]')"


def enter(browser, typed):
    driving.act_on(browser, "[name=line-0-kind]", lambda field: Select(field).select_by_value("can"))
    for name, value in typed.items():
        fill(browser, f"[name={name}]", value)


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_back_change_and_post_again(request, screen, live_server, garage, office):  # noqa: F811
    browser = request.getfixturevalue(screen)
    before = Voucher.objects.filter(kind="receipt").count()
    driving.sign_in(browser, live_server, office)
    browser.get(f"{live_server.url}/receiving/new/")
    line = {"substance": "R-134a", "net": "340 g", "count": "3", "tare": "100 g", "location": "Store"}
    delivery = {"supplier": "Acme", "document": "INV-7", **{f"line-0-{name}": value for name, value in line.items()}}
    enter(browser, delivery)
    used = browser.execute_script(f"return {KEY}.value")
    press(browser, ".actions button.primary")
    driving.wait_for_text(browser, "The delivery is posted as voucher ")
    posted = Voucher.objects.filter(kind="receipt").latest("number").number
    browser.back()
    driving.wait_for(browser, "[name=line-0-count]")
    enter(browser, delivery)  # what the browser kept of it is its own affair
    browser.execute_script(f"{KEY}.value = arguments[0]", used)
    fill(browser, "[name=line-0-count]", "4")
    fill(browser, "[name=document]", "INV-8")
    press(browser, ".actions button.primary")
    driving.wait_for_text(
        browser,
        f"This form was already recorded as voucher {posted} (3 cans of R-134a). What you typed now is kept below: "
        f"post it as a new one, or correct voucher {posted}.",
    )
    driving.console_errors(browser)  # the browser complains of the answer 422
    looks_right(browser, f"again-{screen}")
    assert driving.small_targets(browser) == []
    links = [one.get_attribute("href") for one in browser.find_elements(By.CSS_SELECTOR, ".errors li a")]
    assert links == [f"{live_server.url}/ledger/{posted}/", f"{live_server.url}/ledger/{posted}/correct/"]
    assert browser.find_element(By.NAME, "line-0-count").get_attribute("value") == "4"
    assert Voucher.objects.filter(kind="receipt").count() == before + 1
    assert browser.find_element(By.CSS_SELECTOR, ".actions button.primary").text == "Post as a new entry"
    press(browser, ".actions button.primary")
    driving.wait_for_text(browser, "The delivery is posted as voucher ")
    assert Voucher.objects.filter(kind="receipt").count() == before + 2
