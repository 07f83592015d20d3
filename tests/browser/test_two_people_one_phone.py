"""One phone in the bay, two people after each other: neither finds the other's pages or words, nothing of one is sent
as the other's, and what the first could not send waits, locked, until they sign in again."""

import re

import pytest
from django.contrib.sessions.models import Session
from django.db import OperationalError
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from jobs.drafts.models import JobLine
from jobs.pages import draft_views
from jobs.people.models import Person
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)
from tests.browser.test_without_network import draft, kept, line, nothing_kept  # noqa: F401 (fixtures)
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
STORED = """
const caught = (await caches.keys()).filter((name) => name.startsWith("job-pages"));
return [caught, JSON.stringify(localStorage) + JSON.stringify(sessionStorage)];
"""
WORDS = ("before 440", "CAN-0001", "Charge", "/entry/")


@pytest.fixture
def other(shop):
    return Person.objects.create_user("timur", password=PASSWORD, name="Timur Test", role="technician")


@pytest.fixture
def away(monkeypatch):
    """The ledger takes no line of a job, as if its disk were gone, until this is called."""

    def fail(*args, **kwargs):
        raise OperationalError("disk I/O error")

    monkeypatch.setattr(draft_views.actions, "enter_line", fail)
    return monkeypatch.undo


def sign_in(phone, line, person):  # noqa: F811
    """By the page, as a person does."""
    phone.get(f"{line.url}/sign-in/")
    fill(phone, "[name=username]", person.username)
    fill(phone, "[name=password]", PASSWORD).send_keys(Keys.ENTER)
    driving.wait_for_text(phone, person.name)


def sign_out(phone):
    driving.act_on(phone, ".who", lambda menu: phone.execute_script("arguments[0].open = true", menu))
    press(phone, "[data-sign-out] button")


def choose(phone, words):
    driving.wait_for(phone, "dialog[open]")
    phone.find_element(By.XPATH, f"//dialog//button[contains(., '{words}')]").click()


def stored(phone):
    """The kept pages' names, and all that a script finds in this browser's storage."""
    return phone.execute_script(STORED)


def says(text, figure):
    """Whether a figure stands in the text by itself: the same digits stand by chance within moments and keys."""
    return re.search(rf"(?<![0-9A-Za-z]){figure}(?![0-9A-Za-z])", text) is not None


def nothing_of_the_first_is_here(phone):
    pages, text = stored(phone)
    assert pages == [] and [word for word in WORDS if word in text] == []
    shown = phone.find_element(By.TAG_NAME, "body").text
    assert "440" not in shown and "J-0000" not in shown and "TST-1" not in shown


def write(phone, reading):
    fill(phone, "#charge-quick-before", reading).send_keys(Keys.ENTER)
    driving.wait_for_text(phone, f"before {reading}")


def open_job(phone, line, draft):  # noqa: F811
    phone.get(f"{line.url}/jobs/{draft.pk}/")
    driving.opened(phone, "charge")


def test_signing_out_says_what_is_not_sent_and_the_next_person_finds_nothing(
    phone,
    line,  # noqa: F811
    draft,  # noqa: F811
    technician,
    other,
    away,
):
    for time in (1, 2):  # the second time is as the first
        if time == 2:
            sign_in(phone, line, technician)
        phone.get(f"{line.url}/jobs/")  # a page of theirs to come Back to
        open_job(phone, line, draft)
        assert stored(phone)[0] == [f"job-pages:{technician.pk}"]
        line.cut()
        if time == 1:
            write(phone, "440")
        assert [word for word in WORDS if word in stored(phone)[1]] == [], "what is kept is sealed"
        sign_out(phone)
        driving.wait_for_text(phone, "1 entry is not sent yet")
        choose(phone, "Sign out")
        driving.wait_for_text(phone, "Not signed out: there is no network just now")
        line.mend()
        sign_out(phone)
        driving.wait_for_text(phone, "1 entry is not sent yet")
        assert "before 440" in phone.find_element(By.CSS_SELECTOR, "dialog[open]").text
        for screen, name in ((driving.DESK, "desk"), (driving.PHONE, "phone")):
            driving.set_screen(phone, screen)
            driving.shot(phone, f"signing-out-{name}")
        assert driving.small_targets(phone) == []
        choose(phone, "Stay signed in")
        driving.wait_for_text(phone, "Kept on this phone, not sent yet")
        sign_out(phone)
        choose(phone, "Sign out, keep it locked on this phone")
        driving.wait_for_text(phone, "1 entry waits on this phone until the person who wrote it signs in.")
        driving.shot(phone, "signed-out-something-waits")
        nothing_of_the_first_is_here(phone)
        phone.back()
        driving.wait_for(phone, "[name=username]")
        nothing_of_the_first_is_here(phone)
        sign_in(phone, line, other)
        driving.wait_for_text(phone, "1 entry of another person waits on this phone until they sign in.")
        driving.shot(phone, "another-s-entry-waits")
        nothing_of_the_first_is_here(phone)
        assert driving.in_phone(phone, "[phone.waiting(), (await phone.load()).entries]") == [0, []]
        phone.get(f"{line.url}/jobs/{draft.pk}/")
        driving.wait_for_text(phone, "Nothing here")
        line.cut()
        phone.get(f"{line.url}/jobs/{draft.pk}/")
        assert not says(phone.page_source, "440") and draft.number not in phone.page_source
        line.mend()
        phone.get(line.url)
        sign_out(phone)
        driving.wait_for_text(phone, "1 entry waits on this phone")
    assert JobLine.objects.count() == 0
    away()
    sign_in(phone, line, technician)
    nothing_kept(phone)
    one = JobLine.objects.get()
    assert (one.before, one.entered_by) == (440_000, technician)
    assert stored(phone)[1].count("outbox:") == 0


