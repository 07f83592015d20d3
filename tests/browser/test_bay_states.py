"""The job page in each of its states: readings that are asked about, timers that ring, refusals behind which others
wait; and that it is read and used by everybody, in both schemes, enlarged and on its side."""

import datetime as dt
import uuid

import pytest
from django.utils import timezone
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.containers.models import Container
from inventory.shop.clock import today
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.drafts.models import Job, JobLine
from jobs.pages import draft_views
from tests.browser import driving
from tests.browser.test_accessible import faults
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)
from tests.browser.test_without_network import draft, kept, line, nothing_kept  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db(transaction=True)
SIDEWAYS = {**driving.PHONE, "width": 844, "height": 390}


def open_page(phone, live_server, job, technician):
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/jobs/{job.pk}/")
    driving.wait_for(phone, "#bay details.is-now[open]")


@pytest.fixture
def job(garage, technician):  # noqa: F811
    return start_job(unit=garage, technician=technician, by=technician, key=uuid.uuid4())


# -- a reading that is asked about ---------------------------------------------------------------------------


def test_a_doubted_weight_is_asked_with_both_readings_and_settled_by_one_tap(phone, live_server, job, technician):
    open_page(phone, live_server, job, technician)
    driving.opened(phone, "charge")
    fill(phone, "#charge-quick-before", "4400").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#figures .doubt")
    meant = [one.text for one in phone.find_elements(By.CSS_SELECTOR, "#figures .doubt button")]
    assert "440 g" in meant and JobLine.objects.count() == 0
    assert "440 g" in phone.find_element(By.CSS_SELECTOR, "#figures .weigh .errorlist").text
    assert phone.find_element(By.ID, "charge-quick-before").get_attribute("value") == "4400"
    driving.shot(phone, "bay-doubt")
    press(phone, "#figures .doubt button[value$=' 440 g']")
    driving.wait_for(phone, "#charge-quick-after:focus")
    assert phone.find_elements(By.CSS_SELECTOR, "#figures .doubt, #figures .errorlist") == []
    assert phone.find_element(By.CSS_SELECTOR, "#figures .figure .q").text == "100 g", "by what was tapped"
    phone.switch_to.active_element.send_keys("100", Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0001: 340 g")
    driving.settled(phone)
    one = JobLine.objects.get()
    assert (one.before, one.after) == (440_000, 100_000)


def test_what_is_typed_over_a_doubted_weight_is_what_counts(phone, live_server, job, technician):
    """Enter is no tap on what is offered: the reading that was read again is kept."""
    open_page(phone, live_server, job, technician)
    driving.opened(phone, "charge")
    fill(phone, "#charge-quick-before", "4400").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#figures .doubt")
    driving.settled(phone)
    fill(phone, "#charge-quick-before", "437").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-after:focus")
    driving.settled(phone)
    assert JobLine.objects.get().before == 437_000
    fill(phone, "#charge-quick-after", "1000").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#figures .doubt")
    driving.settled(phone)
    phone.find_element(By.ID, "charge-quick-after").send_keys(Keys.ENTER)
    driving.settled(phone)
    driving.wait_for(phone, "#figures .doubt")
    assert JobLine.objects.get().after is None, "asked again, and nothing taken"


def test_a_vacuum_in_another_s_unit_is_settled_by_one_tap(phone, live_server, job, technician):
    """500 micron and 500 mbar: what was meant is offered, and the hold starts with it."""
    change_job(job.pk, by=technician, evacuation_started=timezone.now() - dt.timedelta(minutes=35))
    Job.objects.update(started_at=timezone.now() - dt.timedelta(hours=1))
    open_page(phone, live_server, job, technician)
    driving.wait_for(phone, "#evacuate.is-now")
    driving.act_on(phone, "#evacuate [data-face=reach] option:nth-child(2)", lambda it: it.click())
    fill(phone, "#vacuum-reached", "500").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "500 micron or 500 mbar?")
    driving.wait_for(phone, "#evacuate [data-face=reach] .doubt button")
    driving.settled(phone)
    assert Job.objects.get().hold_started is None
    press(phone, "#evacuate .doubt button[value$='500 micron']")
    driving.wait_for_text(phone, "Vacuum held for; at least")
    driving.settled(phone)
    done = Job.objects.get()
    assert (done.vacuum_said, done.hold_started is not None) == ("500 micron", True)


