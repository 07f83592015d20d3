"""A whole job on a phone, every step of it, from an empty draft to the signature."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.select import Select

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from jobs.drafts.actions import change_job, enter_line
from jobs.drafts.models import Job, JobLine
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def draft(phone, live_server, garage, technician):  # noqa: F811
    """A job just started, its page open on the phone."""
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/jobs/new/?text=tst-1")
    press(phone, f'form[action="/jobs/new/{garage.pk}/"] button')
    driving.wait_for_text(phone, "R-134a, 500 g to 540 g")
    return Job.objects.get()


def step_to(phone, step):
    """Open a step, from wherever the page is."""
    phone.execute_script("document.getElementById(arguments[0]).open = true", step)


def shown(phone, css):
    """Whether an element's top stands within the screen."""
    top = "return document.querySelector(arguments[0]).getBoundingClientRect().top"
    return 0 <= phone.execute_script(top, css) < 844


def fits(phone, name):
    driving.shot(phone, f"bay-step-{name}")
    assert driving.overflow(phone) == 0, name
    assert driving.small_targets(phone) == [], name
    assert [one for one in driving.console_errors(phone) if "422" not in one] == [], name


def test_every_step_saves_by_itself_on_one_page(phone, draft):
    for step in ("identify", "repair", "check"):
        step_to(phone, step)
    fill(phone, "#identify [name=identified_as]", "R-134a").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#identify .badge.good")
    Select(phone.find_element(By.CSS_SELECTOR, "#repair select")).select_by_value("none found")
    press(phone, "#repair [name=system_opened]")
    press(phone, "#repair button.primary")
    driving.wait_for(phone, "#repair .badge.good")
    fill(phone, "#check [name=ambient_c]", "24.5")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    kept = Job.objects.get()
    assert (kept.identified_as, kept.leak_result, kept.system_opened) == ("R-134a", "none found", True)
    assert kept.ambient_c == 24.5
    assert "Not saved yet" not in phone.find_element(By.TAG_NAME, "body").text
    fits(phone, "steps")


def test_the_pump_is_started_by_one_tap_that_loses_nothing_typed(phone, draft):
    step_to(phone, "evacuate")
    fill(phone, "#evacuate [name=vacuum_said]", "500 micron")
    press(phone, "#evacuate button.primary")
    driving.wait_for_text(phone, "Pump running; at least 30 min")
    assert shown(phone, "#evacuate .figure"), "the page stays at the step"
    kept = Job.objects.get()
    assert (kept.vacuum_said, kept.evacuation_started is not None) == ("500 micron", True)
    driving.wait_for_text(phone, "water boils away above -24 °C")
    fits(phone, "pump")
    fill(phone, "#evacuate [name=hold_start_said]", "520 micron").send_keys(Keys.ENTER)
    driving.wait_until(phone, lambda: Job.objects.get().hold_start_said == "520 micron")
    assert Job.objects.get().evacuation_ended is None, "Enter saves, and presses no clock"


def test_the_charge_is_driven_from_one_field(phone, draft):
    fill(phone, "#charge-quick-before", "439").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "the scale says 1 g less than the book, within what weighing can tell")
    assert phone.find_element(By.CSS_SELECTOR, "#figures .figure .q").text == "100 g"
    assert shown(phone, "#figures .figure")
    driving.wait_for(phone, "#charge-quick-after:focus")
    fits(phone, "on-the-scale")
    phone.switch_to.active_element.send_keys("500", Keys.ENTER)
    driving.wait_for_text(phone, "cannot weigh more (500 g) than before (439 g)")
    assert phone.find_element(By.ID, "charge-quick-after").get_attribute("value") == "500"
    fill(phone, "#charge-quick-after", "100").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-before:focus")
    assert "CAN-0002" in phone.find_element(By.CSS_SELECTOR, "#figures .figure").text
    for reading, then in (("440", "Weight of CAN-0002 after"), ("259", "Charged to the aim. Stop here.")):
        phone.switch_to.active_element.send_keys(reading, Keys.ENTER)
        driving.wait_for_text(phone, then)
        driving.wait_for(phone, "#figures:not(:has(.weigh)), #figures .weigh input:focus")
    assert [line.amount for line in JobLine.objects.all()] == [339_000, 181_000]
    fits(phone, "charged")