def test_what_waits_when_the_sign_in_ends_is_not_sent_as_the_next_person_s(
    phone,
    line,  # noqa: F811
    draft,  # noqa: F811
    technician,
    owner,
):
    """The owner may write on every draft, and signs in while the technician's page still stands open in a tab."""
    first = phone.current_window_handle
    line.cut()
    write(phone, "440")
    Session.objects.all().delete()
    phone.switch_to.new_window("tab")
    driving.set_screen(phone, driving.PHONE)
    line.mend()
    sign_in(phone, line, owner)
    driving.wait_for_text(phone, "1 entry of another person waits on this phone until they sign in.")
    phone.switch_to.window(first)
    driving.wait_for_text(phone, owner.name)  # the open page is the signed-in person's, or none
    assert kept(phone) == [] and driving.in_phone(phone, "phone.waiting()") == 0
    assert JobLine.objects.count() == 0
    sign_out(phone)
    driving.wait_for(phone, "[name=username]")
    sign_in(phone, line, technician)
    nothing_kept(phone)
    assert JobLine.objects.get().entered_by == technician
    phone.close()
    phone.switch_to.window(phone.window_handles[0])


def test_an_entry_sent_after_the_sign_in_ended_waits_for_its_writer(
    phone,
    line,  # noqa: F811
    draft,  # noqa: F811
    technician,
    other,
):
    Session.objects.all().delete()
    fill(phone, "#charge-quick-before", "440").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "1 entry waits on this phone until the person who wrote it signs in.")
    nothing_of_the_first_is_here(phone)
    sign_in(phone, line, other)
    driving.wait_for_text(phone, "1 entry of another person waits")
    nothing_of_the_first_is_here(phone)
    Session.objects.all().delete()
    sign_in(phone, line, technician)
    nothing_kept(phone)
    assert JobLine.objects.get().before == 440_000


def test_what_an_earlier_version_kept_is_taken_over_and_sealed(phone, line, draft, technician, away):  # noqa: F811
    """Then all of a person's entries were one list, and it was not sealed."""
    line.cut()
    write(phone, "440")
    phone.execute_async_script(
        """
        const [person, done] = arguments;
        const outbox = document.querySelector("script[src$='outbox.js']").src;
        import(outbox.replace("outbox.js", "phone.js")).then(async (phone) => {
          const { entries } = await phone.load();
          entries.forEach(phone.remove);
          localStorage.setItem(`outbox:${person}`, JSON.stringify(entries.map(({ name, ...said }) => said)));
          done();
        });
        """,
        technician.pk,
    )
    assert '"before\\",\\"440' in stored(phone)[1] and says(stored(phone)[1], "440")
    line.mend()
    phone.get(f"{line.url}/jobs/")
    driving.wait_for_text(phone, "before 440")
    assert not says(stored(phone)[1], "440") and driving.in_phone(phone, "phone.waiting()") == 1
    away()
    nothing_kept(phone)
    assert JobLine.objects.get().before == 440_000


def test_what_another_key_sealed_is_said_and_not_thrown_away(phone, line, draft, settings, technician, away):  # noqa: F811
    line.cut()
    write(phone, "440")
    settings.SECRET_KEY = "another ledger at the same address"
    line.mend()
    driving.sign_in(phone, line, technician)
    phone.get(f"{line.url}/jobs/")
    driving.wait_for_text(phone, "1 entry of yours cannot be opened")
    driving.shot(phone, "cannot-be-opened")
    assert driving.small_targets(phone) == [] and driving.in_phone(phone, "phone.waiting()") == 1
    press(phone, "#outbox button")
    phone.switch_to.alert.accept()
    nothing_kept(phone)
    assert driving.in_phone(phone, "phone.waiting()") == 0


def test_what_waits_is_opened_and_sent_after_the_signing_key_was_renewed(phone, line, draft, settings):  # noqa: F811
    line.cut()
    write(phone, "440")
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "a new one, the one before is still believed"
    line.mend()
    phone.get(f"{line.url}/jobs/{draft.pk}/")
    nothing_kept(phone)
    assert JobLine.objects.get().before == 440_000


def test_where_nothing_can_be_sealed_the_phone_says_so(phone, line, draft, away):  # noqa: F811
    """An address without TLS: browsers seal nothing there."""
    bare = phone.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument",
        {"source": "Object.defineProperty(crypto, 'subtle', { value: undefined });"},
    )
    try:
        phone.refresh()
        driving.opened(phone, "charge")
        line.cut()
        write(phone, "440")
        sign_out(phone)
        driving.wait_for_text(phone, "This address has no TLS, so nothing on this phone can be locked")
        driving.shot(phone, "signing-out-without-tls")
        choose(phone, "Stay")
        line.mend()
        away()
        nothing_kept(phone)
        assert JobLine.objects.get().before == 440_000
    finally:
        phone.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", bare)
