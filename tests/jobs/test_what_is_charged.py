"""What may be charged into a unit, at signing and among the findings: by where the gas came from, its label, the unit
and the day. Sources: Regulations (EU) 2024/573 articles 8(6), 13(3) and 2024/590; 40 CFR 82.32, 82.154, 82.156."""

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.containers.actions import decant, regrade, relabel
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.shipping.actions import ship
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.people.actions import add_certificate
from jobs.signing.actions import NotSignable, sign_job
from jobs.signing.origins import origins_of
from jobs.units.actions import add_unit, change_unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.kept import made, saved

pytestmark = pytest.mark.django_db
KG = 1_000_000
LABEL = {"label_says": "reclaimed", "batch": "B-7", "facility": "Example Reclaim, 1 Lane, Lille"}
SIGNED = dict.fromkeys(("no-range", "under", "over", "empty"), "as asked")


def key():
    return str(uuid.uuid4())


@pytest.fixture
def eu(shop, technician):
    saved(Shop.objects.get(), rulebook="eu")
    head = {"by": None, "person": technician, "issuer": "Example board", "issued": dt.date(2020, 1, 1)}
    add_certificate(scheme="A1", number="A-1", expires=None, **head)
    return technician


@pytest.fixture
def us(shop, technician):
    saved(Shop.objects.get(), rulebook="us-federal")
    head = {"by": None, "person": technician, "issuer": "Example board", "issued": dt.date(2020, 1, 1)}
    add_certificate(scheme="608 Universal", number="U-1", expires=None, **head)
    add_certificate(scheme="609", number="S-1", expires=None, **head)
    return technician


def come(code, grade, gas="R-404A", kind="refillable", net=10 * KG, **more):
    line = Arrival(kind, gas, False, grade, net, 1, "Store", code, tare_mg=5 * KG, **more)
    head = {"day": today() - dt.timedelta(20), "by": "oscar", "key": key()}
    receive(lines=[line], supplier=supplier_called("Acme"), document=code, **head)


def there(code, grade, gas="R-404A", kind="recovery", net=0):
    line = Arrival(kind, gas, False, grade, net, 1, "Store", code, tare_mg=5 * KG)
    open_stock(lines=[line], day=today() - dt.timedelta(20), by="oscar", key=key())


def room(by, name="Freezer", gas="R-404A", **more):
    said = {"kind": "stationary", "exactly": "refrigeration", "charge_nominal_mg": 5 * KG, **more}
    return add_unit(by=by, name=name, refrigerant=gas, customer=said.pop("customer", "Ada Example"), **said)


def work(unit, by, action, code, grams, sign=True, **reasons):
    job = start_job(unit=unit, technician=by, by=by, key=uuid.uuid4())
    return done(job, by, action, code, grams, sign, **reasons)


def done(job, by, action, code, grams, sign=True, **reasons):
    enter_line(job.pk, by=by, key=uuid.uuid4(), action=action, container=code, quantity=grams * 1000)
    given = {**SIGNED, f"not-weighed-{code}": "no scale", **reasons}
    return sign_job(job.pk, by=by, reasons=given) if sign else job


def refused(unit, by, code, grams=100):
    with pytest.raises(NotSignable) as found:
        work(unit, by, "charge", code, grams)
    return found.value.objections


def of(rule):
    return [one for one in findings(Period(today(), today())) if one.rule == rule]


def test_virgin_gas_of_a_high_gwp_is_refused_with_its_reasons(eu):
    come("CYL", "virgin")
    (found,) = refused(room(eu), eu, "CYL")
    assert (found.key, found.refuses) == ("banned-CYL", True) and "may not be charged" in found.message
    assert found.verdict.cited == found.citation == "Regulation (EU) 2024/573, article 13(3)"
    cold = room(eu, "Deep freezer", below_minus_50=True, exemption_proof="Data sheet 7 of 2024")
    assert work(cold, eu, "charge", "CYL", 100).state == "signed"
    assert of("service ban") == []


def test_reclaimed_gas_is_charged_from_a_container_that_says_so(eu):
    come("CYL", "reclaimed")
    unit = room(eu)
    (found,) = refused(unit, eu, "CYL")
    assert "label" in found.message and found.refuses
    relabel(code="CYL", label=LABEL)
    assert work(unit, eu, "charge", "CYL", 100).state == "signed"
    assert of("service ban") == []
    relabel(code="CYL", label={})
    (one,) = of("service ban")
    assert one.severity == "high" and "CYL" in one.what and one.verdict.is_refused


def recycled(eu, source, code="REC"):
    """100 g of the gas of a unit, recovered and recycled by the shop itself."""
    there(code, "recovered")
    work(source, eu, "recover", code, 100)
    regrade(code=code, grade="recycled", day=today(), by="oscar", key=key())


@pytest.mark.parametrize(("exactly", "signs"), [("refrigeration", True), ("", False)])
def test_recycled_gas_comes_from_such_equipment(eu, exactly, signs):
    recycled(eu, room(eu, "Source", exactly=exactly))
    unit = room(eu, customer="Ben Example")
    if signs:
        assert work(unit, eu, "charge", "REC", 50).state == "signed"
        assert of("service ban") == of("reuse") == []
    else:
        (found,) = refused(unit, eu, "REC", 50)
        assert "under the same rule" in found.message and found.refuses


