"""Refrigerant sold over the counter: what is said of a sale, what is refused, what is found afterwards."""

import datetime as dt
import json
import uuid

import pytest

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.shipping.actions import ship
from inventory.shipping.sales import SaleSaid
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.signing.actions import sign_job
from jobs.signing.origins import equipment_of
from jobs.units.actions import add_unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from shopledger.reports import usage
from tests.kept import made, saved

pytestmark = pytest.mark.django_db
G = 1000
DAY, NEXT = dt.date(2026, 3, 2), dt.date(2026, 3, 3)
MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
CARS = SaleSaid("use", "vehicle", "", ("certificate",))


def key():
    return str(uuid.uuid4())


@pytest.fixture
def buyer(shop):
    saved(Shop.objects.get(), rulebook="us-federal")
    return made(Party, name="Corner Garage (invented)", role="buyer", address="1 Row")


@pytest.fixture
def stock(buyer):
    """A cylinder of virgin R-134a, an empty service machine, and a can of less than 2 lb."""
    lines = [
        Arrival("refillable", "R-134a", False, "virgin", 9_000 * G, 1, "Store", "A", tare_mg=8_000 * G),
        Arrival("machine", "R-134a", False, "recycled", 0, 1, "Bay", "M", tare_mg=9_000 * G),
        Arrival("can", "R-134a", False, "virgin", 340 * G, 1, "Store", "K", tare_mg=100 * G),
    ]
    receive(lines=lines, supplier=supplier_called("Acme"), document="D-1", day=DAY, by="o", key=key())
    return buyer


def sell(party, codes=("A",), quantity=100 * G, **more):
    more = {"document": "S-1", "sale": CARS, **more}
    head = {"day": NEXT, "by": "o", "key": key()}
    return ship(parcels=dict.fromkeys(codes, quantity), purpose="sell", party=party, **head, **more)


def sales():
    return [(one.severity, one.what) for one in findings(MARCH) if one.rule == "sale"]


def test_what_is_sold_has_its_column(stock):
    number = sell(stock)
    table = usage.rows(MARCH)
    names = [column.name for column in table.columns]
    (row,) = (dict(zip(names, row, strict=True)) for row in table.rows)
    assert row["sold"] == 100 * G and row["closing"] == 9_240 * G
    assert names.index("sold") == names.index("charged") + 1
    detail = json.loads(Voucher.objects.get(number=number).detail)
    assert detail["sale"] == {"end": "use", "equipment": "vehicle", "seen": ["certificate"]}
    assert sales() == []


# 40 CFR 82.154(c)(3)(i): invoice, and the proof of certification or employment
@pytest.mark.parametrize(
    ("more", "missing"),
    [
        ({"document": ""}, "an invoice"),
        ({"sale": SaleSaid("use", "vehicle")}, "the buyer's certificate"),
        ({"sale": None, "document": ""}, "an invoice"),
    ],
)
def test_what_the_seller_has_not_seen_is_found(stock, more, missing):
    sell(stock, **more)
    ((severity, what),) = sales()
    assert severity == "medium" and missing in what


def test_a_certificate_on_file_of_the_buyer_was_seen(stock):
    sell(stock, sale=SaleSaid("use", "vehicle"))
    assert sales()
    saved(stock, registration="608-II no. 5 (invented)")
    assert sales() == []


def test_a_small_can_asks_for_no_record(stock):
    sell(stock, codes=("K",), quantity=None, document="", sale=None, containers_go=True)  # 82.154(c)(3)
    assert sales() == []
    assert Container.objects.get(code="K").retired_on == NEXT


def recovered(technician, owner, kind):
    add_certificate(by=owner, person=technician, scheme="609", number="1", issued=dt.date(2020, 1, 1))
    add_certificate(by=owner, person=technician, scheme="608 Universal", number="2", issued=dt.date(2020, 1, 1))
    unit = add_unit(by=technician, customer="Ada", name="Unit", kind=kind, refrigerant="R-134a")
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=DAY)
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="recover", container="M", quantity=400 * G)
    sign_job(job.pk, by=technician)


