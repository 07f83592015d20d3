"""Whole jobs as a thumb does them, counted: taps, characters, loads, height of the page."""

import datetime as dt

import pytest
from django.db.models import F

from inventory.ledger.verify import verify
from jobs.drafts.models import Job
from jobs.units.actions import add_unit
from tests.browser import driving
from tests.browser.test_three_people import garage  # noqa: F401 (fixture)
from tests.browser.thumb import Thumb
from tests.inventory.test_office_pages import CANS, CYLINDER, delivery

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def bus(garage, technician, office_client):  # noqa: F811
    """A unit that three cans of 340 g fill."""
    office_client.post("/receiving/new/", delivery({**CANS, "count": "1"}, document="INV-2"))
    return add_unit(
        by=technician,
        plate="TST-3",
        make="Quillon",
        model="Trellis",
        refrigerant="R-134a",
        charge_min_mg=900_000,
        charge_max_mg=940_000,
        oil="PAG 46",
    )


def begun(phone, live_server, technician, unit) -> Thumb:
    driving.sign_in(phone, live_server, technician)
    phone.get(f"{live_server.url}/jobs/new/?text={unit.plate}")
    driving.act_on(phone, f'form[action="/jobs/new/{unit.pk}/"] button', lambda button: button.click())
    driving.wait_for(phone, "#bay")
    thumb = Thumb(phone)
    thumb.starts()
    return thumb


def minutes_pass(phone, clock, minutes):
    """The server has the tap by then; and the clock was started so many minutes ago."""
    driving.wait_for(phone, "body:not([data-sending])")
    driving.wait_until(phone, lambda: Job.objects.filter(**{f"{clock}__isnull": False}).exists())
    Job.objects.update(**{clock: F(clock) - dt.timedelta(minutes=minutes)})


def looks_through(phone):
    """Whoever signs reads what will be posted; the last entry has arrived by then."""
    driving.wait_for(phone, "body:not([data-sending])")


def signed(thumb, phone):
    looks_through(phone)
    driving.shot(phone, "thumb-sign")
    thumb.tap("#sign button.primary")
    driving.wait_for_text(phone, "is signed as voucher ")
    thumb.loads += 1  # the page of the signed job
    thumb.ends()
    assert verify().faults == []


@pytest.fixture
def split(garage, technician, office_client):  # noqa: F811
    """A unit of a hydrocarbon, its gas, and a cylinder to recover it into."""
    gas = {"kind": "refillable", "substance": "R-290", "net": "5 kg", "count": "1", "tare": "6 kg", "location": "Store"}
    into = {**CYLINDER, "substance": "R-290", "tare": "7 kg", "water_capacity": "27 L"}
    office_client.post("/receiving/new/", delivery(gas, into, document="INV-3"))
    return add_unit(
        by=technician,
        plate="TST-4",
        kind="stationary",
        name="Split unit, reception",
        refrigerant="R-290",
        charge_min_mg=300_000,
        charge_max_mg=320_000,
        oil="PAG 46",
    )


def test_a_car_from_empty_with_three_cans(phone, live_server, bus, technician, capsys):
    thumb = begun(phone, live_server, technician, bus)
    thumb.tap("#identify button[value=identifier]")
    thumb.types("5000")
    thumb.types("5210")
    thumb.tap("#repair .pass button")
    thumb.tap("#test .pass button")
    thumb.tap("#evacuate [data-face=pump] button")
    minutes_pass(phone, "evacuation_started", 35)
    thumb.types("500")
    minutes_pass(phone, "hold_started", 12)
    thumb.types("620")
    thumb.types("30")
    for before, after in ((440, 100), (440, 100), (440, 200)):
        thumb.types(str(before))
        thumb.types(str(after))
    thumb.tap("#check .pass button")
    signed(thumb, phone)
    printed(capsys, "car from empty, three cans", thumb, 40, 60)


def printed(capsys, what, thumb, taps, characters):
    with capsys.disabled():
        print(f"\n  {what}: {thumb.counted}")
    assert thumb.taps <= taps and thumb.characters <= characters and thumb.loads <= 1, (thumb.counted, thumb.waited)


def test_a_top_up(phone, live_server, garage, technician, capsys):  # noqa: F811
    thumb = begun(phone, live_server, technician, garage)
    thumb.tap("#identify button[value=label]")
    thumb.tap("#recover .pass button + button")
    for step in ("repair", "test", "evacuate", "oil"):
        thumb.tap(f"#{step} .pass button")
    thumb.types("440")
    thumb.types("300")
    thumb.tap("#check > summary")
    thumb.tap("#check .pass button")
    looks_through(phone)
    thumb.tap("#sign .fill")
    signed(thumb, phone)
    printed(capsys, "top-up", thumb, 13, 6)


def test_a_recovery_only(phone, live_server, garage, technician, capsys):  # noqa: F811
    thumb = begun(phone, live_server, technician, garage)
    thumb.tap("#identify button[value=identifier]")
    thumb.types("5000")
    thumb.types("5480")
    for step in ("repair", "test", "evacuate", "oil"):
        thumb.tap(f"#{step} .pass button")
    thumb.tap("#charge a[href='#sign']")
    signed(thumb, phone)
    printed(capsys, "recovery only", thumb, 10, 8)


def test_a_split_unit_with_a_hydrocarbon(phone, live_server, split, technician, capsys):
    thumb = begun(phone, live_server, technician, split)
    thumb.tap("#identify button[value=label]")
    thumb.sees("#recover", "No flame, spark or hot surface near: R-290 burns (A3).")
    thumb.types("7000")
    thumb.types("7290")
    thumb.tap("#repair .pass button")
    thumb.tap("#test .pass button")
    thumb.sees("#evacuate", "R-290 burns (A3)")
    thumb.tap("#evacuate [data-face=pump] button")
    minutes_pass(phone, "evacuation_started", 35)
    thumb.types("400")
    minutes_pass(phone, "hold_started", 12)
    thumb.types("450")
    thumb.tap("#oil .pass button")
    thumb.sees("#charge", "R-290 burns (A3)")
    thumb.types("11000")
    thumb.types("10690")
    thumb.tap("#check .pass button")
    signed(thumb, phone)
    printed(capsys, "split unit with a hydrocarbon", thumb, 15, 26)
