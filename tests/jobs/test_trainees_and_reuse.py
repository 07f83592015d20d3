"""People in training, and recovered refrigerant that goes back to where it came from: what signing asks."""

import datetime as dt
import uuid

import pytest

from inventory.containers.models import Container
from inventory.ledger.actions import writing
from inventory.measures.months import add_months
from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.verdicts.work import in_training
from jobs.drafts.actions import start_job
from jobs.people.actions import change_person
from jobs.signing.actions import NotSignable, sign_job
from jobs.signing.origins import origins_of
from jobs.units.actions import add_unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.jobs.test_jobs import bay, enter, job, whole_job  # noqa: F401 (fixtures)
from tests.kept import saved

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 6, 1)


@pytest.mark.parametrize(
    ("name", "equipment", "months"),
    # 40 CFR 82.161(a)(2) with 82.152; (EU) 2025/1893 article 2(3); Regulation (EC) 307/2008 article 2 as retained
    [("us-federal", "stationary", 24), ("eu", "vehicle", 24), ("gb", "vehicle", 12)],
)
def test_training_counts_so_many_months_and_not_a_day_more(name, equipment, months):
    (demand, _), *_ = rulebook(name).demands("recover", System(equipment, "R-134a"), DAY)
    since = add_months(DAY, -months)
    assert demand.trainee_months == months
    assert not in_training(since, DAY, demand), "the last day is the one before"
    assert in_training(since + dt.timedelta(1), DAY, demand) and in_training(DAY, DAY, demand)
    assert not in_training(DAY + dt.timedelta(1), DAY, demand) and not in_training(None, DAY, demand)


def test_section_609_knows_no_trainees():
    car = System("vehicle", "R-134a", traits=frozenset({"paid"}))
    (demand, _), *_ = rulebook("us-federal").demands("charge", car, DAY)
    assert not in_training(DAY, DAY, demand)


def test_a_trainee_signs_and_says_who_supervised(shop, job, technician, owner):  # noqa: F811
    saved(Shop.objects.get(), rulebook="eu")
    with writing():
        technician.certificates.all().delete()
    for one in Container.objects.filter(kind="can"):  # from which nothing is charged there
        saved(one, kind="refillable")
    whole_job(job, technician)
    with pytest.raises(NotSignable) as refused:
        sign_job(job.pk, by=technician)
    assert all(one.refuses for one in refused.value.objections if one.key.startswith("certificate"))
    change_person(technician, by=owner, trainee_since=today() - dt.timedelta(30))
    with pytest.raises(NotSignable, match="say who supervised"):
        sign_job(job.pk, by=technician)
    reasons = dict.fromkeys(("certificate-recover", "certificate-charge"), "Mara Example, A1 no. 7")
    assert sign_job(job.pk, by=technician, reasons=reasons).state == "signed"
    found = [one for one in findings(Period(today(), today())) if one.rule in {"trainee", "certificate"}]
    assert [(one.severity, one.rule) for one in found] == [("low", "trainee")] * 2
    assert "Mara Example" in found[0].what


def test_the_owner_enters_training_and_takes_it_away(shop, technician, owner_client):
    form = {"name": technician.name, "role": "technician", "is_active": "on", "trainee_since": "2026-01-10"}
    assert owner_client.post(f"/people/{technician.pk}/edit/", form).status_code == 302
    technician.refresh_from_db()
    assert technician.trainee_since == dt.date(2026, 1, 10)
    assert "In training since" in owner_client.get(f"/people/{technician.pk}/").content.decode()
    owner_client.post(f"/people/{technician.pk}/edit/", {**form, "trainee_since": ""})
    technician.refresh_from_db()
    assert technician.trainee_since is None


# -- where recovered refrigerant goes back --------------------------------------------------------------


@pytest.fixture
def recovered(shop, bay, technician):  # noqa: F811
    """A stationary unit of a customer, of which 120 g were recovered into REC-1."""
    saved(Shop.objects.get(), rulebook="us-federal")
    technician.certificates.update(scheme="608 Universal")
    unit = add_unit(by=technician, customer="Ada Example", name="Cold room", kind="stationary", refrigerant="R-134a")
    first = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    enter(first, technician, "recover", "REC-1", before=5_000_000, after=5_120_000)
    sign_job(first.pk, by=technician)
    return unit


def gone(unit, code):
    return origins_of([code]).destination(unit, code)


def charge_from(unit, technician):
    found = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    enter(found, technician, "charge", "REC-1", before=5_120_000, after=5_000_000)
    return found


@pytest.mark.parametrize(
    ("whose", "where", "refused"),
    # 40 CFR 82.156(h): the same appliance or another of the same owner; 82.154(d): another owner only reclaimed
    [("same", "same-unit", False), ("Ada Example", "same-owner", False), ("Ben Example", "other-owner", True)],
)
def test_recovered_refrigerant_goes_back_where_it_came_from(recovered, technician, whose, where, refused):
    unit = recovered
    if whose != "same":
        unit = add_unit(by=technician, customer=whose, name="Other room", kind="stationary", refrigerant="R-134a")
    job = charge_from(unit, technician)  # noqa: F811
    assert gone(job.unit, "REC-1") == where
    reasons = {"no-range": "x", "under": "x"}
    if refused:
        with pytest.raises(NotSignable, match="REC-1 holds recovered refrigerant"):
            sign_job(job.pk, by=technician, reasons=reasons)
    else:
        assert sign_job(job.pk, by=technician, reasons=reasons).state == "signed"
        assert not [one for one in findings(Period(today(), today())) if one.rule == "reuse"]


def test_a_car_takes_only_what_was_recycled_the_same_car_too(shop, bay, technician):  # noqa: F811
    # 40 CFR 82.32(e)(1)
    saved(Shop.objects.get(), rulebook="us-federal")
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())  # noqa: F811
    enter(job, technician, "recover", "REC-1", before=5_000_000, after=5_120_000)
    sign_job(job.pk, by=technician)
    with pytest.raises(NotSignable, match="REC-1 holds recovered refrigerant"):
        sign_job(charge_from(bay, technician).pk, by=technician, reasons={"under": "x"})


def test_what_came_from_elsewhere_too_is_somebody_elses(recovered, technician):
    other = add_unit(by=technician, customer="Ben Example", name="Room", kind="stationary", refrigerant="R-134a")
    job = start_job(unit=other, technician=technician, by=technician, key=uuid.uuid4())  # noqa: F811
    enter(job, technician, "recover", "REC-1", before=5_120_000, after=5_150_000)
    sign_job(job.pk, by=technician)
    assert Container.objects.get(code="REC-1").grade == "recovered"
    assert gone(recovered, "REC-1") == gone(recovered, "NONE") == "other-owner"
