"""The camera on a container's label, and photos, also where there is no network."""

import uuid

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from inventory.attachments.models import Attachment
from jobs.drafts.actions import enter_line
from jobs.units.actions import change_unit
from tests.browser import driving
from tests.browser.test_three_people import garage, press  # noqa: F401 (fixture)
from tests.browser.test_without_network import draft, line, nothing_kept  # noqa: F401 (fixtures)
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db(transaction=True)

# A camera and a reader of codes, which a headless browser has not: they see what the test wrote on the label.
CAMERA = """
navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream();
HTMLVideoElement.prototype.play = async () => {};
window.BarcodeDetector = class { async detect() { return [{ rawValue: localStorage.getItem("label") ?? "" }]; } };
"""


@pytest.fixture
def camera(phone):
    made = phone.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": CAMERA})
    yield
    phone.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", made)


def scan(phone, text):
    phone.execute_script("localStorage.setItem('label', arguments[0])", text)
    press(phone, "[data-scan] button")


def test_a_label_leads_to_its_weighing_field(camera, phone, line, draft):  # noqa: F811
    phone.refresh()
    scan(phone, f"{line.url}/scan/CAN-0002/")
    driving.wait_for_text(phone, "Weight of CAN-0002 before")
    driving.wait_for(phone, "#charge-quick-before:focus")
    assert phone.find_element(By.ID, "charge-quick-pick").get_attribute("value") == "CAN-0002"
    assert phone.find_element(By.ID, "charge-new-container").get_attribute("value") == "CAN-0002"
    assert phone.switch_to.active_element.get_attribute("value") == ""
    assert phone.current_url == f"{line.url}/jobs/{draft.pk}/"


@pytest.mark.parametrize(
    ("text", "said"),
    [("https://other.example/scan/CAN-0001/", "another shop's (other.example"), ("https://x.example/", "no label")],
)
def test_another_shop_s_label_leads_nowhere(camera, phone, line, draft, text, said):  # noqa: F811
    phone.refresh()
    scan(phone, text)
    driving.wait_for_text(phone, said)
    assert driving.small_targets(phone) == []


def test_a_photo_taken_without_the_network_is_sent_later(phone, line, draft, tmp_path):  # noqa: F811
    path = tmp_path / "gauges.jpg"
    path.write_bytes(picture(size=(3000, 2000)))
    driving.opened(phone, "photos")
    line.cut()
    Select(phone.find_element(By.ID, "photo-title")).select_by_value("gauges")
    phone.find_element(By.ID, "photo-file").send_keys(str(path))
    press(phone, "#photos button.primary")
    driving.wait_for_text(phone, "Photo: gauges")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    phone.refresh()
    driving.wait_for_text(phone, "Photo: gauges")
    line.mend()
    nothing_kept(phone)
    one = Attachment.objects.get()
    assert (one.title, one.type, one.subject) == ("gauges", "image/jpeg", f"job:{draft.pk}")
    driving.wait_for(phone, "#photos img")
    driving.shot(phone, "bay-photos")


def test_a_photo_whose_answer_was_lost_is_taken_once(phone, line, draft, tmp_path):  # noqa: F811
    """The phone keeps a smaller picture of it and sends that: the server knows the file that it was made of."""
    path = tmp_path / "gauges.jpg"
    path.write_bytes(picture(size=(3000, 2000)))
    driving.opened(phone, "photos")
    line.lose_answers()
    phone.find_element(By.ID, "photo-file").send_keys(str(path))
    press(phone, "#photos button.primary")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    driving.wait_until(phone, lambda: Attachment.objects.count() == 1)
    line.mend()
    nothing_kept(phone)
    driving.wait_for(phone, "#photos img")
    assert Attachment.objects.count() == 1


def test_a_page_that_takes_a_label_is_not_left(camera, phone, line, draft):  # noqa: F811
    phone.refresh()
    phone.execute_script(
        "document.addEventListener('scanned', (it) => {"
        " it.preventDefault(); document.title = `got ${it.detail.code}`; })"
    )
    scan(phone, f"{line.url}/scan/CAN-0002/")
    driving.wait_until(phone, lambda: phone.title == "got CAN-0002")
    driving.wait_for_text(phone, "Weight of CAN-0002 before")
    assert phone.current_url == f"{line.url}/jobs/{draft.pk}/"
    assert phone.find_elements(By.CSS_SELECTOR, "dialog[open]") == []


VIN = "1M8GDM9AXKP042788"  # the example of 49 CFR 565.15


def see(phone, text):
    phone.execute_script("localStorage.setItem('label', arguments[0])", text)
    press(phone, "[data-vin-scan] button")


def test_a_vin_s_bar_code_fills_its_field(camera, phone, line, draft):  # noqa: F811
    phone.get(f"{line.url}/units/new/")
    see(phone, "1M8GDM9A0KP042788")
    driving.wait_for_text(phone, "1M8GDM9A0KP042788 was misread")
    driving.shot(phone, "vin-misread")
    phone.execute_script("localStorage.setItem('label', arguments[0])", f"I{VIN}")
    driving.wait_for(phone, "#id_vin:focus")
    assert phone.find_element(By.ID, "id_vin").get_attribute("value") == VIN
    driving.wait_for_text(phone, "Position 10 names model year 1989")
    driving.shot(phone, "vin-filled")


def test_a_vin_s_bar_code_finds_the_unit_of_a_new_job(camera, phone, line, draft, technician):  # noqa: F811
    change_unit(draft.unit, by=technician, vin=VIN)
    phone.get(f"{line.url}/jobs/new/")
    see(phone, VIN)
    driving.wait_until(phone, lambda: VIN in phone.current_url)
    driving.wait_for(phone, f'form[action="/jobs/new/{draft.unit_id}/"]')
    assert driving.small_targets(phone) == [] and driving.overflow(phone) == 0


def test_a_photo_beside_a_reading_belongs_to_it(phone, line, draft, technician, tmp_path):  # noqa: F811
    """With the network, and without it: it is kept on the phone as other photos, and sent with what it proves."""
    said = {"container": "CAN-0001", "before": 440_000}
    entry = enter_line(draft.pk, by=technician, key=uuid.uuid4(), action="charge", **said)
    phone.refresh()
    camera = '#charge [data-photo-of] [name="file"]'
    for name, size in (("one.png", (300, 200)), ("two.png", (400, 200))):
        (tmp_path / name).write_bytes(picture("PNG", size=size))
    driving.opened(phone, "charge")
    phone.find_element(By.CSS_SELECTOR, camera).send_keys(str(tmp_path / "one.png"))
    driving.wait_for_text(phone, "1 photo kept")
    driving.settled(phone)
    shows = "[...document.querySelectorAll('noscript button')].some((it) => it.checkVisibility())"
    assert not phone.execute_script(f"return {shows}"), "no button that only a page without scripts needs"
    driving.act_on(phone, "#charge [data-photo-of]", lambda it: None)
    driving.shot(phone, "photo-of")
    line.cut()
    phone.find_element(By.CSS_SELECTOR, camera).send_keys(str(tmp_path / "two.png"))
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    driving.wait_for_text(phone, "Photo: scale")
    line.mend()
    nothing_kept(phone)
    assert [(one.title, one.proves) for one in Attachment.objects.all()] == [("scale", entry.proof_before)] * 2
    driving.wait_for_text(phone, "2 photos kept")
    driving.opened(phone, "photos")
    driving.wait_for_text(phone, "CAN-0001 before: 440 g")
    assert driving.small_targets(phone) == []
