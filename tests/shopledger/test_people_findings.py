"""What is found about people, the company and what is bought: at each boundary, and what nobody has said."""

import datetime as dt
import uuid

import pytest

from inventory.containers.models import Scale
from inventory.ledger.actions import writing
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.people.models import Certificate
from jobs.signing.actions import NotSignable, sign_job
from jobs.units.actions import add_unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.kept import made, saved

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)
MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))


@pytest.fixture
def stock(shop, technician):
    """A cylinder and a service machine with R-134a; the technician has no certificate."""
    with writing():
        technician.certificates.all().delete()
    made(Scale, code="bench", readability_mg=G, usual=True, checked_until=dt.date(2027, 1, 1))
    lines = [
        Arrival("refillable", "R-134a", False, "virgin", 9_000 * G, 1, "Store", "A", tare_mg=8_000 * G),
        Arrival("machine", "R-134a", False, "recycled", 900 * G, 1, "Bay", "M", tare_mg=9_000 * G),
    ]
    receive(lines=lines, supplier=supplier_called("Acme"), document="D-1", day=DAY, by="o", key=str(uuid.uuid4()))


def holds(technician, owner, *schemes, issued=dt.date(2025, 12, 1)):
    for number, scheme in enumerate(schemes):
        add_certificate(by=owner, person=technician, scheme=scheme, number=str(number), issued=issued)


def charged(technician, container="A", reasons=(), substance="R-134a", said=None, **unit):
    unit = {"customer": "Ada", "name": "Unit", "kind": "vehicle", "charge_max_mg": 500 * G, **unit}
    made_unit = add_unit(by=technician, refrigerant=substance, **unit)
    job = start_job(unit=made_unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=DAY, **(said or {}))
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="charge", container=container, quantity=400 * G)
    reasons = {**dict.fromkeys(("under", f"not-weighed-{container}"), "test"), **dict.fromkeys(reasons, "test")}
    return sign_job(job.pk, by=technician, reasons=reasons)


def found(rule="certificate"):
    return [(one.severity, one.what) for one in findings(MARCH) if one.rule == rule]


# Implementing Regulation (EU) 2025/1893 article 2(2)(b): M2 is limited to an automated station
def test_m2_by_hand_asks_for_a_reason_and_is_found(stock, technician, owner):
    saved(Shop.objects.get(), rulebook="eu")
    holds(technician, owner, "M2")
    charged(technician, "M")
    assert found() == []
    with pytest.raises(NotSignable, match="only as it is limited to") as refused:
        charged(technician, "A")
    assert not any(one.refuses for one in refused.value.objections)
    charged(technician, "A", reasons=["certificate-charge"])
    ((severity, what),) = found()
    assert severity == "medium" and "only as it is limited to" in what


def test_what_is_to_be_confirmed_is_found_once(stock, technician, owner):
    # Implementing Regulation (EU) 2025/1893 article 2(1): for each Member State to say
    saved(Shop.objects.get(), rulebook="eu")
    holds(technician, owner, "A1")
    job = charged(technician)
    charged(technician, "M")
    ((severity, what),) = found()
    assert severity == "low" and "confirm it with the authority" in what and job.number in what
    assert any("article 2(1)" in ground["cited"] for one in job.verdicts for ground in one["grounds"])


def test_an_unpaid_car_needs_no_609(stock, technician):
    # 40 CFR 82.34(a): for consideration
    saved(Shop.objects.get(), rulebook="us-federal")
    with pytest.raises(NotSignable, match="no certificate on file") as refused:
        charged(technician)
    assert any(one.refuses and "82.34(a)" in one.citation for one in refused.value.objections)
    charged(technician, said={"unpaid": True})
    assert found() == []


def test_what_nobody_said_of_a_tractor_is_asked_for(stock, technician, owner):
    # 40 CFR 82.152, "MVAC-like appliance"
    saved(Shop.objects.get(), rulebook="us-federal")
    holds(technician, owner, "609")
    tractor = {"kind": "vehicle", "exactly": "off-road"}
    with pytest.raises(NotSignable, match="say whether its compressor is driven from outside"):
        charged(technician, **tractor)
    job = charged(technician, reasons=["unsaid-certificate-charge"], **tractor)
    ((severity, what),) = found()
    assert severity == "low" and "cannot be judged" in what
    saved(job.unit, open_drive="yes")
    assert found() == []
    saved(job.unit, open_drive="no")
    assert found()[0][0] == "high"


# Regulation (EU) 2024/573 article 10(2); a car-only shop needs none
@pytest.mark.parametrize(
    ("unit", "number", "until", "asked"),
    [
        ({"kind": "vehicle"}, "", None, False),
        ({"kind": "transport"}, "", None, True),
        ({"kind": "transport"}, "C-1", None, False),
        ({"kind": "transport"}, "C-1", DAY, False),
        ({"kind": "transport"}, "C-1", DAY - dt.timedelta(1), True),
    ],
)
def test_the_company_s_own_certificate(stock, technician, owner, unit, number, until, asked):
    saved(Shop.objects.get(), rulebook="eu", company_certificate=number, company_certificate_until=until)
    holds(technician, owner, "A1")
    charged(technician, **unit)
    assert bool(found("company certificate")) is asked
    if asked:
        assert found("company certificate")[0][0] == "medium"


@pytest.mark.parametrize(
    ("rulebook", "scheme", "substance", "severity"),
    [
        # Regulation (EU) 2024/573 article 11(6)
        ("eu", "M2", "R-1234yf", None),
        ("eu", "E", "R-1234yf", "medium"),
        ("eu", "", "R-290", None),
        # 40 CFR 82.154(c)(1), (a)(1)
        ("us-federal", "609", "R-404A", "medium"),
        ("us-federal", "608-I", "R-404A", None),
        ("us-federal", "", "R-744", None),
        ("us-federal", "", "R-290", "low"),
    ],
)
def test_what_was_bought_without_a_certificate(shop, technician, owner, rulebook, scheme, substance, severity):
    with writing():
        Certificate.objects.all().delete()
    saved(Shop.objects.get(), rulebook=rulebook)
    if scheme:
        holds(technician, owner, scheme)
    line = Arrival("refillable", substance, False, "virgin", 9_000 * G, 1, "Store", "B", tare_mg=8_000 * G)
    receive(lines=[line], supplier=supplier_called("Acme"), document="D-1", day=DAY, by="o", key=str(uuid.uuid4()))
    assert [one[0] for one in found("purchase")] == ([severity] if severity else [])


def test_the_page_of_a_person_says_by_when_a_paper_is_refreshed(shop, technician, owner, owner_client):
    saved(Shop.objects.get(), rulebook="eu")
    holds(technician, owner, "M1", "A1", issued=dt.date(2025, 12, 1))
    page = owner_client.get(f"/people/{technician.pk}/").content.decode()
    assert "Attestation M1, issued on 1 Dec 2025, is refreshed by 1 Dec 2032" in page
    assert "10(9)" in page