def test_recycled_gas_is_followed_through_what_it_was_decanted_from(eu):
    recycled(eu, room(eu, "Source"))
    there("SECOND", "recycled", kind="refillable")
    decant(source="REC", into="SECOND", quantity=80_000, day=today(), by="oscar", key=key())
    assert work(room(eu, customer="Ben Example"), eu, "charge", "SECOND", 50).state == "signed"
    come("BOUGHT", "recycled")
    decant(source="BOUGHT", into="SECOND", quantity=80_000, day=today(), by="oscar", key=key())
    (found,) = refused(room(eu, "Other", customer="Ben Example"), eu, "SECOND", 50)
    assert "recovered by this undertaking" in found.message


def test_what_was_there_before_the_ledger_cannot_be_judged(eu):
    there("OLD", "recycled", kind="refillable", net=KG)
    unit = room(eu)
    (found,) = refused(unit, eu, "OLD")
    assert (found.key, found.refuses) == ("unsaid-banned-OLD", False) and "say who recovered it" in found.message
    signed = work(unit, eu, "charge", "OLD", 100, **{"unsaid-banned-OLD": "own recovery of 2024"})
    assert signed.state == "signed"
    (one,) = of("service ban")
    assert (one.severity, one.verdict.answer) == ("low", "open")


def test_origins_are_found_in_a_constant_number_of_questions(eu):
    recycled(eu, room(eu, "Source"))
    codes = ["REC"]

    def count():
        with CaptureQueriesContext(connection) as seen:
            origins_of(codes)
        return len(seen)

    few = count()
    for n in range(6):
        recycled(eu, room(eu, f"Source {n}"), f"REC-{n}")
        codes.append(f"REC-{n}")
    assert count() == few == 2


def test_what_depletes_ozone_is_recovered_and_destroyed_and_never_charged(eu):
    unit = room(eu, gas="R-22")
    there("R22", "recovered", "R-22")
    there("NEW", "virgin", "R-22", "refillable", 2 * KG)
    job = start_job(unit=unit, technician=eu, by=eu, key=uuid.uuid4())
    enter_line(job.pk, by=eu, key=uuid.uuid4(), action="recover", container="R22", quantity=500_000)
    found = [one.key for one in _standing(job, eu)]
    assert not [name for name in found if name.startswith(("banned", "grade", "unsaid"))]
    for code in ("NEW", "R22"):
        banned = [one for one in refused(unit, eu, code) if one.key == f"banned-{code}"]
        assert banned and banned[0].refuses and "2024/590" in banned[0].citation
    party = made(Party, role="destroyer", name="Burn", code="P-000099")
    ship(parcels={"NEW": None}, purpose="destroy", party=party, document="S", day=today(), by="o", key=key())
    assert verify().faults == []


def _standing(job, by):
    try:
        sign_job(job.pk, by=by, reasons=SIGNED)
    except NotSignable as found:
        return found.objections
    return []


def test_what_a_job_takes_out_it_may_put_back_into_the_same_unit(us):
    # 40 CFR 82.156(h): the origin counts before the job is signed, too
    there("REC", "recovered")
    unit = room(us)
    job = start_job(unit=unit, technician=us, by=us, key=uuid.uuid4())
    enter_line(job.pk, by=us, key=uuid.uuid4(), action="recover", container="REC", quantity=300_000)
    assert done(job, us, "charge", "REC", 200, **{"not-weighed-REC": "x"}).state == "signed"
    assert of("reuse") == []


def test_an_undecided_compressor_asks_and_does_not_refuse(us):
    there("REC", "recovered", "R-134a")
    said = {"kind": "vehicle", "exactly": "off-road", "charge_nominal_mg": 2 * KG}
    tractor = room(us, "Tractor", "R-134a", **said)
    work(tractor, us, "recover", "REC", 300, **_unsaid(tractor, us, "recover", "REC"))
    found = {one.key: one for one in refused(tractor, us, "REC")}
    assert not found["unsaid-grade-REC"].refuses and "driven from outside" in found["unsaid-grade-REC"].message
    change_unit(tractor, by=us, open_drive="yes")
    tractor.refresh_from_db()
    found = {one.key: one for one in refused(tractor, us, "REC")}
    assert found["grade-REC"].refuses and "82.156(h)" in found["grade-REC"].citation


def _unsaid(unit, by, action, code):
    """Reasons for what else cannot be judged of a unit."""
    job = start_job(unit=unit, technician=by, by=by, key=uuid.uuid4())
    enter_line(job.pk, by=by, key=uuid.uuid4(), action=action, container=code, quantity=1000)
    return {one.key: "not known" for one in _standing(job, by) if not one.refuses}


def test_checks_after_repairs_detection_and_what_cannot_be_judged_are_found(eu):
    unit = room(eu, charge_nominal_mg=200 * KG)  # 784 t
    room(eu, "Unknown", charge_nominal_mg=None)
    for ago, said in ((100, "found and repaired"), (40, "none found")):
        job = start_job(unit=unit, technician=eu, by=eu, key=uuid.uuid4())
        change_job(job.pk, by=eu, day=today() - dt.timedelta(ago), leak_result=said)
        sign_job(job.pk, by=eu)
    found = findings(Period(today() - dt.timedelta(60), today()))
    (late,) = [one for one in found if one.rule == "check after a repair"]
    assert late.severity == "medium" and "article 4(5)" in late.citation and late.verdict.answer == "breach"
    detection = [one for one in found if one.rule == "leak detection"]
    assert [(one.severity, one.verdict.answer) for one in detection] == [("high", "breach"), ("low", "open")]
    (open_one,) = [one for one in found if one.rule == "leak check"]
    assert (open_one.severity, open_one.verdict.answer) == ("low", "open") and "what its full charge is" in str(
        open_one.what
    )
    change_unit(unit, by=eu, leak_detection=True)
    left = [one for one in findings(Period(today(), today())) if one.rule == "leak detection"]
    assert [one.severity for one in left] == ["low"]
