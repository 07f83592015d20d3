"""A customer signs on the phone with a finger, or has their name typed."""

import uuid

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.pointer_input import PointerInput
from selenium.webdriver.common.by import By

from inventory.attachments.actions import read_bytes
from inventory.attachments.models import Attachment
from jobs.drafts.actions import change_job
from jobs.drafts.signatures import add_signature
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)
from tests.browser.test_without_network import draft, line  # noqa: F401 (fixtures)
from tests.inventory.test_attachments import uploads  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)


def draw(phone, *points):
    """A stroke of a finger, by points from the middle of the pad."""
    pad = driving.act_on(phone, "#finger canvas", lambda it: None)
    builder = ActionBuilder(phone, mouse=PointerInput("touch", "finger"))
    finger = builder.pointer_action
    finger.move_to(pad, *points[0]).pointer_down()
    for point in points[1:]:
        finger.move_to(pad, *point)
    finger.pointer_up()
    builder.perform()


def inked(phone):
    """Dark points of the pad."""
    return phone.execute_script(
        "const it = document.querySelector('#finger canvas');"
        "const all = it.getContext('2d').getImageData(0, 0, it.width, it.height).data;"
        "let dark = 0; for (let at = 0; at < all.length; at += 4) dark += all[at] < 128; return dark;"
    )


def test_a_name_without_a_blank_makes_no_page_wider(phone, draft, technician):  # noqa: F811
    add_signature(draft.pk, by=technician, name="T" * 99, upload=None, key=uuid.uuid4())
    phone.refresh()
    driving.opened(phone, "finger")
    assert driving.overflow(phone) == 0


def test_a_customer_signs_by_finger(phone, draft, technician):  # noqa: F811
    driving.opened(phone, "finger")
    fill(phone, "#finger-name", "Ada Example")
    draw(phone, (-100, 20), (-40, -30), (20, 25), (90, -20))
    driving.wait_for_text(phone, "Signed. Keep it, or clear it.")
    assert inked(phone) > 500
    press(phone, "#finger [data-clear]")
    driving.wait_for_text(phone, "Cleared.")
    assert inked(phone) == 0
    draw(phone, (-90, 0), (0, -30), (80, 25))
    driving.wait_for_text(phone, "Signed.")
    driving.shot(phone, "finger-drawn")
    assert driving.small_targets(phone) == [] and driving.overflow(phone) == 0
    press(phone, "#finger button.primary")
    driving.wait_for_text(phone, "signed by finger")
    one = Attachment.objects.get()
    assert (one.title, one.proves) == ("Ada Example", f"signature:drawn:{draft.version}")
    assert read_bytes(one).startswith(b"\x89PNG")
    driving.shot(phone, "finger-kept")
    change_job(draft.pk, by=technician, repairs="Hose")
    phone.refresh()
    driving.opened(phone, "finger")
    driving.wait_for_text(phone, "was changed after that")


def test_what_is_signed_without_the_network_is_sent_as_it_was_drawn(phone, line, draft):  # noqa: F811
    driving.opened(phone, "finger")
    line.cut()
    fill(phone, "#finger-name", "Ada Example")
    draw(phone, (-90, 0), (0, -30), (80, 25))
    driving.wait_for_text(phone, "Signed.")
    press(phone, "#finger button.primary")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    assert not Attachment.objects.exists()
    line.mend()
    driving.wait_for(phone, "#outbox[hidden]")
    driving.wait_for_text(phone, "signed by finger")
    one = Attachment.objects.get()
    assert one.proves.startswith("signature:drawn:") and read_bytes(one).startswith(b"\x89PNG")


def test_who_draws_nothing_has_their_name_typed(phone, draft):  # noqa: F811
    driving.opened(phone, "finger")
    press(phone, "#finger button.primary")
    driving.wait_for_text(phone, "Write the name of whoever signs")
    fill(phone, "#finger-name", "Bo Example")
    press(phone, "#finger button.primary")
    driving.wait_for_text(phone, "name typed")
    assert Attachment.objects.get().proves.startswith("signature:typed:")
    driving.opened(phone, "finger", "Withdraw it")
    fill(phone, "#finger-why", "of somebody else")
    press(phone, "#finger button.danger")
    driving.wait_for_text(phone, "Sign here")
    assert Attachment.objects.get().withdrawn_why == "of somebody else"
    assert phone.find_elements(By.CSS_SELECTOR, "#finger img") == []


def test_a_mouse_signs_too(desk, live_server, garage, technician):  # noqa: F811
    import uuid

    from jobs.drafts.actions import start_job

    job = start_job(unit=garage, technician=technician, by=technician, key=uuid.uuid4())
    driving.sign_in(desk, live_server, technician)
    desk.get(f"{live_server.url}/jobs/{job.pk}/")
    driving.opened(desk, "finger")
    pad = driving.act_on(desk, "#finger canvas", lambda it: None)
    ActionChains(desk).move_to_element(pad).click_and_hold().move_by_offset(60, 20).release().perform()
    assert inked(desk) > 100
