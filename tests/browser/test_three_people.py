"""The three people's paths, driven on real pages: a delivery, a whole job, the month's report."""

import datetime as dt

import pytest
from pypdf import PdfReader
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.select import Select

from inventory.containers.models import Container, Location, Scale
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from jobs.drafts.models import Job
from jobs.people.actions import add_certificate
from jobs.units.actions import add_unit
from tests.browser import driving
from tests.inventory.test_office_pages import CANS, CYLINDER, OIL, delivery
from tests.kept import made, posted

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def garage(shop, technician, owner, office_client):
    """A place, a scale, a certificate, two cans, a recovery cylinder and a bottle of oil."""
    made(Scale, code="bench", readability_mg=1000, usual=True)
    made(Location, name="Store")
    add_certificate(
        by=owner, person=technician, scheme="Section 609", number="T-1", issued=today() - dt.timedelta(days=30)
    )
    office_client.post("/receiving/new/", delivery({**CANS, "count": "2"}, CYLINDER, OIL))
    return add_unit(
        by=technician,
        customer="Ada Example",
        plate="TST-1",
        make="Quillon",
        model="Arbour",
        year=2016,
        refrigerant="R-134a",
        charge_min_mg=500_000,
        charge_max_mg=540_000,
        oil="PAG 46",
    )


def fill(driver, css, value):
    def type_it(field):
        field.clear()
        field.send_keys(value)

    return driving.act_on(driver, css, type_it)


def press(driver, css):
    driving.act_on(driver, css, lambda button: button.click())


def looks_right(driver, name):
    driving.shot(driver, name)
    assert driving.overflow(driver) == 0, name
    assert driving.console_errors(driver) == [], name


def test_a_technician_does_a_whole_job_on_a_phone(phone, live_server, garage, technician):
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/")
    looks_right(phone, "bay-home")
    phone.get(f"{live_server.url}/jobs/new/")
    fill(phone, "#find", "tst-1").send_keys(Keys.ENTER)
    press(phone, f'form[action="/jobs/new/{garage.pk}/"] button')
    driving.wait_for_text(phone, "R-134a, 500 g to 540 g")
    looks_right(phone, "bay-job")
    assert driving.small_targets(phone) == []

    driving.opened(phone, "recover", "Another recovery")
    fill(phone, "#recover-new-container", "REC-0001")
    fill(phone, "#recover-new-before", "5000")
    fill(phone, "#recover-new-after", "5120").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "REC-0001: 120 g")

    driving.opened(phone, "charge", "Another charge")
    fill(phone, "#charge-new-container", "CAN-0001")
    fill(phone, "#charge-new-before", "440").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Stop when the scale shows")
    assert phone.find_element(By.CSS_SELECTOR, "#figures .figure .q").text == "100 g"
    looks_right(phone, "bay-stop")
    top = phone.execute_script("return document.querySelector('#figures .figure').getBoundingClientRect().top")
    assert 0 <= top < 600, "the reading to stop at is in sight without scrolling"
    driving.opened(phone, "charge", "Weigh it after")
    fill(phone, '[id^="charge-"][id$="-after"]:not(#charge-new-after, #charge-quick-after)', "100").send_keys(
        Keys.ENTER
    )
    driving.wait_for_text(phone, "By the book, stop when the scale shows")
    assert phone.find_element(By.CSS_SELECTOR, "#figures .figure .q").text == "260 g"
    driving.opened(phone, "charge", "Another charge")
    fill(phone, "#charge-new-container", "CAN-0002")
    fill(phone, "#charge-new-before", "440")
    fill(phone, "#charge-new-after", "260").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge.is-done .badge.good")
    looks_right(phone, "bay-charged")

    driving.opened(phone, "sign")
    driving.wait_for_text(phone, "Nothing stands in the way.")
    press(phone, "#sign button")
    driving.wait_for_text(phone, "is signed as voucher ")
    looks_right(phone, "bay-signed")
    job = Job.objects.get()
    assert (job.state, job.voucher.kind) == ("signed", "job")
    assert f"is signed as voucher {job.voucher_id}" in phone.page_source
    contents = dict(Container.objects.exclude(kind="oil").values_list("code", "account__balance"))
    assert contents == {"CAN-0001": 0, "CAN-0002": 160_000, "REC-0001": 120_000}
    assert verify().faults == []