def test_another_container_is_picked_from_the_list(phone, draft):
    press(phone, '#figures a[href="#charge-new-pick"]')
    pick = Select(phone.find_element(By.ID, "charge-new-pick"))
    assert [option.text for option in pick.options][1:] == ["CAN-0001 · 340 g · Store", "CAN-0002 · 340 g · Store"]
    pick.select_by_value("CAN-0002")
    fill(phone, "#charge-new-before", "440")
    fill(phone, "#charge-new-after", "300").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0002: 140 g")
    assert JobLine.objects.get().container.code == "CAN-0002"


def test_a_reason_that_is_being_typed_outlives_other_entries(phone, draft, technician):
    enter_line(
        draft.pk, by=technician, key=draft.key, action="charge", container="CAN-0001", before=440_000, after=140_000
    )
    phone.refresh()
    fill(phone, "#reason-under", "the customer wanted no more")
    step_to(phone, "check")
    fill(phone, "#check [name=vent_c]", "7")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    assert Job.objects.get().vent_c == 7.0
    assert phone.find_element(By.ID, "reason-under").get_attribute("value") == "the customer wanted no more"


def test_two_people_on_one_draft_see_what_the_other_wrote(phone, draft, owner):
    change_job(draft.pk, by=owner, note="from the desk", vent_c=6.0)
    step_to(phone, "check")
    fill(phone, "#check [name=ambient_c]", "24")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    step_to(phone, "check")
    assert phone.find_element(By.CSS_SELECTOR, "#check [name=note]").get_attribute("value") == "from the desk"
    change_job(draft.pk, by=owner, note="again from the desk")
    fill(phone, "#check [name=note]", "from the bay")
    press(phone, "#check button.primary")
    driving.wait_for_text(phone, "Recorded meanwhile: again from the desk.")
    assert phone.find_element(By.CSS_SELECTOR, "#check [name=note]").get_attribute("value") == "from the bay"
    fits(phone, "both-wrote")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    kept = Job.objects.get()
    assert (kept.note, kept.ambient_c, kept.vent_c) == ("from the bay", 24.0, 6.0)


def test_from_an_empty_draft_to_the_signature(phone, live_server, draft):
    driving.wait_for_text(phone, "Nothing is weighed yet, so nothing would move.")
    step_to(phone, "recover")
    pick = Select(phone.find_element(By.ID, "recover-new-pick"))
    assert pick.options[1].text.startswith("REC-0001 · room for ")
    pick.select_by_value("REC-0001")
    fill(phone, "#recover-new-before", "5000")
    fill(phone, "#recover-new-after", "5120").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "REC-0001: 120 g")
    fits(phone, "recovered")
    step_to(phone, "oil")
    Select(phone.find_element(By.ID, "oil-add-new-pick")).select_by_index(1)
    fill(phone, "#oil-add-new-quantity", "30").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#oil .badge.good")
    for field, reading, then in (
        ("before", "440", "Weight of CAN-0001 after"),
        ("after", "100", "Weight of CAN-0002 before"),
        ("before", "440", "Weight of CAN-0002 after"),
    ):
        fill(phone, f"#charge-quick-{field}", reading).send_keys(Keys.ENTER)
        driving.wait_for_text(phone, then)
    driving.wait_for_text(phone, "CAN-0002: The weight after is missing")
    press(phone, '#sign a[href="#charge"]')
    fill(phone, "#charge-quick-after", "260").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Nothing stands in the way.")
    assert "520 g of 500 g to 540 g" in phone.find_element(By.CSS_SELECTOR, "#sign .total").text
    phone.execute_script("document.getElementById('sign').scrollIntoView()")
    fits(phone, "summary")
    button = phone.find_element(By.CSS_SELECTOR, "#sign button.primary")
    phone.execute_script("arguments[0].click(); arguments[0].click()", button)
    driving.wait_for_text(phone, "is signed as voucher ")
    fits(phone, "signed")
    assert Voucher.objects.filter(kind="job").count() == 1
    contents = dict(Container.objects.values_list("code", "account__balance"))
    assert [contents[code] for code in ("CAN-0001", "CAN-0002", "REC-0001")] == [0, 160_000, 120_000]
    assert verify().faults == []
    phone.get(f"{live_server.url}/units/{draft.unit_id}/")
    driving.wait_for_text(phone, "charged 520 g, recovered 120 g")
