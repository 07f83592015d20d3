"""What is stamped on a cylinder: entered with its delivery, on its page, corrected, kept in the record; and what it
keeps out of it."""

import uuid

import pytest
from django.urls import reverse

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from tests.inventory.test_office_pages import CYLINDER, delivery, ready  # noqa: F401 (a fixture)
from tests.kept import posted

pytestmark = pytest.mark.django_db

STAMPED = {**CYLINDER, "test_pressure": "700 psi", "stamped_most": "9 kg"}
FULL = {"kind": "refillable", "substance": "R-134a", "net": "20 kg", "count": "1", "location": "Store"}


def decant(client, grams: str, source: str = "CYL-0001"):
    form = {"key": str(uuid.uuid4()), "day": "2026-03-03", "into": "REC-0001", "quantity": grams, "quantity-unit": "g"}
    return client.post(f"/stock/containers/{source}/decant/", form)


def test_stamps_come_with_the_delivery_and_are_corrected_there(ready):  # noqa: F811
    assert ready.post("/receiving/new/", delivery(STAMPED)).status_code == 302
    one = Container.objects.get()
    assert (one.test_pressure_kpa, one.stamped_most_mg) == (4826, 9_000_000)
    page = ready.get(reverse("container", args=["REC-0001"])).content.decode()
    assert "48.26 bar" in page and "Most that is stamped on it" in page and "the most that is stamped on it" in page
    number = posted().get().number
    again = ready.get(reverse("voucher-correct", args=[number])).content.decode()
    assert 'value="48.26 bar"' in again and 'value="9 kg"' in again or 'value="9000 g"' in again
    assert "4826" in Voucher.objects.get(number=number).detail


@pytest.mark.parametrize(("typed", "said"), [("48", "no pressure"), ("4 kPa", "from 1 to 1000 bar")])
def test_what_is_no_test_pressure_is_said_at_its_field(ready, typed, said):  # noqa: F811
    answer = ready.post("/receiving/new/", delivery({**CYLINDER, "test_pressure": typed}))
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not Container.objects.exists()


def test_no_more_goes_in_than_is_stamped_on_it(ready):  # noqa: F811
    ready.post("/receiving/new/", delivery(FULL, STAMPED))
    answer = decant(ready, "9001")
    assert answer.status_code == 422 and "the most that is stamped on it" in answer.content.decode()
    assert decant(ready, "9000").status_code == 302


def test_a_cylinder_too_weak_for_the_gas_takes_none_of_it(ready):  # noqa: F811
    """ADR/RID P200 (5)(c): R-410A asks for 41.82 bar; a cylinder for R-22 (27 bar) does not do."""
    weak = {**CYLINDER, "substance": "", "test_pressure": "27 bar"}
    ready.post("/receiving/new/", delivery({**FULL, "substance": "R-410A"}, weak))
    answer = decant(ready, "500")
    said = answer.content.decode()
    assert answer.status_code == 422 and "27 bar" in said and "41.82 bar" in said and "Use a stronger container" in said
    assert posted().count() == 1
