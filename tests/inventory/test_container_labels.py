"""What the label of a container says of how its content was worked on."""

import datetime as dt
import re
import uuid

import pytest

from inventory.containers.actions import relabel, take_back
from inventory.containers.models import Container, Scale
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.machines.actions import recycle
from inventory.machines.models import Machine
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.reference.gas_rules import is_labelled
from inventory.text.refusal import Refused
from tests.forms import sent
from tests.kept import made

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)
LABEL = {"label_says": "reclaimed", "batch": "B-77", "facility": "Quillon Reclaim, 1 Lane, Lille"}


def line(code, grade, **more):
    return Arrival("refillable", "R-404A", False, grade, 5_000 * G, 1, "Store", code, tare_mg=8_000 * G, **more)


def delivery(*lines, **more):
    head = {"document": "D-1", "day": DAY, "by": "oscar", "key": str(uuid.uuid4()), **more}
    return receive(lines=lines, supplier=supplier_called("Acme"), **head)


def said(code):
    return Container.objects.filter(code=code).values_list("label_says", "batch", "facility", "label_statement").get()


@pytest.mark.parametrize(
    ("grade", "label", "labelled"),
    [  # Regulation (EU) 2024/573 article 12(7): reclaimed or recycled is said; reclaimed with batch and facility
        ("virgin", ("", "", ""), True),
        ("recycled", ("recycled", "", ""), True),
        ("recycled", ("", "", ""), False),
        ("recycled", ("reclaimed", "B", "F"), False),
        ("reclaimed", ("reclaimed", "B", "F"), True),
        ("reclaimed", ("reclaimed", "", "F"), False),
        ("reclaimed", ("reclaimed", "B", ""), False),
        ("reclaimed", ("", "B", "F"), False),
    ],
)
def test_a_label_says_what_one_must_say_of_a_grade(grade, label, labelled):
    assert is_labelled(grade, *label) is labelled


def test_a_delivery_keeps_what_its_labels_say(shop):
    made(Scale, code="bench", readability_mg=G, usual=True)
    number = delivery(line("R", "reclaimed", **LABEL, label_statement=True), line("V", "virgin"))
    assert said("R") == (*LABEL.values(), True) and Container.objects.get(code="R").labelled
    assert said("V") == ("", "", "", False)
    assert '"batch":"B-77"' in Voucher.objects.get(number=number).detail
    assert verify().faults == []


def test_virgin_gas_is_not_labelled_as_used(shop):
    with pytest.raises(Refused, match="choose the one that it is"):
        delivery(line("V", "virgin", **LABEL))
    delivery(line("V", "virgin"))
    with pytest.raises(Refused, match="choose the one that it is"):
        relabel(code="V", label=LABEL)
    assert said("V") == ("", "", "", False)


def test_the_form_of_a_delivery_asks_for_it_and_its_correction_shows_it(shop, office_client):
    form = sent(office_client.get("/receiving/new/").content.decode())
    form |= {"supplier": "Acme", "document": "D-7", "day": "2026-03-02"}
    row = {"kind": "refillable", "substance": "R-404A", "grade": "reclaimed", "net": "5 kg", "count": 1, "code": "R"}
    form |= {f"line-0-{name}": value for name, value in (row | {"tare": "8 kg"} | LABEL).items()}
    answer = office_client.post("/receiving/new/", form)
    assert answer.status_code == 302, answer.content.decode()[:3000]
    assert said("R") == (*LABEL.values(), False)
    page = office_client.get("/stock/containers/R/").content.decode()
    assert "B-77" in page and "Quillon Reclaim" in page
    number = Voucher.objects.filter(kind="receipt").latest("number").number
    again = office_client.get(f"/ledger/{number}/correct/").content.decode()
    assert 'value="B-77"' in again and re.search(r"<details[^>]* open", again)


def test_a_label_is_recorded_later_on_a_page_of_its_own(shop, office_client, technician_client):
    delivery(line("R", "reclaimed"))
    assert not Container.objects.get(code="R").labelled
    assert "not recorded" in office_client.get("/stock/containers/R/").content.decode()
    form = {"key": str(uuid.uuid4()), **LABEL, "label_statement": "on"}
    assert technician_client.post("/stock/containers/R/relabel/", form).status_code == 403
    assert office_client.post("/stock/containers/R/relabel/", form).status_code == 302
    assert said("R") == (*LABEL.values(), True)
    wrong = {"key": str(uuid.uuid4()), "label_says": "as new"}
    assert office_client.post("/stock/containers/R/relabel/", wrong).status_code == 422
    assert verify().faults == []


def test_what_was_recycled_here_can_be_labelled_at_once(shop):
    made(Scale, code="bench", readability_mg=G, usual=True)
    machine = made(Machine, make="Quillon", model="R1", serial="7", standards="SAE J2788")
    delivery(line("A", "recovered"), line("B", "recovered"))
    head = {"machine": machine, "standard": "SAE J2788", "day": DAY, "by": "oscar"}
    recycle(code="A", labelled=True, key=str(uuid.uuid4()), **head)
    recycle(code="B", key=str(uuid.uuid4()), **head)
    assert (said("A")[0], Container.objects.get(code="A").labelled) == ("recycled", True)
    assert (said("B")[0], Container.objects.get(code="B").labelled) == ("", False)
    assert verify().faults == []
    take_back(Voucher.objects.latest("number").number, by="oscar", note="wrong one")
    assert Container.objects.get(code="B").grade == "recovered" and verify().faults == []
