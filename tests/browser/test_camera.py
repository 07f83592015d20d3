"""The camera on a container's label, and photos, also where there is no network."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from inventory.attachments.models import Attachment
from tests.browser import driving
from tests.browser.test_job_in_the_bay import step_to
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
    driving.wait_for(phone, "#charge-new-container")
    driving.wait_for_text(phone, "Charge from a container")
    assert phone.find_element(By.ID, "charge-new-container").get_attribute("value") == "CAN-0002"
    assert phone.find_element(By.ID, "charge-new-before").get_attribute("value") == ""


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
    step_to(phone, "photos")
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
    step_to(phone, "photos")
    line.lose_answers()
    phone.find_element(By.ID, "photo-file").send_keys(str(path))
    press(phone, "#photos button.primary")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    driving.wait_until(phone, lambda: Attachment.objects.count() == 1)
    line.mend()
    nothing_kept(phone)
    driving.wait_for(phone, "#photos img")
    assert Attachment.objects.count() == 1