# 40 CFR 82.154(d)(2): used only in motor vehicle A/C, for use in such alone, and recycled
@pytest.mark.parametrize(
    ("came_out_of", "sale", "refused"),
    [
        ("vehicle", CARS, False),
        ("vehicle", SaleSaid("use", "stationary/refrigeration", "walk-in", ("certificate",)), True),
        ("vehicle", SaleSaid("resale", seen=("certificate",)), True),
        ("stationary", CARS, True),
    ],
)
def test_recycled_refrigerant_of_cars_is_sold_for_cars(stock, technician, owner, came_out_of, sale, refused):
    recovered(technician, owner, came_out_of)
    assert equipment_of(["M"]) == {"M": frozenset({came_out_of})}
    if refused:
        with pytest.raises(Refused, match=r"M: Recycled R-134a may not be sold so. .*82\.154\(d\)"):
            sell(stock, codes=("M",), sale=sale)
        assert not Voucher.objects.filter(kind="shipment").exists()
    else:
        sell(stock, codes=("M",), sale=sale)
        assert sales() == []


def test_what_was_not_said_is_asked_for(stock, technician, owner):
    recovered(technician, owner, "vehicle")
    sell(stock, codes=("M",), sale=SaleSaid(seen=("certificate",)))
    ((severity, what),) = sales()
    assert severity == "low" and "cannot be judged: say what it is sold for" in what


def test_a_sale_goes_to_a_buyer(stock):
    with pytest.raises(Refused, match="Acme is a supplier, and a sale goes to a buyer"):
        sell(supplier_called("Acme"))


def test_no_ozone_depleting_substance_is_sold_in_the_union(stock):
    # Regulation (EU) 2024/590 article 4(1)
    saved(Shop.objects.get(), rulebook="eu")
    line = Arrival("refillable", "R-22", False, "reclaimed", 5_000 * G, 1, "Store", "Z", tare_mg=8_000 * G)
    receive(lines=[line], supplier=supplier_called("Acme"), document="D-2", day=DAY, by="o", key=key())
    with pytest.raises(Refused, match=r"Reclaimed R-22 may not be sold so. .*2024/590"):
        sell(stock, codes=("Z",))
    made(Party, name="Burner (invented)", role="destroyer", address="2 Row", registration="X")
    head = {"day": NEXT, "by": "o", "key": key(), "document": "S-3"}
    ship(parcels={"Z": None}, purpose="destroy", party=Party.objects.get(role="destroyer"), **head)


def test_the_form_says_what_it_is_sold_for(stock, office_client):
    page = {
        "key": key(),
        "purpose": "sell",
        "party": stock.pk,
        "document": "S-9",
        "day": "2026-03-03",
        "codes": ["A"],
        "quantity-A": "200",
        "sale_end": "use",
        "sale_equipment": "vehicle",
        "sale_seen": ["certificate"],
    }
    answer = office_client.post("/leaving/new/", page)
    assert answer.status_code == 302
    voucher = Voucher.objects.filter(kind="shipment").latest("number")
    assert json.loads(voucher.detail)["sale"] == {"end": "use", "equipment": "vehicle", "seen": ["certificate"]}
    again = office_client.get(f"/ledger/{voucher.number}/correct/").content.decode()
    assert '<option value="vehicle" selected>' in again and 'value="certificate" id="id_sale_seen_0" checked' in again
    shown = office_client.get(f"/ledger/{voucher.number}/").content.decode()
    assert "for use in equipment; A/C of a car or light vehicle; seen: the buyer&#x27;s certificate" in shown
    refused = office_client.post("/leaving/new/", {**page, "key": key(), "purpose": "return"})
    assert refused.status_code == 422 and "stands only with the purpose sell" in refused.content.decode()
