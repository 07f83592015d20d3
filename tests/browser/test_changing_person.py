"""Two technicians on one phone, changing to and fro by PIN, and the phone that locks meanwhile: each entry is its
writer's, what one could not send stays sealed for them, and what was typed is there after unlocking."""

import datetime as dt
import uuid

import pytest
from django.db import OperationalError
from django.utils import timezone
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from jobs.drafts.actions import start_job
from jobs.drafts.models import JobLine
from jobs.pages import draft_views
from jobs.people.models import Person
from jobs.units.actions import add_unit
from shopledger.signin import pins
from shopledger.signin.models import Phone, SignIn, Standing
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)
from tests.browser.test_two_people_one_phone import says, stored, write
from tests.browser.test_without_network import line, nothing_kept  # noqa: F401 (fixtures)
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
PINS = {"tess": "730518", "timur": "264907"}
LATER = (
    "const now = Date.now; Date.now = () => now() + 11 * 60000; document.dispatchEvent(new Event('visibilitychange'));"
)


@pytest.fixture
def jobs(garage, technician):  # noqa: F811
    """A job of each."""
    timur = Person.objects.create_user("timur", password=PASSWORD, name="Timur Test", role="technician")
    other = add_unit(by=timur, customer="Bo Example", plate="TST-2", refrigerant="R-134a", charge_min_mg=500_000)
    found = {}
    for person, unit in ((technician, garage), (timur, other)):
        pins.set_pin(person, PINS[person.username])
        found[person.username] = start_job(unit=unit, technician=person, by=person, key=uuid.uuid4())
    return found


@pytest.fixture
def both(phone, line, jobs):  # noqa: F811
    """The phone on which both signed in in full; Timur is there."""
    phone.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": line.url, "storageTypes": "all"})
    phone.get(f"{line.url}/sign-in/")
    sign_in_fully(phone, "tess")
    open_change(phone)
    press(phone, "form[action='/sign-in/somebody-else/'] button")
    driving.wait_for(phone, "[name=username]")
    sign_in_fully(phone, "timur")
    return phone


def sign_in_fully(phone, username):
    fill(phone, "[name=username]", username)
    fill(phone, "[name=password]", PASSWORD).send_keys(Keys.ENTER)
    driving.wait_for_text(phone, f"{username.title()} Test")


def open_menu(phone):
    driving.act_on(phone, ".who", lambda menu: phone.execute_script("arguments[0].open = true", menu))


def open_change(phone):
    open_menu(phone)
    press(phone, "[data-change-person]")
    driving.wait_for(phone, ".thumb h1")


def tap(phone, pin):
    driving.wait_for(phone, ".keypad:not([hidden])")
    for digit in pin:
        press(phone, f".keypad button[value='{digit}']")


def change_to(phone, username):
    open_change(phone)
    phone.find_element(By.LINK_TEXT, f"{username.title()} Test").click()
    tap(phone, PINS[username])
    driving.wait_for(phone, ".nav")
    assert phone.find_element(By.CSS_SELECTOR, ".who summary").text == f"{username.title()} Test"


def open_job(phone, line, job):  # noqa: F811
    phone.get(f"{line.url}/jobs/{job.pk}/")
    driving.opened(phone, "charge")


def is_used_one_handed(phone, name):
    driving.shot(phone, name)
    assert driving.overflow(phone) == 0, name
    assert driving.small_targets(phone, 44) == [], name
    assert [one for one in driving.small_targets(phone, 48) if "thumb" in one or "keypad" in one] == [], name


def lies_untouched():
    SignIn.objects.update(last_used=timezone.now() - dt.timedelta(minutes=11))


def test_three_changes_an_entry_each_and_one_without_the_network(both, line, jobs, monkeypatch):  # noqa: F811
    def no_disk(*args, **kwargs):
        raise OperationalError("disk I/O error")

    phone = both
    open_change(phone)
    is_used_one_handed(phone, "people-here")
    phone.find_element(By.LINK_TEXT, "Tess Test").click()
    driving.wait_for(phone, ".keypad:not([hidden])")
    is_used_one_handed(phone, "pin")
    tap(phone, "905132")
    driving.wait_for_text(phone, "This is not the PIN")
    is_used_one_handed(phone, "pin-wrong")
    tap(phone, PINS["tess"])
    driving.wait_for(phone, ".nav")

    open_job(phone, line, jobs["tess"])
    line.cut()
    write(phone, "440")
    open_menu(phone)
    press(phone, "[data-change-person]")
    driving.wait_for_text(phone, "The person is not changed: there is no network just now")
    with monkeypatch.context() as away:
        away.setattr(draft_views.actions, "enter_line", no_disk)
        line.mend()
        change_to(phone, "timur")
    driving.wait_for_text(phone, "1 entry of another person waits on this phone until they sign in.")
    driving.shot(phone, "another-s-waits-after-a-change")
    pages, text = stored(phone)
    assert pages == [] and not [word for word in ("440", "CAN-0001", "Charge", "/entry/") if word in text]
    assert driving.in_phone(phone, "[phone.waiting(), (await phone.load()).entries]") == [0, []]

    open_job(phone, line, jobs["timur"])
    fill(phone, "#charge-quick-before", "430").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert [(one.before, one.entered_by.username) for one in JobLine.objects.all()] == [(430_000, "timur")]

    change_to(phone, "tess")
    nothing_kept(phone)
    driving.wait_until(phone, lambda: JobLine.objects.count() == 2)
    said = {(one.job_id, one.before, one.entered_by.username) for one in JobLine.objects.all()}
    assert said == {(jobs["timur"].pk, 430_000, "timur"), (jobs["tess"].pk, 440_000, "tess")}
    assert "outbox:" not in stored(phone)[1]


