"""The shipping paper: of a shipment, and of containers as they stand; and how containers travel on other pages."""

import io

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.containers.actions import take_back
from inventory.containers.models import Container
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock
from inventory.shipping.actions import ship
from inventory.shipping.parcels import parcels_of, parcels_standing
from inventory.shop.clock import today
from tests.kept import made

pytestmark = pytest.mark.django_db

KG = 1_000_000


def held(code: str, kind: str, substance: str, net: int, grade: str = "virgin", is_oil: bool = False) -> Arrival:
    return Arrival(kind, substance, is_oil, "" if is_oil else grade, net, 1, "store", code=code, tare_mg=8 * KG)


@pytest.fixture
def stock(shop):
    lines = [
        held("REC-1", "recovery", "R-134a", 10 * KG, "recovered"),
        held("REC-2", "recovery", "R-134a", 5 * KG, "mixed"),
        held("CYL-1", "refillable", "R-290", 2 * KG),
        held("CYL-2", "refillable", "R-123", 3 * KG),
        held("CYL-3", "refillable", "R-22", 1 * KG),
        held("OIL-1", "oil", "PAG 46", 250_000, is_oil=True),
    ]
    open_stock(lines=lines, day=today(), by="office", key="k-open")
    return made(Party, name="Renew & Co", role="reclaimer", address="1 Mill Lane")


def sent(party: Party, purpose: str, *codes: str, **more: object) -> int:
    return ship(
        parcels=dict.fromkeys(codes), purpose=purpose, party=party, document="S-7", day=today(), by="office", **more
    )


def words(answer) -> str:
    assert answer["Content-Type"] == "application/pdf", answer.content[:400]
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages).split())


def test_a_paper_names_everything_that_travels(stock, office_client):
    number = sent(stock, "reclaim", "REC-1", "REC-2", "CYL-1", "CYL-2", "OIL-1")
    said = words(office_client.get(reverse("shipment-paper", args=[number])))
    assert "Renew & Co" in said and "1 Mill Lane" in said and f"S-7 / voucher {number}" in said
    # ADR/RID 2025 chapter 3.2 table A; mixed gas goes by the flammable entry
    assert "UN 3159 1,1,1,2-TETRAFLUOROETHANE (REFRIGERANT GAS R 134a), 2.2, (C/E)" in said
    assert "UN 3161 LIQUEFIED GAS, FLAMMABLE, N.O.S., 2.1, (B/D)" in said
    assert "UN 1978 PROPANE, 2.1, (B/D)" in said
    assert "no dangerous good of class 2: a liquid" in said and "oil: no entry of class 2" in said
    assert "2A 10 18" in said, "net and gross in kg"
    assert "Points of ADR 1.1.3.6: 31, at most 1,000" in said, "10 × 1 + 5 × 3 + 2 × 3"
    assert "Flammable gas" in said and "Gas under pressure" in said and "Poisonous" not in said
    assert "to be confirmed" in said and "read in the source, 2026-11-28" in said and "Check local rules" in said
    assert "WASTE" not in said and "List of Waste" not in said


def test_what_goes_to_disposal_is_waste(stock, office_client):
    """ADR 5.4.1.1.3.1; List of Waste, Decision 2000/532/EC: 14 06 01*."""
    destroyer = made(Party, name="Ash", role="destroyer")
    number = sent(destroyer, "destroy", "CYL-3")
    said = words(office_client.get(reverse("shipment-paper", args=[number])))
    assert "UN 1018 WASTE CHLORODIFLUOROMETHANE" in said and "14 06 01*" in said


def test_a_paper_of_what_was_sent_then_says_what_it_was_then(stock, office_client):
    number = sent(stock, "reclaim", "REC-1")
    with writing():
        Container.objects.filter(code="REC-1").update(grade="mixed")
    (one,) = parcels_of(Voucher.objects.get(number=number))
    assert (one.quantity, one.grade, one.entry.number) == (10 * KG, "recovered", "3159")


def test_a_shipment_that_was_taken_back_has_no_paper(stock, office_client):
    number = sent(stock, "reclaim", "REC-1")
    take_back(number, by="office", note="Not sent.")
    answer = office_client.get(reverse("shipment-paper", args=[number]))
    assert answer.status_code == 409 and "was taken back" in answer.content.decode()
    assert "Shipping paper" not in office_client.get(reverse("voucher", args=[number])).content.decode()


def test_empty_uncleaned_cylinders_travel_too(stock, office_client):
    sent(stock, "reclaim", "REC-1")
    (one,) = parcels_standing(["REC-1"])
    assert one.is_empty and one.travels_as.startswith("EMPTY, UNCLEANED, UN 3159")
    page = office_client.get(reverse("chosen-paper"), {"codes": ["REC-1", "CYL-1"]})
    assert "EMPTY, UNCLEANED, UN 3159" in page.content.decode() and "UN 1978" in page.content.decode()
    before = Voucher.objects.count()
    said = words(office_client.get(reverse("chosen-paper"), {"codes": ["REC-1", "CYL-1"], "party": stock.pk}))
    assert "EMPTY, UNCLEANED, UN 3159" in said and "Renew & Co" in said and "Points of ADR 1.1.3.6: 6" in said
    assert Voucher.objects.count() == before, "it posts nothing"
    assert office_client.get(reverse("chosen-paper"), {"codes": ["REC-1"], "party": "0"}).status_code == 422
    assert office_client.get(reverse("chosen-paper")).status_code == 409


def test_pages_say_how_containers_travel(stock, office_client):
    page = office_client.get(reverse("container", args=["CYL-1"])).content.decode()
    assert "UN 1978 PROPANE, 2.1, (B/D)" in page and "up to 333 kg" in page
    assert "no dangerous good of class 2" in office_client.get(reverse("container", args=["CYL-2"])).content.decode()
    assert "Travels as" not in office_client.get(reverse("container", args=["OIL-1"])).content.decode()
    assert "UN 3161, 2.1" in office_client.get(reverse("shipment-new")).content.decode()
    label = words(office_client.get(reverse("labels"), {"codes": "REC-1", "single": 1}))
    assert "UN 3159 · label 2.2" in label and "1,1,1,2-TETRAFLUOROETHANE" in label
    number = sent(stock, "reclaim", "CYL-1")
    page = office_client.get(reverse("voucher", args=[number])).content.decode()
    assert "How it travels" in page and "UN 1978 PROPANE" in page and reverse("shipment-paper", args=[number]) in page
