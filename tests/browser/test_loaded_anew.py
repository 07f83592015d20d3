"""A page that is loaded anew while there is no network: it stands where it stood, and nothing takes another's place."""

import uuid

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from jobs.drafts.actions import drop_job, enter_line, start_job
from jobs.drafts.models import Job, JobLine
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)
from tests.browser.test_without_network import draft, kept, line, nothing_kept  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db(transaction=True)


def test_what_is_kept_was_done_also_after_a_reload(phone, line, draft):  # noqa: F811
    """The page goes on where it stood: a container that comes next takes the place of none that waits."""
    driving.opened(phone, "repair")
    line.cut()
    press(phone, "#repair .pass button")
    driving.wait_for_text(phone, "skip it")
    driving.opened(phone, "charge")
    for field, reading in (("before", "439"), ("after", "100"), ("before", "440")):
        fill(phone, f"#charge-quick-{field}", reading).send_keys(Keys.ENTER)
        driving.wait_for_text(phone, f"{field} {reading}")
    phone.refresh()
    driving.wait_for_text(phone, "Charging from CAN-0002. Stop when the scale shows")
    driving.wait_for(phone, "#charge-quick-after:focus")
    assert phone.find_element(By.CSS_SELECTOR, "#figures .figure .q").text == "259 g", (
        "520 g less the 339 g of the first"
    )
    assert phone.find_element(By.CSS_SELECTOR, "#charge-quick-after").get_attribute("value") == ""
    phone.switch_to.active_element.send_keys("259", Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0002, before 440, after 259")
    assert "CAN-0001, before 439, after 100" in " ".join(kept(phone))
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    assert {one.container.code: one.amount for one in JobLine.objects.all()} == {
        "CAN-0001": 339_000,
        "CAN-0002": 181_000,
    }
    assert Job.objects.get().steps.get(step="repair").skipped


def test_a_reload_without_the_network_shows_what_the_server_said_last(phone, line, draft):  # noqa: F811
    """Not the page as it was opened: what was entered since stands on it, and a new entry is one of its own."""
    for field, reading in (("before", "439"), ("after", "100")):
        fill(phone, f"#charge-quick-{field}", reading).send_keys(Keys.ENTER)
        driving.settled(phone)
    driving.wait_for_text(phone, "Next: CAN-0002")
    line.cut()
    phone.refresh()
    driving.wait_for(phone, "#outbox[data-kept]")
    driving.wait_for_text(phone, "Next: CAN-0002")
    for grams in ("3", "4"):
        driving.opened(phone, "charge", "Line loss")
        fill(phone, "#line-loss-new-quantity", grams).send_keys(Keys.ENTER)
        driving.wait_for_text(phone, f"quantity {grams}")
        phone.refresh()
        driving.wait_for_text(phone, f"quantity {grams}")
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    assert [one.amount for one in JobLine.objects.order_by("position")] == [339_000, 3_000, 4_000]


def test_a_step_that_is_saved_twice_without_the_network_loses_nothing_of_the_first(phone, line, draft):  # noqa: F811
    """Over a reload, and from another form of the same step."""
    line.cut()
    driving.opened(phone, "identify")
    press(phone, "#identify button[value=label]")
    driving.wait_for_text(phone, "Identify: by its label")
    driving.opened(phone, "identify", "Something else")
    fill(phone, "#identify [name=purity_percent]", "99.5").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Identified how label, Purity, % 99.5")
    driving.opened(phone, "check")
    fill(phone, "#check [name=low_side_said]", "2.1 bar")
    press(phone, "#check button.primary")
    driving.wait_for_text(phone, "Check: Low side 2.1 bar")
    phone.refresh()
    driving.wait_for_text(phone, "Check: Low side 2.1 bar")
    driving.opened(phone, "check")
    fill(phone, "#check [name=note]", "from the bay")
    press(phone, "#check button.primary")
    driving.wait_for_text(phone, "Check: Low side 2.1 bar, Note on the job from the bay")
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    job = Job.objects.get()
    assert (job.low_side_said, job.note) == ("2.1 bar", "from the bay")
    assert (job.identified_as, job.identified_how, job.purity_percent) == ("R-134a", "label", 99.5)


def test_what_was_refused_on_another_job_keeps_this_one_from_nothing(phone, line, draft, technician, owner):  # noqa: F811
    """It is mended on its own page; here what a colleague wrote is shown, and the job is signed."""
    line.cut()
    driving.opened(phone, "charge", "Line loss")
    fill(phone, "#line-loss-new-quantity", "4").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "quantity 4")
    drop_job(draft.pk, by=owner)
    line.mend()
    driving.wait_for_text(phone, "Kept on this phone, not taken")
    other = start_job(unit=draft.unit, technician=technician, by=technician, key=uuid.uuid4())
    phone.get(f"{line.url}/jobs/{other.pk}/")
    driving.wait_for_text(phone, "Kept on this phone, not taken")
    enter_line(
        other.pk, by=owner, key=uuid.uuid4(), action="recover", container="REC-0001", before=5_000_000, after=5_120_000
    )
    phone.execute_script("document.activeElement.blur(); window.dispatchEvent(new Event('focus'))")
    driving.wait_for_text(phone, "120 g")
    driving.opened(phone, "sign")
    driving.wait_for_text(phone, "Nothing stands in the way.")
    press(phone, "#sign button.primary")
    driving.wait_for_text(phone, "is signed as voucher ")
    assert len(kept(phone)) == 1
