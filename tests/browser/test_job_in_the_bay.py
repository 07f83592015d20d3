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
    driving.opened(phone, "identify", "Something else")
    fill(phone, "#identify [name=identified_as]:not([type=hidden])", "R-134a").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#identify .badge.good")
    driving.opened(phone, "repair", "What was repaired")
    Select(phone.find_element(By.CSS_SELECTOR, "#repair select")).select_by_value("none found")
    press(phone, "#repair [name=system_opened]")
    press(phone, "#repair button.primary")
    driving.wait_for(phone, "#repair .badge.good")
    driving.opened(phone, "check")
    fill(phone, "#check [name=ambient_c]", "24.5")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    driving.wait_for(phone, "#check.is-done")
    kept = Job.objects.get()
    assert (kept.identified_as, kept.leak_result, kept.system_opened) == ("R-134a", "none found", True)
    assert kept.ambient_c == 24.5
    assert "not sent yet" not in phone.find_element(By.TAG_NAME, "body").text
    fits(phone, "steps")


def test_the_pump_is_started_by_one_tap_that_loses_nothing_typed(phone, draft):
    driving.opened(phone, "evacuate", "Times and readings by hand")
    fill(phone, "#evacuate [name=vacuum_said]", "500 micron")
    press(phone, "#evacuate [data-face=pump] button")
    driving.wait_for_text(phone, "Pump running; at least 30 min")
    driving.settled(phone)
    driving.wait_for_text(phone, "Pump running; at least 30 min")
    assert shown(phone, "#evacuate .figure"), "the page stays at the step"
    assert Job.objects.get().evacuation_started is not None
    field = phone.find_element(By.CSS_SELECTOR, "#evacuate [name=vacuum_said]")
    assert field.get_attribute("value") == "500 micron"
    field.send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "water boils away above -24 °C")
    assert Job.objects.get().vacuum_said == "500 micron"
    fits(phone, "pump")
    driving.opened(phone, "evacuate", "Times and readings by hand")
    fill(phone, "#evacuate [name=hold_start_said]", "520 micron").send_keys(Keys.ENTER)
    driving.settled(phone)
    kept = Job.objects.get()
    assert (kept.hold_start_said, kept.evacuation_ended) == ("520 micron", None), "Enter saves, and presses no clock"


def test_the_charge_is_driven_from_one_field(phone, draft):
    driving.opened(phone, "charge")
    fill(phone, "#charge-quick-before", "439").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "the scale says 1 g less than the book, within what weighing can tell")
    assert phone.find_element(By.CSS_SELECTOR, "#figures .figure .q").text == "100 g"
    assert shown(phone, "#figures .figure")
    driving.wait_for(phone, "#charge-quick-after:focus")
    fits(phone, "on-the-scale")
    phone.switch_to.active_element.send_keys("500", Keys.ENTER)
    driving.wait_for_text(phone, "It weighed 439 g before. Nothing went in.")
    assert phone.find_element(By.ID, "charge-quick-after").get_attribute("value") == "500"
    fill(phone, "#charge-quick-after", "100").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-before:focus")
    assert "CAN-0002" in phone.find_element(By.CSS_SELECTOR, "#figures .figure").text
    phone.switch_to.active_element.send_keys("440", Keys.ENTER)
    driving.wait_for_text(phone, "Weight of CAN-0002 after")
    driving.wait_for(phone, "#charge-quick-after:focus")
    phone.switch_to.active_element.send_keys("259", Keys.ENTER)
    driving.wait_for(phone, "#charge.is-done .badge.good")
    driving.opened(phone, "charge")
    driving.wait_for_text(phone, "Charged to the aim. Stop here.")
    assert phone.find_elements(By.CSS_SELECTOR, "#figures .weigh") == []
    assert [line.amount for line in JobLine.objects.all()] == [339_000, 181_000]
    fits(phone, "charged")


def test_readings_are_typed_by_the_number_keys_in_the_units_used_last(phone, draft):
    driving.opened(phone, "check")
    field = fill(phone, "#check [name=ambient_c]", "4")
    assert field.get_attribute("inputmode") == "decimal"
    press(phone, "#check .with-unit:has([name=ambient_c]) .sign")
    assert field.get_attribute("value") == "-4"
    press(phone, "#check .with-unit:has([name=ambient_c]) .sign")
    press(phone, "#check .with-unit:has([name=ambient_c]) .sign")
    Select(phone.find_element(By.NAME, "ambient_c-unit")).select_by_value("°F")
    fill(phone, "#check [name=low_side_said]", "29")
    Select(phone.find_element(By.NAME, "low_side_said-unit")).select_by_value("psi")
    press(phone, "#check button.primary")
    driving.wait_until(phone, lambda: Job.objects.get().ambient_c == -20.0)
    assert Job.objects.get().low_side_said == "29 psi"
    driving.settled(phone)
    phone.refresh()
    driving.opened(phone, "check")
    chosen = lambda name: phone.find_element(By.NAME, f"{name}-unit").get_property("value")  # noqa: E731
    assert (chosen("ambient_c"), chosen("vent_c")) == ("°C", "°F"), "what is kept stands in Celsius"
    assert (chosen("high_side_said"), chosen("vacuum_said")) == ("psi", "")
    assert driving.overflow(phone) == 0