def test_the_office_receives_and_counts_at_a_desk(desk, live_server, garage, office):
    driving.sign_in(desk, live_server, office)
    desk.get(f"{live_server.url}/receiving/new/")
    fill(desk, "#id_supplier", "Acme")
    fill(desk, "#id_document", "INV-77")
    Select(desk.find_element(By.ID, "id_line-0-kind")).select_by_value("can")
    fill(desk, "#id_line-0-substance", "R-1234yf")
    fill(desk, "#id_line-0-net", "8 oz")
    fill(desk, "#id_line-0-count", "24")
    fill(desk, "#id_line-0-location", "Store")
    looks_right(desk, "office-receiving")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "The delivery is posted as voucher ")
    assert Container.objects.filter(kind="can").count() == 26
    looks_right(desk, "office-voucher")

    desk.get(f"{live_server.url}/counting/{Location.objects.get().pk}/")
    fill(desk, '[id="id_gross-CAN-0001"]', "428")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "unexplained loss")
    looks_right(desk, "office-count")
    press(desk, 'button[name="post"]')
    driving.wait_for_text(desk, "give each a reason, then post")
    driving.act_on(desk, "form[action$='/reason/'] select", lambda it: Select(it).select_by_value("leaked"))
    press(desk, "form[action$='/reason/'] button")
    driving.wait_for_text(desk, "Post the count")
    press(desk, "form[action$='/post/'] button.primary")
    driving.wait_for_text(desk, "The count is posted as voucher ")
    press(desk, 'a[href^="/files/to/voucher/"]')
    driving.wait_for_text(desk, "Attach a file")
    looks_right(desk, "office-attach")
    for page in ("stock/", "stock/containers/CAN-0001/", "leaving/new/", "ledger/"):
        desk.get(f"{live_server.url}/{page}")
        looks_right(desk, f"office-{page.replace('/', '-')}")
    assert verify().faults == []


def test_what_is_ticked_in_the_stock_is_acted_on(desk, live_server, garage, office):
    driving.sign_in(desk, live_server, office)
    for button, address, said in (
        ("Move the chosen", "/stock/move/", "CAN-0001"),
        ("Retire the chosen", "/stock/retire/", "CAN-0001"),
        ("Send the chosen away", "/leaving/new/", "CAN-0001"),
    ):
        desk.get(f"{live_server.url}/stock/?kind=can")
        press(desk, "input[name=codes][value='CAN-0001']")
        desk.find_element(By.XPATH, f"//button[.='{button}']").click()
        driving.wait_for_text(desk, said)
        assert address in desk.current_url and "csrf" not in desk.current_url
    desk.get(f"{live_server.url}/stock/")
    labels = desk.find_element(By.XPATH, "//button[.='Print labels']")  # leads to a PDF, which is no page to go on from
    assert desk.execute_script("return arguments[0].form.id", labels) == "chosen-form"
    press(desk, ".list-tools details.menu summary")
    for box in desk.find_elements(By.CSS_SELECTOR, ".list-tools input[name=columns]"):
        if box.is_selected() and box.get_attribute("value") != "kind":
            box.click()
    press(desk, ".list-tools form button")
    driving.wait_for_text(desk, "Kind")
    heads = [head.text for head in desk.find_elements(By.CSS_SELECTOR, "table thead th")]
    assert heads == ["", "Code", "Kind"] and "csrf" not in desk.current_url
    driving.shot(desk, "office-stock-columns")


def test_no_page_of_the_office_is_wider_than_a_phone(phone, live_server, garage, owner):
    driving.sign_in(phone, live_server, owner)
    pages = (
        "stock/",
        "stock/containers/CAN-0001/",
        "stock/containers/REC-0001/",
        "stock/places/",
        "receiving/",
        "receiving/new/",
        "counting/",
        f"counting/{Location.objects.get().pk}/",
        "leaving/new/",
        "ledger/",
        "ledger/1/",
        "enough/",
        "costs/",
        "machines/",
        "scales/",
        "differences/",
        f"units/{garage.pk}/",
        "settings/",
        "reports/usage/?first=2026-03-01&last=2026-03-31",
    )
    for page in pages:
        phone.get(f"{live_server.url}/{page}")
        width = phone.execute_script("return Math.max(document.documentElement.scrollWidth, window.innerWidth)")
        assert width == 390, page


def test_the_owner_reads_the_report_and_settings(desk, live_server, garage, owner, tmp_path):
    driving.sign_in(desk, live_server, owner)
    desk.get(f"{live_server.url}/reports/usage/?first=2026-03-01&last=2026-03-31")
    driving.wait_for_text(desk, "680 g")
    looks_right(desk, "owner-report")
    press(desk, "td a[href*='/movements/']")
    driving.wait_for_text(desk, "The movements behind the figure")
    looks_right(desk, "owner-movements")
    for page in ("settings/", "people/", "stock/places/"):
        desk.get(f"{live_server.url}/{page}")
        looks_right(desk, f"owner-{page.replace('/', '-')}")
    cookies = {cookie["name"]: cookie["value"] for cookie in desk.get_cookies()}
    import urllib.request

    address = f"{live_server.url}/reports/usage/?first=2026-03-01&last=2026-03-31&format=pdf"
    request = urllib.request.Request(address, headers={"Cookie": f"sessionid={cookies['sessionid']}"})
    path = tmp_path / "usage.pdf"
    path.write_bytes(urllib.request.urlopen(request).read())
    assert "R-134a" in PdfReader(path).pages[0].extract_text()
    assert posted().count() == 1
