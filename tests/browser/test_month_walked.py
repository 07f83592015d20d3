"""A month walked to its end: each open step is mended where its page leads, then the owner seals the days."""

import datetime as dt
import uuid

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from inventory.containers.models import Container, Scale
from inventory.ledger.models import Seal, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.shop.clock import today
from jobs.drafts.actions import change_job, start_job
from jobs.drafts.models import Job
from jobs.units.actions import add_unit
from tests.browser import driving
from tests.browser.test_three_people import fill, looks_right, press
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (a fixture)
from tests.kept import made

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000


@pytest.fixture
def untidy(shop, technician):
    """The first day of the month that ended, with a draft, a cylinder that nobody weighed, 1.2 kg recovered without a
    destination, and an invoice missing."""
    first = (today().replace(day=1) - dt.timedelta(days=1)).replace(day=1)
    made(Scale, code="bench", readability_mg=G, usual=True, checked_until=today() + dt.timedelta(90))
    made(Party, name="Renew", role="reclaimer", address="2 Test Street", registration="R-1")
    kept = {"substance": "R-134a", "is_oil": False, "location": "Store", "count": 1}
    open_stock(
        lines=[
            Arrival(**kept, kind="recovery", grade="recovered", net=1_200 * G, code="REC-1", tare_mg=5_000 * G),
            Arrival(**kept, kind="refillable", grade="virgin", net=3_000 * G, code="CYL-1", tare_mg=6_000 * G),
        ],
        day=first,
        by="oscar",
        key=str(uuid.uuid4()),
    )
    receive(
        lines=[Arrival(**kept | {"count": 2}, kind="can", grade="virgin", net=340 * G, code="CAN-1", tare_mg=100 * G)],
        supplier=supplier_called("Acme"),
        document="D-1",
        day=first,
        by="oscar",
        key=str(uuid.uuid4()),
    )
    unit = add_unit(by=technician, plate="TST-1", refrigerant="R-134a")
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=first + dt.timedelta(2))
    return first


def step(driver, title):
    """What the walk says of a step."""
    heading = driver.find_element(By.XPATH, f"//h2[contains(., '{title}')]")
    return heading.find_element(By.CSS_SELECTOR, ".badge").text


def test_a_month_is_walked_to_its_end(desk, live_server, untidy, office, owner, uploads, tmp_path):  # noqa: F811
    month = f"{live_server.url}/month/?month={untidy:%Y-%m}"
    driving.sign_in(desk, live_server, office)
    desk.get(month)
    driving.wait_for_text(desk, "The mass balance")
    looks_right(desk, "month-open")
    titles = ("Drafts to sign", "Containers not weighed", "Recovered refrigerant without", "Deliveries without")
    assert [step(desk, title) for title in titles] == ["1 open", "2 open", "1 open", "1 open"]
    assert step(desk, "Differences without a reason") == step(desk, "Scale checks due") == "done"

    press(desk, f"main a[href='/jobs/{Job.objects.get().pk}/']")
    driving.wait_for_text(desk, "Give up this draft")
    press(desk, "a.danger")
    press(desk, "main form button")
    driving.wait_for_text(desk, "dropped")

    desk.get(month)
    press(desk, "main a[href='/stock/containers/CYL-1/weigh/']")
    fill(desk, "#id_gross", "9001")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "CYL-1")

    desk.get(month)
    press(desk, "main a[href='/stock/containers/REC-1/']")
    driving.wait_for_text(desk, "recovered")
    desk.get(f"{live_server.url}/leaving/new/?codes=REC-1")
    Select(desk.find_element(By.ID, "id_purpose")).select_by_value("reclaim")
    Select(desk.find_element(By.ID, "id_party")).select_by_visible_text("Renew, reclaimer")
    fill(desk, "#id_document", "RC-1")
    assert desk.find_element(By.CSS_SELECTOR, "input[name=codes][value='REC-1']").is_selected()
    looks_right(desk, "month-shipment")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "The shipment is posted as voucher")
    press(desk, "a[href$='/receipt/']")
    fill(desk, "#id_document", "W-7")
    fill(desk, "[id='id_net-REC-1']", "1188")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "they found 1\u202f188 g, -12 g beside ours, W-7")
    looks_right(desk, "month-receipt")

    desk.get(month)
    invoice = Voucher.objects.get(kind="receipt").number
    press(desk, f"main a[href='/ledger/{invoice}/']")
    press(desk, f"a[href^='/files/to/voucher/{invoice}']")
    (tmp_path / "invoice.png").write_bytes(picture("PNG"))
    driving.act_on(desk, "input[type=file]", lambda it: it.send_keys(str(tmp_path / "invoice.png")))
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "The file is kept.")

    desk.get(month)
    driving.wait_for_text(desk, "Nothing is open.")
    driving.wait_for_text(desk, "The owner seals the month.")
    looks_right(desk, "month-done")

    driving.sign_in(desk, live_server, owner)
    desk.get(month)
    press(desk, "a.primary[href^='/seals/new/']")
    driving.wait_for_text(desk, "Nothing is open in these days.")
    press(desk, "#id_sure")
    press(desk, ".actions .primary")
    driving.wait_for_text(desk, "sealed")
    assert Seal.objects.get().through == today().replace(day=1) - dt.timedelta(days=1)
    assert Container.objects.get(code="REC-1").content == 0 and verify().faults == []
    desk.get(month)
    driving.wait_for_text(desk, "sealed")
    looks_right(desk, "month-sealed")