def share(phone, line):  # noqa: F811
    phone.get(f"{line.url}/sign-in/people/")
    driving.act_on(phone, "details.sheet", lambda more: phone.execute_script("arguments[0].open = true", more))
    is_used_one_handed(phone, "this-phone")
    press(phone, "button[name=shared]")
    driving.wait_for_text(phone, "This phone is shared now: it locks after 10 minutes without a touch.")


def test_it_locks_over_the_page_and_what_was_typed_is_there_after_the_pin(both, line, jobs):  # noqa: F811
    phone = both
    share(phone, line)
    open_job(phone, line, jobs["timur"])
    fill(phone, "#charge-quick-before", "430")
    lies_untouched()
    phone.execute_script(LATER)
    driving.wait_for_text(phone, "Locked. Timur Test was here.")
    driving.wait_for(phone, "dialog.cover[open]")
    assert "TST-2" not in phone.find_element(By.TAG_NAME, "body").text
    is_used_one_handed(phone, "locked")
    phone.switch_to.active_element.send_keys(Keys.ESCAPE)
    tap(phone, "905132")
    driving.wait_for_text(phone, "This is not the PIN")
    line.cut()
    tap(phone, PINS["timur"])
    driving.wait_for_text(phone, "only the server knows the PIN")
    line.mend()
    tap(phone, PINS["timur"])
    driving.wait_until(phone, lambda: not phone.find_elements(By.CSS_SELECTOR, "dialog.cover"))
    field = phone.find_element(By.CSS_SELECTOR, "#charge-quick-before")
    assert field.get_attribute("value") == "430"
    field.send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert (
        JobLine.objects.get().entered_by.username == "timur" and SignIn.objects.exclude(phone=None).get().how == "PIN"
    )


def test_an_entry_sent_to_a_locked_phone_waits_for_the_pin(both, line, jobs):  # noqa: F811
    phone = both
    share(phone, line)
    open_job(phone, line, jobs["timur"])
    lies_untouched()
    fill(phone, "#charge-quick-before", "430").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Locked. Timur Test was here.")
    driving.wait_for_text(phone, "1 entry waits on this phone until the person who wrote it signs in.")
    is_used_one_handed(phone, "locked-something-waits")
    assert JobLine.objects.count() == 0 and not says(stored(phone)[1], "430")
    tap(phone, PINS["timur"])
    driving.wait_for(phone, "#charge-quick-after, #charge-quick-before")
    nothing_kept(phone)
    assert f"/jobs/{jobs['timur'].pk}/" in phone.current_url
    assert (JobLine.objects.get().before, JobLine.objects.get().entered_by.username) == (430_000, "timur")


def test_another_form_s_words_are_put_back_after_unlocking(both, line, jobs):  # noqa: F811
    phone = both
    share(phone, line)
    phone.get(f"{line.url}/customers/new/")
    fill(phone, "[name=name]", "Cy Example")
    lies_untouched()
    press(phone, "form .actions button.primary")
    driving.wait_for_text(phone, "Locked. Timur Test was here.")
    tap(phone, PINS["timur"])
    driving.wait_for_text(phone, "What you typed is put back")
    assert phone.find_element(By.CSS_SELECTOR, "[name=name]").get_attribute("value") == "Cy Example"


def test_everybody_goes_out_with_one_tap(both, line, jobs):  # noqa: F811
    phone = both
    share(phone, line)
    driving.act_on(phone, "details.sheet", lambda more: phone.execute_script("arguments[0].open = true", more))
    press(phone, "form[action='/sign-in/everybody-out/'] button")
    driving.wait_for(phone, "[name=username]")
    assert (
        not Standing.objects.exists() and not SignIn.objects.exclude(phone=None).exists() and Phone.objects.get().shared
    )
    phone.back()
    driving.wait_for(phone, "[name=username]")
    driving.shot(phone, "everybody-out")


def test_a_pin_is_set_on_its_page(both, line, jobs):  # noqa: F811
    phone = both
    phone.get(f"{line.url}/me/pin/")
    fill(phone, "[name=pin]", "123456")
    fill(phone, "[name=pin_again]", "123456").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "These digits follow each other")
    driving.shot(phone, "own-pin")
    assert driving.overflow(phone) == 0 and driving.small_targets(phone) == []
    fill(phone, "[name=pin]", "502846")
    fill(phone, "[name=pin_again]", "502846").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Your PIN is set")
    driving.shot(phone, "own-pin-set")
