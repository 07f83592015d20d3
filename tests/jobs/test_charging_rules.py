"""What signing and findings say of a charge itself: what the unit was designed for, the leak test before, releases."""

import uuid

import pytest

from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, start_job
from jobs.drafts.models import Job
from jobs.people.models import Certificate
from jobs.signing.actions import NotSignable, sign_job, standing_objections
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.jobs.test_jobs import bay, enter  # noqa: F401 (a fixture)
from tests.kept import saved

pytestmark = pytest.mark.django_db


@pytest.fixture
def charged(shop, bay, technician):  # noqa: F811
    """A draft that charges a can of R-134a, by somebody who may."""

    def made(rulebook, scheme, **unit):
        saved(Shop.objects.get(), rulebook=rulebook)
        saved(Certificate.objects.get(), scheme=scheme)
        saved(bay, **unit)
        job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
        change_job(job.pk, by=technician, step="start", substance="R-134a")
        enter(job, technician, "charge", "CAN-1", before=440_000, after=110_000)
        return Job.objects.get(pk=job.pk)

    return made


def keys(job):
    return {one.key: one for one in standing_objections(job)}


def found(*rules):
    return [one for one in findings(Period(today(), today())) if one.rule in rules]


@pytest.mark.parametrize(
    ("designed_for", "refrigerant", "key"),
    # Regulation 2AAA of the Ozone Protection and Synthetic Greenhouse Gas Management Regulations 1995 (Cth)
    [
        ("R-1234yf", "R-1234yf", "designed-for"),
        ("R-1234yf", "R-134a", "designed-for"),
        ("", "R-1234yf", "designed-for"),  # what is in it, where nothing else is said
        ("", "", "unsaid-designed-for"),
        ("", "R-134a", None),
        ("R-134a", "R-1234yf", None),
    ],
)
def test_a_unit_designed_for_another_gas(charged, technician, designed_for, refrigerant, key) -> None:
    job = charged("australia", "RHL", designed_for=designed_for, refrigerant=refrigerant)
    said = {name: one for name, one in keys(job).items() if name.endswith("designed-for")}
    assert set(said) == ({key} if key else set())
    if key:
        assert said[key].refuses is (key == "designed-for") and "2AAA" in said[key].citation
        assert said[key].verdict.said in said[key].message
    if key == "designed-for":
        with pytest.raises(NotSignable, match="designed for R-1234yf"):
            sign_job(job.pk, by=technician, reasons={key: "no reason helps"})


def test_elsewhere_nothing_asks_what_it_was_designed_for(charged) -> None:
    job = charged("generic", "Any", designed_for="R-1234yf")
    assert not [name for name in keys(job) if name.endswith("designed-for") or name.endswith("untested")]


@pytest.mark.parametrize(
    ("bound", "result", "key"),
    # Federal Halocarbon Regulations, 2022, SOR/2022-110, s. 10 and s. 2
    [
        ("yes", "not checked", "untested"),
        ("yes", "none found", None),
        ("", "not checked", "unsaid-untested"),
        ("no", "not checked", None),
    ],
)
def test_a_charge_without_a_leak_test(charged, technician, bound, result, key) -> None:
    job = charged("canada-federal", "Any", bound=bound)
    change_job(job.pk, by=technician, step="repair", leak_result=result)
    said = {name: one for name, one in keys(Job.objects.get(pk=job.pk)).items() if name.endswith("untested")}
    assert set(said) == ({key} if key else set())
    assert all(one.refuses is (key == "untested") and "section 10" in one.citation for one in said.values())


def test_what_was_signed_all_the_same_is_found(charged, technician) -> None:
    """A rulebook that was chosen later finds what signing did not ask."""
    job = charged("generic", "Any", bound="yes", designed_for="R-1234yf")
    reasons = dict.fromkeys(keys(job), "as the customer wished")
    sign_job(job.pk, by=technician, reasons=reasons)
    assert found("designed for another", "charged untested") == []
    saved(Shop.objects.get(), rulebook="australia")
    (one,) = found("designed for another")
    assert one.severity == "high" and one.verdict.is_refused and job.title in one.what
    saved(Shop.objects.get(), rulebook="canada-federal")
    assert [one.severity for one in found("charged untested")] == ["high"]


@pytest.mark.parametrize(("kilograms", "due"), [(10, False), (11, True)])
def test_a_large_release_is_found(charged, technician, kilograms, due) -> None:
    """s. 25: more than 10 kg; what went in at a visit on which a leak was found is what had got out."""
    job = charged("canada-federal", "Any", bound="yes")
    change_job(job.pk, by=technician, step="repair", leak_result="found and repaired")
    sign_job(job.pk, by=technician, reasons=dict.fromkeys(keys(Job.objects.get(pk=job.pk)), "so it was"))
    assert found("release") == []
    saved(Job.objects.get(pk=job.pk), charged_mg=kilograms * 1_000_000)
    said = found("release")
    assert bool(said) is due
    assert all("section 25" in one.citation and one.verdict.by for one in said)
