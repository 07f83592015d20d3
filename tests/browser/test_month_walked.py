"""A month walked to its end: all seven steps are open, each is finished where it stands, then the owner seals the days
and hands the receipt out. Keys and clicks are counted."""

import datetime as dt
import uuid

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from inventory.attachments.models import Attachment
from inventory.containers.actions import count
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.counting.actions import enter, start_count
from inventory.ledger.models import Seal, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.scales.actions import CheckMade, check_scale
from inventory.shop.clock import today
from jobs.drafts.actions import change_job, start_job
from jobs.drafts.models import Job
from jobs.units.actions import add_unit
from shopledger.monthend.models import LeftOpen
from shopledger.sealing.queries import not_handed_out
from tests.browser import driving
from tests.browser.counted import Counted
from tests.browser.test_three_people import looks_right
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (a fixture)
from tests.kept import made

pytestmark = pytest.mark.django_db(transaction=True)
G = 1000
GOAL = 40


@pytest.fixture
def untidy(shop, technician):
    """The first day of the month that ended, with everything open in it that can be: a draft, a count, five containers
    that nobody weighed, a difference that nobody explained, 1.2 kg recovered without a destination, a scale whose check
    is due, and a delivery without its invoice."""
    first = (today().replace(day=1) - dt.timedelta(days=1)).replace(day=1)
    scale = made(Scale, code="bench", readability_mg=G, usual=True)
    check = CheckMade(first - dt.timedelta(360), 5_000 * G, 5_000 * G, next_due=first + dt.timedelta(5))
    check_scale(scale=scale, check=check, by="oscar", key=uuid.uuid4())
    made(Party, name="Renew", role="reclaimer", address="2 Test Street", registration="R-1")
    kept = {"substance": "R-134a", "is_oil": False, "location": "Store", "count": 1, "tare_mg": 6_000 * G}
    full = {"kind": "refillable", "grade": "virgin", "net": 3_000 * G}
    open_stock(
        lines=[
            Arrival(**kept, kind="recovery", grade="recovered", net=1_200 * G, code="REC-1"),
            *(Arrival(**kept, **full, code=code) for code in ("CYL-1", "CYL-2", "LENT-1", "LENT-2", "ODD-1", "SEEN-1")),
        ],
        day=first,
        by="oscar",
        key=str(uuid.uuid4()),
    )
    receive(
        lines=[Arrival(**kept | {"count": 2}, kind="can", grade="virgin", net=340 * G, code="CAN-1")],
        supplier=supplier_called("Acme"),
        document="D-1",
        day=first,
        by="oscar",
        key=str(uuid.uuid4()),
    )
    weighed = {"ODD-1": 8_800 * G, "SEEN-1": 9_000 * G}
    count(readings=weighed, day=first + dt.timedelta(3), by="oscar", key=str(uuid.uuid4()))
    store = Location.objects.get(name="Store")
    counting = start_count(location=store, day=today(), scale=None, by="oscar", key=uuid.uuid4())
    enter(count_id=counting.pk, code="SEEN-1", gross=9_000 * G, by="oscar")
    unit = add_unit(by=technician, plate="TST-1", refrigerant="R-134a")
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=first + dt.timedelta(2))
    return first


def badges(driver) -> list[str]:
    return [one.text for one in driver.find_elements(By.CSS_SELECTOR, ".walk > h2 .badge")]


