"""What is typed at the desk and can hardly be is asked about at its field, and posted after one yes, which is kept."""

import html
import json
import re
import uuid

import pytest

from inventory.containers.models import Container, Scale
from inventory.ledger.models import Voucher
from inventory.scales.models import ScaleCheck
from inventory.shop.clock import today
from tests.kept import made, posted
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
G, KG = 1_000, 1_000_000


@pytest.fixture
def stock(shop):
    made(Scale, code="S1", readability_mg=1 * G, capacity_mg=60 * KG, usual=True)
    delivery(
        came("BIG", net=10 * KG, tare_mg=6 * KG),
        came("EMPTY", tare_mg=6 * KG),
        came("CAN", "can", 340 * G, tare_mg=100 * G),
        day=today(),
    )


def sent(**said):
    return {"key": str(uuid.uuid4()), "day": str(today()), **said}


FORMS = {
    # page, what is typed, the field, what is right of it, the reading that may be meant
    "weigh": ("/stock/containers/BIG/weigh/", {}, "gross", "1600 g", "16"),
    "weigh in kilograms": ("/stock/containers/CAN/weigh/", {}, "gross", "4.4 kg", "440"),
    "decant": ("/stock/containers/BIG/decant/", {"into": "EMPTY", "after": "15000 g"}, "before", "160 kg", "16"),
    "decant a quantity": ("/stock/containers/BIG/decant/", {"into": "EMPTY"}, "quantity", "13 kg", "13 (?:g|lb)"),
    "release": (
        "/stock/release/",
        {"container": "BIG", "cause": "hose", "how": "weighed", "after": "15000 g"},
        "before",
        "160 kg",
        "16",
    ),
}


@pytest.mark.parametrize("name", FORMS)
def test_it_is_asked_at_its_field(stock, office_client, name) -> None:
    page, typed, field, odd, meant = FORMS[name]
    before = Voucher.objects.count()
    answer = office_client.post(page, sent(**typed, **{field: odd}))
    text = html.unescape(answer.content.decode())
    assert answer.status_code == 422 and Voucher.objects.count() == before
    assert re.search(rf'name="settle"[^>]*value="{field} {meant}', text) or "cannot be" in text
    assert odd.split()[0] in text  # what was typed is kept


def test_a_weight_that_was_asked_about_is_posted_after_one_yes(stock, office_client) -> None:
    """Also where the book has something else: one question, one yes."""
    page, typed = "/stock/containers/BIG/weigh/", sent(gross="5500 g")
    answer = office_client.post(page, typed)
    assert answer.status_code == 422 and "6000 g" in html.unescape(answer.content.decode()).replace("\u202f", "")
    assert office_client.post(page, {**typed, "sure": "gross 5500 g"}).status_code == 302
    voucher = posted().latest("number")
    assert voucher.kind == "count" and list(json.loads(voucher.detail)["sure"].values()) == ["5500 g"]
    assert Container.objects.get(code="BIG").content == 0


def test_a_check_of_a_scale(stock, office_client) -> None:
    page = f"/scales/{Scale.objects.get().pk}/check/"
    typed = sent(reference_mg="5 kg", as_found_mg="500 g")
    answer = office_client.post(page, typed)
    assert answer.status_code == 422 and "The reference mass is 5" in html.unescape(answer.content.decode())
    assert office_client.post(page, {**typed, "sure": "as_found_mg 500 g"}).status_code == 302
    check = ScaleCheck.objects.get()
    assert not check.passed and "500 g, as it was read" in check.note
    assert office_client.post(page, sent(reference_mg="5 kg", as_found_mg="5.002 kg")).status_code == 302


def test_a_customers_cylinder_whose_tare_is_no_tare(stock, office_client, technician) -> None:
    from jobs.units.actions import add_unit

    add_unit(by=None, customer="Ada Example", plate="AD-1", refrigerant="R-134a")
    typed = sent(customer="Ada Example", kind="refillable", substance="R-134a", grade="recovered", location="Store")
    answer = office_client.post("/stock/kept/new/", {**typed, "gross": "15 kg", "tare": "50 g"})
    assert answer.status_code == 422 and "empty" in html.unescape(answer.content.decode())
