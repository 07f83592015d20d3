"""A whole practice job by thumb, with the network failing in between, and everything in the database as it was."""

import pytest

from inventory.ledger.verify import verify
from jobs.drafts.models import Job
from tests.browser import driving
from tests.browser.test_accessible import faults, open_everything
from tests.browser.test_three_people import garage  # noqa: F401 (fixture)
from tests.browser.thumb import Thumb
from tests.jobs.test_practice import BAND, everything

EXPECTED = ("ERR_INTERNET_DISCONNECTED", "navigator.vibrate")  # it was taken away; nobody taps this glass

pytestmark = pytest.mark.django_db(transaction=True)


def looked_at(phone, name):
    """In both colours: nothing sideways, nothing small, no fault of the scripts."""
    driving.shot(phone, f"practice-{name}")
    assert driving.overflow(phone) == 0 and driving.small_targets(phone) == []
    open_everything(phone)
    assert faults(phone) == []
    assert [one for one in driving.console_errors(phone) if not any(word in one for word in EXPECTED)] == []
    band = phone.find_element("css selector", ".practice")
    assert (
        band.text == BAND and 0 <= phone.execute_script("return arguments[0].getBoundingClientRect().top", band) < 844
    )


def let_pass(phone):
    driving.wait_for(phone, "body:not([data-sending])")
    phone.execute_script("document.documentElement.dataset.before = 'yes'")
    driving.act_on(phone, "#evacuate form[action='/jobs/practice/pass/'] button", lambda button: button.click())
    driving.wait_for(phone, "html:not([data-before]) #bay")


def test_a_whole_job_is_practised(phone, live_server, garage, technician):  # noqa: F811
    driving.sign_in(phone, live_server, technician)
    before = everything()
    phone.get(f"{live_server.url}/jobs/new/")
    driving.act_on(phone, "form[action='/jobs/practice/start/'] button", lambda button: button.click())
    driving.wait_for(phone, "#bay")
    looked_at(phone, "begun")
    phone.refresh()
    driving.wait_for(phone, "#bay")
    thumb = Thumb(phone)
    thumb.starts()
    thumb.tap("#identify button[value=identifier]")
    thumb.sees("#recover .hint", "before. Once the unit is empty")
    thumb.types("6100")
    thumb.types("6390")
    thumb.tap("#repair .pass button")
    thumb.tap("#test .pass button")
    thumb.tap("#evacuate [data-face=pump] button")
    let_pass(phone)
    looked_at(phone, "evacuating")
    phone.refresh()
    driving.wait_for(phone, "#bay")
    assert phone.find_element("css selector", "#evacuate [data-face=reach] [data-running]").text.startswith("3")
    for reading in ("500", "620"):
        driving.wait_for(phone, "#evacuate form.reach input, #evacuate [name=reading]")
        thumb.types(reading)
        if reading == "500":
            let_pass(phone)
    thumb.types("30")
    driving.wait_for(phone, "body:not([data-sending])")
    driving.set_offline(phone, True)
    thumb.types("438")
    thumb.types("98")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    driving.shot(phone, "practice-without-network")
    driving.set_offline(phone, False)
    phone.execute_script("window.dispatchEvent(new Event('online'))")
    driving.wait_for(phone, "#outbox[hidden]")
    thumb.types("438")
    thumb.types("278")
    thumb.tap("#check .pass button")
    driving.wait_for(phone, "body:not([data-sending])")
    driving.wait_for_text(phone, "Nothing stands in the way.")
    looked_at(phone, "sign")
    phone.refresh()
    driving.wait_for(phone, "#sign")
    assert everything() == before and not Job.objects.filter(pk=0).exists()
    thumb.tap("#sign button.primary")
    driving.wait_for_text(phone, "Practised: this is what would have been posted")
    thumb.ends()
    looked_at(phone, "practised")
    assert everything() == before and verify().faults == []
    phone.get(f"{live_server.url}/jobs/0/")
    driving.wait_for_text(phone, "No practice is under way")
