"""A scale read into a weight's field: by a serial port, by Bluetooth, and where it types like a keyboard."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.containers.models import Scale
from inventory.scales.sending import Connection, connect_scale
from jobs.drafts.models import JobLine
from tests.browser import driving
from tests.browser.test_three_people import fill, garage, press  # noqa: F401 (fixture)
from tests.browser.test_without_network import draft, line, nothing_kept  # noqa: F401 (fixtures)
from tests.inventory.test_scale_sends import confirmed
from tests.kept import saved

pytestmark = pytest.mark.django_db(transaction=True)

# A port and a device, which a headless browser has not: the test says what they send.
FAKES = """
const octets = (text) => Uint8Array.from(text, (one) => one.charCodeAt(0));
const port = {
  readable: null, opened: [],
  async open(how) {
    this.opened.push(how);
    this.readable = new ReadableStream({ start: (it) => { this.into = it; } });
  },
  async close() { this.readable = null; },
  async setSignals() {},
  getInfo: () => ({ usbVendorId: 7, usbProductId: 9 }),
};
const granted = (add = 0) => {
  localStorage.setItem("asked", Number(localStorage.getItem("asked")) + add);
  return Number(localStorage.getItem("asked"));
};
const serial = {
  getPorts: async () => (granted() ? [port] : []),
  requestPort: async () => {
    if (localStorage.getItem("refuses")) throw new DOMException("none", "NotFoundError");
    return granted(1), port;
  },
};
const sends = new EventTarget();
sends.startNotifications = async () => {};
const characteristics = { getCharacteristic: async (uuid) => { window.characteristic = uuid; return sends; } };
const device = new EventTarget();
device.id = "D-1";
const services = { getPrimaryService: async (uuid) => { window.service = uuid; return characteristics; } };
device.gatt = { connect: async () => services };
const bluetooth = { requestDevice: async (how) => { window.askedFor = how; return device; } };
Object.defineProperty(navigator, "serial", { value: serial, configurable: true });
Object.defineProperty(navigator, "bluetooth", { value: bluetooth, configurable: true });
window.port = port;
window.send = (text) => port.into.enqueue(octets(text));
window.pullOut = () => port.into.error(new Error("gone"));
window.notify = (...bytes) => {
  sends.value = new DataView(Uint8Array.from(bytes).buffer);
  sends.dispatchEvent(new Event("characteristicvaluechanged"));
};
"""


@pytest.fixture
def scale(phone, draft):  # noqa: F811
    """The usual scale, confirmed by a line that says all; the page anew, which knows of it."""
    made = phone.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": FAKES})
    found = connect_scale(confirmed(Scale.objects.get()), connection=Connection("serial", 2400, 7, "even"))
    again(phone)
    yield found
    phone.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", made)


def again(phone):
    """The page anew, and its charge opened."""
    phone.refresh()
    driving.opened(phone, "charge")


FIELD = "#charge-quick-before"
BELOW = "#charge .weigh .from-scale"


def value(phone, css=FIELD):
    return phone.find_element(By.CSS_SELECTOR, css).get_attribute("value")


def connected(phone):
    driving.wait_for(phone, f"{BELOW} .read")
    press(phone, f"{BELOW} .read")
    driving.wait_for_text(phone, "is connected")


def sends(phone, text):
    phone.execute_script("window.send(arguments[0])", text)


def test_a_scale_is_read_by_one_tap_and_what_it_sent_is_kept(phone, scale):
    connected(phone)
    assert phone.execute_script("return port.opened")[0] == {
        "baudRate": 2400,
        "dataBits": 7,
        "parity": "even",
        "stopBits": 1,
    }
    sends(phone, "0.400kg\r\nUS,GS,+0000.431kg\r\n")
    driving.wait_for_text(phone, "The weight was still moving")
    assert phone.find_elements(By.CSS_SELECTOR, ".offer") == [] and value(phone) == ""
    sends(phone, "ST,GS,+0000.4")
    sends(phone, "39kg\r\n")
    driving.wait_for_text(phone, "Scale bench: 0.439 kg, gross, stable")
    assert value(phone) == "", "it is never filled in by itself"
    driving.shot(phone, "bay-scale-offers")
    assert [one for one in driving.small_targets(phone, 48) if "offer" in one or '"read"' in one] == []
    press(phone, f"{BELOW} .offer")
    assert value(phone) == "0.439 kg"
    phone.find_element(By.CSS_SELECTOR, FIELD).send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    kept = JobLine.objects.get()
    assert (kept.before, kept.before_raw) == (439_000, "ST,GS,+0000.439kg<CR> | gross, stable")
    driving.wait_for(phone, f"{BELOW} .read")
    press(phone, f"{BELOW} .read")
    sends(phone, "ST,GS,+0000.100kg\r\n")
    driving.wait_for_text(phone, "Take 0.100 kg")
    press(phone, f"{BELOW} .offer")
    press(phone, "#charge .weigh button.primary")
    driving.wait_for_text(phone, "Next: CAN-0002")
    driving.settled(phone)
    kept.refresh_from_db()
    assert (kept.after, kept.before_raw[:17], kept.after_raw[:17]) == (
        100_000,
        "ST,GS,+0000.439kg",
        "ST,GS,+0000.100kg",
    )
    assert phone.execute_script("return port.opened.length") == 1, "the port stayed open"
    assert driving.overflow(phone) == 0


def test_permission_is_asked_for_once(phone, scale):
    connected(phone)
    again(phone)
    connected(phone)
    assert phone.execute_script("return localStorage.getItem('asked')") == "1"


def test_what_is_typed_over_it_was_not_sent_by_the_scale(phone, scale):
    connected(phone)
    sends(phone, "\nST,GS,+0000.439kg\r\n")
    driving.wait_for_text(phone, "Take 0.439 kg")
    press(phone, f"{BELOW} .offer")
    fill(phone, FIELD, "438")
    driving.wait_for_text(phone, "Typed by hand.")
    phone.find_element(By.CSS_SELECTOR, FIELD).send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert (JobLine.objects.get().before, JobLine.objects.get().before_raw) == (438_000, "")


def test_what_was_read_outlives_a_part_that_is_replaced(phone, scale):
    connected(phone)
    sends(phone, "\nST,GS,+0000.439kg\r\n")
    driving.wait_for_text(phone, "Take 0.439 kg")
    press(phone, f"{BELOW} .offer")
    driving.opened(phone, "check")
    fill(phone, "#check [name=ambient_c]", "20")
    press(phone, "#check button.primary")
    driving.wait_until(phone, lambda: value(phone, "#sign [name=version]") == "1")
    assert value(phone) == "0.439 kg"
    press(phone, "#figures .weigh button.primary")
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert JobLine.objects.get().before_raw == "ST,GS,+0000.439kg<CR> | gross, stable"


def test_a_scale_that_says_no_state_is_read_twice(phone, scale):
    saved(scale, form=11, form_unit="g")
    again(phone)
    connected(phone)
    sends(phone, "\r439\r412\r")
    driving.wait_for_text(phone, "Two lines one after the other differ")
    sends(phone, "412\r")
    driving.wait_for_text(phone, "Take 412 g")
    driving.wait_for_text(phone, "state not sent, two lines agree")
    press(phone, f"{BELOW} .offer")
    press(phone, "#charge .weigh button.primary")
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert JobLine.objects.get().before_raw.startswith("412<CR>412<CR> | ")


def test_a_scale_that_is_refused_or_goes_away_says_so(phone, scale):
    phone.execute_script("localStorage.setItem('refuses', 'yes')")
    driving.wait_for(phone, f"{BELOW} .read")
    press(phone, f"{BELOW} .read")
    driving.wait_for_text(phone, "Nothing was chosen")
    phone.execute_script("localStorage.removeItem('refuses')")
    connected(phone)
    phone.execute_script("window.pullOut()")
    driving.wait_for_text(phone, "Scale bench is gone")
    connected(phone)


def test_without_the_network_the_line_is_shown_and_a_person_types(phone, line, scale):  # noqa: F811
    connected(phone)
    line.cut()
    sends(phone, "\nST,GS,+0000.439kg\r\n")
    driving.wait_for_text(phone, "The scale sent: ST,GS,+0000.439kg. Type what its display shows.")
    assert value(phone) == ""
    fill(phone, FIELD, "439").send_keys(Keys.ENTER)
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    assert JobLine.objects.get().before == 439_000


def test_what_was_read_is_kept_where_the_network_goes_before_it_is_saved(phone, line, scale):  # noqa: F811
    connected(phone)
    sends(phone, "\nST,GS,+0000.439kg\r\n")
    driving.wait_for_text(phone, "Take 0.439 kg")
    press(phone, f"{BELOW} .offer")
    line.cut()
    press(phone, "#charge .weigh button.primary")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    line.mend()
    nothing_kept(phone)
    driving.settled(phone)
    assert JobLine.objects.get().before_raw == "ST,GS,+0000.439kg<CR> | gross, stable"


def test_what_a_scale_sent_is_put_back_with_its_weight(phone, line, scale):  # noqa: F811
    connected(phone)
    sends(phone, "\nST,GS,+0000.439kg\r\n")
    driving.wait_for_text(phone, "Take 0.439 kg")
    press(phone, f"{BELOW} .offer")
    line.cut()
    press(phone, "#charge .weigh button.primary")
    driving.wait_for_text(phone, "Kept on this phone, not sent yet")
    Scale.objects.update(retired=True)
    line.mend()
    driving.wait_for_text(phone, "Kept on this phone, not taken")
    assert not JobLine.objects.exists()
    Scale.objects.update(retired=False)
    press(phone, "#outbox button")
    nothing_kept(phone)
    form = phone.find_element(By.CSS_SELECTOR, "#charge details[open] form:not(.weigh)")
    assert form.find_element(By.NAME, "before").get_property("value") == "0.439 kg"
    form.find_element(By.CSS_SELECTOR, "button.primary").click()
    driving.wait_until(phone, JobLine.objects.exists)
    assert JobLine.objects.get().before_raw == "ST,GS,+0000.439kg<CR> | gross, stable"


def test_a_scale_is_read_by_bluetooth(phone, scale):
    saved(scale, readability_mg=5_000, form=13)
    connect_scale(scale, connection=Connection("standard"))
    again(phone)
    connected(phone)
    assert phone.execute_script("return [service, characteristic]") == [
        "0000181d-0000-1000-8000-00805f9b34fb",
        "00002a9d-0000-1000-8000-00805f9b34fb",
    ]
    phone.execute_script("notify(0x00, 0x58, 0x00); notify(0x00, 0x58, 0x00)")
    driving.wait_for_text(phone, "Take 0.440 kg")
    press(phone, f"{BELOW} .offer")
    press(phone, "#charge .weigh button.primary")
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert JobLine.objects.get().before_raw.startswith("2A9D 00 58 00<CR>2A9D 00 58 00<CR> | ")


def test_lines_come_by_a_bluetooth_service_of_the_scale_s_own(phone, scale):
    connect_scale(scale, connection=Connection("bluetooth", service="ffe0", characteristic="ffe1"))
    again(phone)
    connected(phone)
    assert phone.execute_script("return askedFor.optionalServices") == ["0000ffe0-0000-1000-8000-00805f9b34fb"]
    for piece in ("\n", "ST,GS,+00", "00.439kg\r\n"):
        phone.execute_script("notify(...arguments)", *map(ord, piece))
    driving.wait_for_text(phone, "Take 0.439 kg")


# -- a scale that types ------------------------------------------------------------------------------------


def keys(phone, text, gap):
    """Keys, so many seconds apart by their own time stamps."""
    moment = phone.execute_script("return Date.now()") / 1000
    for number, one in enumerate(text):
        enter = one == "\r"
        said = {"key": "Enter" if enter else one, "text": one, "timestamp": moment + number * gap}
        said |= {"code": "Enter", "windowsVirtualKeyCode": 13} if enter else {}
        phone.execute_cdp_cmd("Input.dispatchKeyEvent", {"type": "keyDown", **said})
        phone.execute_cdp_cmd("Input.dispatchKeyEvent", {"type": "keyUp", **said})


@pytest.fixture
def typing(phone, scale):
    saved(scale, form=10, connects="keyboard")
    again(phone)
    return scale


def test_what_a_scale_types_is_offered_and_not_saved_by_its_enter(phone, typing):
    press(phone, FIELD)
    keys(phone, "0.439 kg\r", 0.005)
    driving.wait_for_text(phone, "Take 0.439 kg")
    assert value(phone) == "" and JobLine.objects.count() == 0
    press(phone, f"{BELOW} .offer")
    keys(phone, "\r", 0)
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    kept = JobLine.objects.get()
    said = "gross or net not sent, state not sent, sent by its key"
    assert (kept.before, kept.before_raw) == (439_000, f"0.439 kg<CR> | {said}")


def test_what_a_hand_types_is_a_hand_s(phone, typing):
    press(phone, FIELD)
    keys(phone, "439\r", 0.12)
    driving.wait_for_text(phone, "Weight of CAN-0001 after")
    driving.settled(phone)
    assert JobLine.objects.get().before_raw == ""


def test_what_a_scale_types_into_another_field_stays(phone, typing):
    driving.opened(phone, "repair", "What was repaired")
    press(phone, "#repair [name=repairs]")
    keys(phone, "0.439 kg", 0.005)
    assert value(phone, "#repair [name=repairs]") == "0.439 kg"
    assert phone.find_elements(By.CSS_SELECTOR, ".offer") == []


# -- where its form is confirmed -----------------------------------------------------------------------------


def test_a_form_is_confirmed_from_a_line_that_came(desk, live_server, shop, owner, office_client):
    from tests.kept import made

    found = made(Scale, code="S-2", readability_mg=1000, usual=True)
    script = desk.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": FAKES})
    try:
        driving.sign_in(desk, live_server, owner)
        desk.get(f"{live_server.url}/scales/{found.pk}/sends/")
        driving.shot(desk, "scale-sends-empty")
        desk.execute_script("document.querySelector('[name=connects]').value = 'serial'")
        press(desk, "#how ~ form button, [aria-labelledby=how] button")
        driving.wait_for_text(desk, "is kept")
        press(desk, "[data-connect] button")
        driving.wait_for_text(desk, "Connected")
        desk.execute_script("window.send('\\nST,GS,+0000.412kg\\r\\n')")
        driving.wait_for_text(desk, "ask what the newest line means")
        press(desk, "[data-try] button.primary")
        driving.wait_for_text(desk, "0.412 kg, gross, stable (form 1)")
        driving.shot(desk, "scale-sends-means")
        press(desk, "[name=meaning]")
        fill(desk, "[name=shown_mg]", "0.413 kg").send_keys(Keys.ENTER)
        driving.wait_for_text(desk, "the display showed another figure")
        fill(desk, "[name=shown_mg]", "412 g").send_keys(Keys.ENTER)
        driving.wait_for_text(desk, "Confirmed by")
        driving.shot(desk, "scale-sends")
        assert driving.overflow(desk) == 0
        press(desk, "[aria-labelledby=confirmed] button")
        driving.wait_for_text(desk, "Not confirmed yet")
    finally:
        desk.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", script)