def test_a_fold_that_was_opened_stays_open_when_an_answer_comes(phone, draft):
    driving.opened(phone, "charge", "Line loss")
    driving.opened(phone, "check")
    fill(phone, "#check [name=low_side_said]", "2.1 bar")
    press(phone, "#check button.primary")
    driving.wait_until(phone, lambda: Job.objects.get().low_side_said)
    driving.settled(phone)
    opened = [one.text for one in phone.find_elements(By.CSS_SELECTOR, "#charge details[open] > summary")]
    assert opened == ["Line loss"]


def test_another_container_is_picked_from_the_list(phone, draft):
    driving.opened(phone, "charge", "Another charge")
    pick = Select(phone.find_element(By.ID, "charge-new-pick"))
    assert [option.text for option in pick.options][1:] == ["CAN-0001 · 340 g · Store", "CAN-0002 · 340 g · Store"]
    pick.select_by_value("CAN-0002")
    fill(phone, "#charge-new-before", "440")
    fill(phone, "#charge-new-after", "300").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0002: 140 g")
    assert JobLine.objects.get().container.code == "CAN-0002"


def test_another_container_is_picked_where_its_weight_is_asked(phone, draft):
    driving.opened(phone, "charge", "Another container")
    Select(phone.find_element(By.ID, "charge-quick-pick")).select_by_value("CAN-0002")
    driving.wait_for_text(phone, "Weight of CAN-0002 before")
    for field, reading in (("before", "440"), ("after", "300")):
        fill(phone, f"#charge-quick-{field}", reading).send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0002: 140 g")
    assert JobLine.objects.get().container.code == "CAN-0002"


def test_a_reason_that_is_being_typed_outlives_other_entries(phone, draft, technician):
    enter_line(
        draft.pk, by=technician, key=draft.key, action="charge", container="CAN-0001", before=440_000, after=140_000
    )
    phone.refresh()
    driving.opened(phone, "sign")
    fill(phone, "#reason-under", "the customer wanted no more")
    driving.opened(phone, "check")
    fill(phone, "#check [name=vent_c]", "7")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    driving.wait_for(phone, "#check.is-done")
    assert Job.objects.get().vent_c == 7.0
    assert phone.find_element(By.ID, "reason-under").get_attribute("value") == "the customer wanted no more"


def test_the_answer_to_one_entry_takes_no_other_out_of_the_hand(phone, draft):
    """What is being typed meanwhile, in whichever field: it stays, with the caret where it was."""
    phone.set_network_conditions(offline=False, latency=1500, throughput=-1)
    press(phone, "#identify button[value=label]")
    driving.opened(phone, "check")
    fill(phone, "#check [name=note]", "from bay")
    phone.switch_to.active_element.send_keys(*[Keys.LEFT] * 3)
    driving.wait_for(phone, "body[data-sending]")
    driving.settled(phone)
    driving.wait_for(phone, "#identify.is-done .badge.good")
    assert phone.switch_to.active_element.get_attribute("name") == "note"
    phone.switch_to.active_element.send_keys("the ")
    assert phone.find_element(By.CSS_SELECTOR, "#check [name=note]").get_attribute("value") == "from the bay"


def test_two_people_on_one_draft_see_what_the_other_wrote(phone, draft, owner):
    change_job(draft.pk, by=owner, note="from the desk", vent_c=6.0)
    driving.opened(phone, "check")
    fill(phone, "#check [name=ambient_c]", "24")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check.is-done:not([open])")
    driving.settled(phone)
    driving.opened(phone, "check")
    assert phone.find_element(By.CSS_SELECTOR, "#check [name=note]").get_attribute("value") == "from the desk"
    change_job(draft.pk, by=owner, note="again from the desk")
    fill(phone, "#check [name=note]", "from the bay")
    press(phone, "#check button.primary")
    driving.wait_for_text(phone, "Recorded meanwhile: again from the desk.")
    assert phone.find_element(By.CSS_SELECTOR, "#check [name=note]").get_attribute("value") == "from the bay"
    fits(phone, "both-wrote")
    press(phone, "#check button.primary")
    driving.wait_for(phone, "#check:not([open])")
    driving.settled(phone)
    kept = Job.objects.get()
    assert (kept.note, kept.ambient_c, kept.vent_c) == ("from the bay", 24.0, 6.0)


def test_from_an_empty_draft_to_the_signature(phone, live_server, draft):
    driving.opened(phone, "sign")
    driving.wait_for_text(phone, "Nothing is weighed yet, so nothing would move.")
    driving.opened(phone, "recover", "Another recovery")
    pick = Select(phone.find_element(By.ID, "recover-new-pick"))
    assert pick.options[1].text.startswith("REC-0001 · room for ")
    pick.select_by_value("REC-0001")
    fill(phone, "#recover-new-before", "5000")
    fill(phone, "#recover-new-after", "5120").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "REC-0001: 120 g")
    fits(phone, "recovered")
    driving.opened(phone, "oil")
    fill(phone, "#oil-add-quick-quantity", "30").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#oil .badge.good")
    driving.opened(phone, "charge")
    for field, reading, then in (
        ("before", "440", "Weight of CAN-0001 after"),
        ("after", "100", "Weight of CAN-0002 before"),
        ("before", "440", "Weight of CAN-0002 after"),
    ):
        fill(phone, f"#charge-quick-{field}", reading).send_keys(Keys.ENTER)
        driving.wait_for_text(phone, then)
    driving.opened(phone, "sign")
    driving.wait_for_text(phone, "CAN-0002: The weight after is missing")
    press(phone, '#sign a[href="#charge"]')
    fill(phone, "#charge-quick-after", "260").send_keys(Keys.ENTER)
    driving.opened(phone, "sign")
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
