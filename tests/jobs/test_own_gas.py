"""A customer's own gas on a job: it comes from their units and goes into their units, and no others."""

import datetime as dt
import uuid

import pytest

from inventory.containers.models import Container
from inventory.kept.actions import Brought, Identified, find, identify, keep_for, take_in
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.actions import start_job
from jobs.drafts.queries import chargeable, customer_of, for_recovery_and_oil
from jobs.signing.actions import NotSignable, sign_job
from jobs.units.actions import add_unit
from shopledger.reporting.output import make
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.jobs.test_jobs import bay, enter, job  # noqa: F401 (fixtures)
from tests.stock import came, delivery, flows

pytestmark = pytest.mark.django_db
G = 1000


def head(**said):
    return {"day": today() - dt.timedelta(5), "by": "tess", "key": str(uuid.uuid4()), **said}


@pytest.fixture
def own(bay):  # noqa: F811
    """A cylinder of Ada's with 2 kg, and REC-2 that is kept for her."""
    delivery(came("REC-2", "recovery", tare_mg=5_000 * G), day=today() - dt.timedelta(8))
    said = {"kind": "refillable", "substance": "R-134a", "grade": "virgin", "location": "Store", "code": "OWN"}
    ada = bay.customer.code
    take_in(owner=ada, brought=Brought(**said, tare_mg=5_000 * G, gross_mg=7_000 * G), **head())
    keep_for(code="REC-2", owner=ada, **head())
    return ada


@pytest.fixture
def another(own, technician):
    """A job on a unit of somebody else's."""
    unit = add_unit(by=technician, customer="Bo Example", plate="TST-2", refrigerant="R-134a")
    return start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())


@pytest.fixture
def nobodys(own, technician):
    unit = add_unit(by=technician, plate="TST-3", refrigerant="R-134a")
    return start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())


def signed(draft, technician):
    reasons = {}
    for _ in range(2):
        try:
            return sign_job(draft.pk, by=technician, reasons=reasons)
        except NotSignable as objected:
            assert not any(one.refuses for one in objected.objections), objected
            reasons = {one.key: "a test" for one in objected.objections}
    raise AssertionError("not signed")


def report(name):
    made = make(REPORTS[name], Period(today() - dt.timedelta(20), today()), None, "olive")
    return [dict(zip([c.name for c in made.table.columns], row, strict=True)) for row in made.table.rows]


def test_their_unit_takes_it_and_gives_it_and_the_shop_holds_none_of_it(own, job, technician):  # noqa: F811
    enter(job, technician, "recover", "REC-2", before=5_000_000, after=5_120_000)
    enter(job, technician, "charge", "OWN", before=7_000_000, after=6_480_000)
    enter(job, technician, "line-loss", quantity=5_000)
    made = signed(job, technician)
    kept = {(a, b): quantity for (a, b), quantity in flows().items() if "KEPT" in (a, b)}
    assert kept == {
        ("CUSTOMER", "KEPT"): 2_000 * G,
        ("UNIT", "KEPT"): 120 * G,
        ("KEPT", "UNIT"): 515 * G,
        ("KEPT", "LINE_LOSS"): 5 * G,
    }
    assert (made.charged_mg, made.recovered_mg) == (515 * G, 120 * G)
    row = Container.objects.select_related("account").get(code="REC-2")
    assert (row.content, row.kept_for, row.grade) == (120 * G, own, "recovered")
    [usage] = [one for one in report("usage") if one["substance"] == "R-134a"]
    assert (usage["charged"], usage["recovered"], usage["line_loss"], usage["closing"]) == (0, 0, 0, 680 * G)
    [line] = report("kept")
    assert (line["brought"], line["recovered"], line["charged"], line["line_loss"]) == (
        2_000 * G,
        120 * G,
        515 * G,
        5 * G,
    )
    assert line["closing"] == 1_600 * G
    assert report("jobs")[0]["grade"] == "virgin", "the jobs report tells of what went in, whosever it was"
    assert verify().faults == []


@pytest.mark.parametrize("whose", ["another", "nobodys"])
def test_no_other_unit_takes_it_or_fills_it(request, whose, technician):
    draft = request.getfixturevalue(whose)
    before = Voucher.objects.count()
    with pytest.raises(Refused, match="kept for the gas of C-.* Name a container of the shop"):
        enter(draft, technician, "charge", "OWN", before=7_000_000, after=6_800_000)
    with pytest.raises(Refused, match="kept for the gas of C-"):
        enter(draft, technician, "recover", "REC-2", before=5_000_000, after=5_100_000)
    assert not draft.lines.exists() and Voucher.objects.count() == before
    enter(draft, technician, "recover", "REC-1", before=5_000_000, after=5_100_000)


def test_what_was_entered_before_it_was_kept_for_another_is_not_signed(own, another, technician):
    delivery(came("REC-3", "recovery", tare_mg=5_000 * G), day=today() - dt.timedelta(8))
    enter(another, technician, "recover", "REC-3", before=5_000_000, after=5_100_000)
    keep_for(code="REC-3", owner=own, **head())
    with pytest.raises(Refused, match="kept for the gas of|kept for"):
        signed(another, technician)


def test_it_is_offered_for_their_units_alone(own, job, another):  # noqa: F811
    ours, others = customer_of(job), customer_of(another)
    assert (ours, others != ours, customer_of(another) != "") == (own, True, True)
    found = {who: set(chargeable("R-134a", customer=who).values_list("code", flat=True)) for who in (ours, others, "")}
    assert found == {ours: {"CAN-1", "CAN-2", "OWN"}, others: {"CAN-1", "CAN-2"}, "": {"CAN-1", "CAN-2"}}

    def into(who):
        return set(for_recovery_and_oil("R-134a", customer=who).values_list("code", flat=True))

    assert into(ours) == {"REC-1", "REC-2", "OIL-1"}
    assert into(others) == into("") == {"REC-1", "OIL-1"}


def test_what_was_recovered_for_them_is_offered_to_them(own, job, another, technician):  # noqa: F811
    enter(job, technician, "recover", "REC-2", before=5_000_000, after=5_420_000)
    signed(job, technician)
    assert "REC-2" in chargeable("R-134a", customer=own).values_list("code", flat=True)
    assert "REC-2" not in chargeable("R-134a", customer=customer_of(another)).values_list("code", flat=True)


def test_what_was_found_is_for_no_work_and_what_is_mixed_is_charged_into_nothing(bay, job, technician):  # noqa: F811
    find(kind="recovery", gross_mg=9_000 * G, location="Store", found_where="shed", code="LOST", **head())
    for action, weights in (
        ("charge", {"before": 9_000_000, "after": 8_900_000}),
        ("recover", {"before": 9_000_000, "after": 9_100_000}),
    ):
        with pytest.raises(Refused, match="Identify it first"):
            enter(job, technician, action, "LOST", **weights)
    assert "LOST" not in for_recovery_and_oil("R-134a").values_list("code", flat=True)
    identify(code="LOST", said=Identified("R-134a", 5_000 * G, "Identifier 7", "mixed"), **head(follows=0))
    assert "LOST" not in chargeable("R-134a").values_list("code", flat=True)
    enter(job, technician, "charge", "LOST", before=9_000_000, after=8_480_000)
    with pytest.raises(NotSignable, match="LOST holds mixed refrigerant. It is charged into nothing"):
        sign_job(job.pk, by=technician)