def test_the_end_of_a_hold_is_read_in_the_unit_of_its_start_also_without_the_network(phone, line, draft):  # noqa: F811
    driving.opened(phone, "evacuate")
    press(phone, "#evacuate [data-face=pump] button")
    driving.settled(phone)
    line.cut()
    driving.act_on(phone, "#evacuate [data-face=reach] option:nth-child(2)", lambda it: it.click())
    fill(phone, "#vacuum-reached", "0.7").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#vacuum-held:focus")
    unit = phone.find_element(By.CSS_SELECTOR, "#evacuate [data-face=held] select")
    assert unit.get_attribute("value") == "mbar" and phone.switch_to.active_element.get_attribute("value") == ""
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    unit = phone.find_element(By.CSS_SELECTOR, "#evacuate [data-face=held] select")
    assert unit.get_attribute("value") == "mbar" and Job.objects.get().vacuum_said == "0.7 mbar"


def test_a_finger_that_comes_down_twice_hands_over_once(phone, line, draft):  # noqa: F811
    """The second time nothing is read yet: it asks for nothing and takes the place of nothing."""
    line.cut()
    fill(phone, "#charge-quick-before", "440").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-after:focus")
    phone.switch_to.active_element.send_keys(Keys.ENTER, Keys.ENTER)
    driving.wait_for_text(phone, "before 440")
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    assert JobLine.objects.get().before == 440_000
    assert phone.find_elements(By.CSS_SELECTOR, "#figures .error, #figures .errorlist, #figures .errors") == []


# -- another container than was offered -------------------------------------------------------------------------------


@pytest.fixture
def machine(garage):  # noqa: F811
    """CAN-0002 is a service machine: it is offered first, and says itself what it gave."""
    Container.objects.filter(code="CAN-0002").update(kind="machine", grade="recycled", opened_on=today())


def asked(phone):
    field = next(it for it in phone.find_elements(By.CSS_SELECTOR, "#figures .weigh .field input") if it.is_displayed())
    return field.get_attribute("name"), phone.find_element(By.CSS_SELECTOR, "#figures .weigh .field label").text


def pick(phone, code):
    driving.act_on(phone, f"#figures .weigh [name=pick] option[value='{code}']", lambda it: it.click())


def test_a_container_that_is_picked_is_asked_for_what_it_shows(machine, phone, live_server, job, technician):
    """A can is weighed, a machine says what it gave; what was typed for the one is never taken for the other."""
    open_page(phone, live_server, job, technician)
    driving.opened(phone, "charge", "Another container")
    assert asked(phone) == ("quantity", "What CAN-0002 says it gave, g")
    fill(phone, "#charge-quick-quantity", "33")
    pick(phone, "CAN-0001")
    assert asked(phone) == ("before", "Weight of CAN-0001 before, g")
    pick(phone, "CAN-0002")
    assert asked(phone) == ("quantity", "What CAN-0002 says it gave, g")
    pick(phone, "CAN-0001")
    fill(phone, "#charge-quick-before", "440").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-after:focus")
    assert asked(phone) == ("after", "Weight of CAN-0001 after, g")
    driving.settled(phone)
    one = JobLine.objects.get()
    assert (one.container.code, one.before, one.quantity) == ("CAN-0001", 440_000, None)


def test_a_can_after_a_machine_is_weighed_also_without_the_network(machine, phone, line, draft):  # noqa: F811
    phone.refresh()
    driving.opened(phone, "charge")
    line.cut()
    fill(phone, "#charge-quick-quantity", "180").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Next: CAN-0001")
    assert asked(phone) == ("before", "Weight of CAN-0001 before, g")
    fill(phone, "#charge-quick-before", "440").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-after:focus")
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    found = {one.container.code: (one.before, one.quantity) for one in JobLine.objects.all()}
    assert found == {"CAN-0002": (None, 180_000), "CAN-0001": (440_000, None)}


# -- a timer ------------------------------------------------------------------------------------------------

PHONE = """
window.buzzed = []; window.locks = { asked: 0, held: 0 };
Object.defineProperty(navigator, "vibrate", { value: (how) => window.buzzed.push(how) });
Object.defineProperty(navigator, "wakeLock", { value: { request: async () => {
  window.locks.asked += 1; window.locks.held += 1;
  const it = new EventTarget();
  it.release = async () => { window.locks.held -= 1; it.dispatchEvent(new Event("release")); };
  return it;
} } });
"""
PASSES = "const now = Date.now; Date.now = () => now() + arguments[0] * 60000;"


@pytest.fixture
def motor(phone):
    """A phone's motor and a screen that can be held on, which a headless browser has not."""
    made = phone.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": PHONE})
    yield
    phone.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", made)