def test_a_month_is_closed_where_it_stands(desk, live_server, untidy, owner, uploads, tmp_path):  # noqa: F811
    (tmp_path / "invoice.png").write_bytes(picture("PNG"))
    driving.sign_in(desk, live_server, owner)
    desk.get(f"{live_server.url}/month/?month={untidy:%Y-%m}")
    driving.wait_for_text(desk, "The mass balance")
    assert badges(desk) == ["1 open", "1 open", "5 open", "1 open", "1 open", "1 open", "1 open"]
    looks_right(desk, "month-open")
    hand = Counted(desk)

    hand.click("[aria-labelledby=step-draft] summary")  # it says what giving it up comes to
    hand.click("button.danger")
    hand.until_focused("Post the count")
    hand.type(Keys.ENTER)
    hand.until_focused("gross")
    hand.type("9001", Keys.ENTER)
    driving.wait_for_text(desk, "The reading of CYL-1 is posted.")
    hand.until_focused("gross")
    hand.type("9000", Keys.ENTER)
    driving.wait_for_text(desk, "The reading of CYL-2 is posted.")
    hand.click("[aria-labelledby=step-weigh] .walk-together summary")
    hand.click("[aria-labelledby=step-weigh] .walk-together input[name=why]")
    hand.type("away", Keys.ENTER)
    hand.until_focused("note")  # the reason is offered
    driving.wait_for_text(desk, "the tare on it, or the weight that was delivered, may be wrong")
    looks_right(desk, "month-half")
    hand.type(Keys.ENTER)
    hand.until_focused("purpose")
    hand.type(Keys.TAB, Keys.TAB, Keys.ENTER)
    hand.until_focused("as_found_mg")
    hand.type("5 kg", Keys.ENTER)
    hand.until_focused("file")
    hand.choose_file("input[type=file]", str(tmp_path / "invoice.png"))
    hand.click("[aria-labelledby=step-paper] .here button")
    driving.wait_for_text(desk, "Nothing is open, 3 left open with a reason.")
    looks_right(desk, "month-done")
    driving.wait_for_text(desk, "Afterwards nothing can be entered with a day before")
    hand.click("#id_seal_sure")
    hand.click("#balance ~ form button.primary")
    hand.until_focused("to")
    hand.type("Ada", Keys.ENTER)
    driving.wait_for_text(desk, "The receipt is marked as handed out")
    looks_right(desk, "month-sealed")

    print(
        f"\nmonth end, 7 of 7 steps, sealed and handed out: {hand.keys} keys, {hand.clicks} clicks, {hand.total} in all"
    )
    assert hand.total <= GOAL
    assert Job.objects.get().state == "dropped"
    weighed = Weighing.objects.filter(container__code__in=["CYL-1", "CYL-2"])
    assert list(weighed.order_by("id").values_list("gross", flat=True)) == [9_001 * G, 9_000 * G]
    assert list(LeftOpen.objects.values_list("thing", "why")) == [
        ("LENT-1", "away"),
        ("LENT-2", "away"),
        ("REC-1", "away"),
    ]
    assert Weighing.objects.get(container__code="ODD-1").explanations.get().reason == "tare"
    assert Container.objects.get(code="REC-1").content == 0
    assert Scale.objects.get().checked_until > today() + dt.timedelta(300)
    assert Attachment.objects.get().subject == f"voucher:{Voucher.objects.get(kind='receipt').number}"
    assert Seal.objects.get().through == today().replace(day=1) - dt.timedelta(days=1)
    assert not_handed_out() is None and verify().faults == []


def test_what_is_refused_on_the_walk_says_so_and_leads_back(phone, live_server, untidy, office):
    """A reading far from the book is asked about on its own page, which leads back to the walk."""
    driving.sign_in(phone, live_server, office)
    phone.get(f"{live_server.url}/month/?month={untidy:%Y-%m}")
    driving.wait_for_text(phone, "The mass balance")
    looks_right(phone, "month-phone")
    hand = Counted(phone)
    hand.click("[aria-labelledby=step-weigh] input[name=gross]")
    hand.type(Keys.ENTER)
    hand.until_focused("gross")  # nothing was typed: it is asked for where it stands
    assert (
        phone.execute_script("return document.activeElement.validity.valueMissing") and "/month/" in phone.current_url
    )
    hand.type("7000", Keys.ENTER)
    driving.wait_for_text(phone, "more than weighing can explain")
    assert phone.find_element(By.ID, "id_gross").get_property("value") == "7000"
    hand.click("#id_sure")
    hand.click(".actions .primary")
    driving.wait_for_text(phone, "The reading of CYL-1 is posted.")
    assert "/month/" in phone.current_url
    driving.wait_for_text(phone, "The owner seals the month.")