NOTE = (By.CSS_SELECTOR, "#check [name=note]")
RUNS = "#evacuate [data-face=reach] [data-running]"


def figure(phone):
    return phone.find_element(By.CSS_SELECTOR, RUNS).text


def rung(phone):
    return phone.execute_script("return window.buzzed.length")


def test_the_pump_rings_once_when_it_is_due_and_says_so(motor, phone, live_server, job, technician):
    open_page(phone, live_server, job, technician)
    driving.opened(phone, "evacuate")
    press(phone, "#evacuate [data-face=pump] button")
    driving.wait_for_text(phone, "Pump running; at least 30 min")
    driving.settled(phone)
    phone.execute_script(PASSES, 28)
    driving.wait_until(phone, lambda: figure(phone) in {"28 min", "29 min"})
    assert rung(phone) == 0 and phone.find_elements(By.CSS_SELECTOR, ".due, .is-due") == []
    phone.execute_script(PASSES, 3)
    driving.wait_for_text(phone, "The pump has run long enough. Read the gauge now.")
    assert rung(phone) == 1 and "is-due" in phone.find_element(By.CSS_SELECTOR, RUNS).get_attribute("class")
    Job.objects.update(evacuation_started=timezone.now() - dt.timedelta(minutes=31))
    change_job(job.pk, by=technician, note="meanwhile")
    phone.execute_script("window.dispatchEvent(new Event('focus'))")  # the page is drawn anew
    driving.wait_until(phone, lambda: phone.find_element(*NOTE).get_attribute("value") == "meanwhile")
    driving.wait_for_text(phone, "The pump has run long enough. Read the gauge now.")
    assert rung(phone) == 1, "once is enough"
    fill(phone, "#vacuum-reached", "500").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Vacuum held for; at least 10 min")
    driving.settled(phone)
    assert phone.find_elements(By.CSS_SELECTOR, "[data-face=held] .due") == []


def test_a_pressure_test_rings_too(motor, phone, live_server, job, technician):
    open_page(phone, live_server, job, technician)
    driving.opened(phone, "test")
    press(phone, "#test button[formaction]")
    driving.wait_for_text(phone, "Under pressure; at least")
    driving.settled(phone)
    phone.execute_script(PASSES, 24 * 60)
    driving.wait_for_text(phone, "The pressure stood long enough. Read the gauge now.")
    assert rung(phone) == 1


def test_the_screen_stays_on_only_while_a_timer_runs_and_on_wish(motor, phone, live_server, job, technician):
    held = "return [window.locks.asked, window.locks.held]"
    open_page(phone, live_server, job, technician)
    assert not phone.find_element(By.ID, "awake").is_displayed()
    driving.opened(phone, "evacuate")
    press(phone, "#evacuate [data-face=pump] button")
    driving.wait_for_text(phone, "Keep the screen on while a timer runs")
    driving.settled(phone)
    assert phone.execute_script(held) == [0, 0], "not unasked"
    press(phone, "#awake input")
    driving.wait_until(phone, lambda: phone.execute_script(held) == [1, 1])
    phone.refresh()
    driving.wait_until(phone, lambda: phone.execute_script(held) == [1, 1])
    assert phone.find_element(By.CSS_SELECTOR, "#awake input").is_selected()
    press(phone, "#awake input")
    driving.wait_until(phone, lambda: phone.execute_script(held) == [1, 0])


# -- a refusal behind which others wait ------------------------------------------------------------------------


def test_a_weight_that_is_refused_keeps_back_no_other(phone, line, draft):  # noqa: F811
    """Written without the network: two cans, the first with a figure too much. The second is taken."""
    line.cut()
    for container, before in (("CAN-0001", "4400"), ("CAN-0002", "440")):
        driving.opened(phone, "charge", "Another charge")
        fill(phone, "#charge-new-container", container)
        fill(phone, "#charge-new-before", before)
        fill(phone, "#charge-new-after", "100").send_keys(Keys.ENTER)
        driving.wait_for_text(phone, f"{container}, before {before}, after 100")
    assert len(kept(phone)) == 2
    line.mend()
    driving.wait_for_text(phone, "Kept on this phone, not taken")
    driving.wait_for_text(phone, "CAN-0002: 340 g")
    assert len(kept(phone)) == 1 and "440 g" in kept(phone)[0] and "4400" in kept(phone)[0]
    assert [one.container.code for one in JobLine.objects.all()] == ["CAN-0002"]
    phone.refresh()
    driving.wait_for_text(phone, "Kept on this phone, not taken")
    press(phone, "#outbox button")
    nothing_kept(phone)
    assert phone.find_element(By.ID, "charge-new-before").get_attribute("value") == "4400"
    fill(phone, "#charge-new-before", "440").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0001: 340 g")
    driving.settled(phone)
    assert {one.container.code: one.amount for one in JobLine.objects.all()} == dict.fromkeys(
        ("CAN-0001", "CAN-0002"), 340_000
    )


def test_what_the_server_fails_at_keeps_back_no_other_and_can_be_taken_back(phone, line, draft, monkeypatch):  # noqa: F811
    """A fault of the program at one entry: the next one is recorded, and the job can be finished."""
    taken = draft_views.actions.enter_line

    def fails(*args, **kwargs):
        if kwargs["container"] == "CAN-0001":
            raise ZeroDivisionError
        return taken(*args, **kwargs)

    monkeypatch.setattr(draft_views.actions, "enter_line", fails)
    for container in ("CAN-0001", "CAN-0002"):
        driving.opened(phone, "charge", "Another charge")
        fill(phone, "#charge-new-container", container)
        fill(phone, "#charge-new-before", "440")
        fill(phone, "#charge-new-after", "100").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0002: 340 g")
    driving.wait_for_text(phone, "The server fails at this.")
    assert len(kept(phone)) == 1 and "CAN-0001" in kept(phone)[0]
    driving.shot(phone, "bay-server-fails")
    monkeypatch.undo()
    nothing_kept(phone)  # it is tried again by itself
    driving.wait_for_text(phone, "CAN-0001: 340 g")
    assert JobLine.objects.count() == 2


def test_a_doubt_that_comes_when_the_network_is_back_waits_in_words(phone, line, draft):  # noqa: F811
    """The page has gone on meanwhile: what is asked stands beside the entry that is kept, and nothing else does."""
    line.cut()
    fill(phone, "#charge-quick-before", "4400").send_keys(Keys.ENTER)
    driving.wait_for(phone, "#charge-quick-after:focus")
    driving.wait_for_text(phone, "before 4400")
    line.mend()
    driving.wait_for_text(phone, "Kept on this phone, not taken")
    driving.wait_for(phone, "#outbox .error")
    assert phone.find_element(By.CSS_SELECTOR, "#outbox .error").text.startswith("4400 g cannot be: is 440 g meant?")
    driving.shot(phone, "bay-doubt-kept")
    assert driving.small_targets(phone, 48) == []
    press(phone, "#outbox button")
    nothing_kept(phone)
    fill(phone, "#charge-new-before", "440").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "CAN-0001: weighed 440 g;")
    driving.settled(phone)
    assert JobLine.objects.get().before == 440_000


# -- in each of its states, for everybody ---------------------------------------------------------------------


def identify(phone, job, technician):
    pass


def recover(phone, job, technician):
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="recover", container="REC-0001", before=5_000_000)


def evacuate(phone, job, technician):
    Job.objects.update(evacuation_started=timezone.now() - dt.timedelta(minutes=5))


def charge(phone, job, technician):
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="charge", container="CAN-0001", before=440_000)


def sign(phone, job, technician):
    said = {"container": "CAN-0001", "before": 440_000, "after": 140_000}
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="charge", **said)
    change_job(job.pk, by=technician, step="check", vent_c=6.5)


STATES = {one.__name__: one for one in (identify, recover, evacuate, charge, sign)}


@pytest.mark.parametrize("state", [*STATES, "doubt"])
def test_each_state_is_read_and_used_by_everybody(phone, live_server, job, technician, state):
    STATES.get(state, identify)(phone, job, technician)
    open_page(phone, live_server, job, technician)
    if state == "doubt":
        driving.opened(phone, "charge")
        fill(phone, "#charge-quick-before", "4400").send_keys(Keys.ENTER)
        driving.wait_for(phone, "#figures .doubt")
    else:
        driving.wait_for(phone, f"#{state}.is-now[open]")
    driving.settled(phone)
    driving.shot(phone, f"state-{state}")
    assert faults(phone) == []
    assert driving.small_targets(phone, 48) == []
    assert driving.overflow(phone) == 0
    driving.set_screen(phone, SIDEWAYS)
    driving.shot(phone, f"state-{state}-sideways")
    assert driving.overflow(phone) == 0, "on its side"
    driving.set_screen(phone, driving.PHONE)
    phone.execute_script("document.documentElement.style.fontSize = '200%'")
    driving.shot(phone, f"state-{state}-large")
    assert driving.overflow(phone) == 0, "200 % text"
