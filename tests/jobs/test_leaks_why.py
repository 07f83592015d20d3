"""The leak rate on the papers: what a job's charge did to it stands on the job's sheet, and that of each unit in the
report of units, with figures and rules."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.measures.days import said_day, said_days
from inventory.shop.clock import today
from jobs.drafts.actions import change_job
from jobs.drafts.models import Job
from jobs.people.actions import add_certificate
from jobs.signing.actions import correct_job, sign_job
from jobs.signing.judged import judged
from jobs.units.actions import add_unit
from shopledger.reporting import output
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.jobs.test_leak_cases import KG, ago, charge, rack  # noqa: F401 (fixture)
from tests.jobs.test_why import sheet
from tests.verdicts import printed, words

pytestmark = pytest.mark.django_db


def year():
    return Period(ago(365), today())


def report(kind):
    return output.written(output.make(REPORTS["units"], year(), None, "tester", drawn=kind == "pdf"), kind)


def test_the_sheet_says_what_the_charge_did_to_the_leak_rate(rack, technician, technician_client):  # noqa: F811
    job = charge(rack, technician, 5, ago(50))
    (said,) = judged(job.verdicts).others
    # 5 of 20 kg in 365 days are 25 %, 40 CFR 82.152, "leak rate" (2); over 20 %, 84.106(c)(2)(ii).
    assert said.said.startswith(f"The leak rate on {ago(50)} was 25.00 % a year, over 20 %")
    page = printed(sheet(job.pk))
    assert f"By the rulebook, when it was signed {said.said}" in page
    assert "full charge: 20" in page and "method: rolling average" in page
    shown = words(technician_client.get(f"/jobs/{job.pk}/").content)
    assert "By the rulebook, when it was signed" in shown and f"{said.word} {said_days(said.said)} Why" in shown


def test_what_comes_later_changes_no_sheet(rack, technician):  # noqa: F811
    job = charge(rack, technician, 5, ago(50))
    before = sheet(job.pk)
    charge(rack, technician, 6, ago(60))  # entered later, of an earlier day: the rate of the first is another now
    later = charge(rack, technician, 1, ago(10))
    assert sheet(job.pk) == before
    assert "60.00 % a year" in judged(later.verdicts).others[0].said  # 5 + 6 + 1 of 20 kg


def test_a_correction_counts_once(rack, technician, owner):  # noqa: F811
    job = charge(rack, technician, 5, ago(50))
    again = correct_job(job.pk, by=owner, note="another day")
    change_job(again.pk, by=owner, day=ago(49))
    signed = sign_job(again.pk, by=owner)
    assert f"on {ago(49)} was 25.00 % a year" in judged(signed.verdicts).others[0].said


def test_what_no_limit_is_about_has_no_verdict(rack, technician):  # noqa: F811
    add_certificate(by=None, person=technician, scheme="609", number="C-1", issued=ago(1000))
    car = add_unit(by=technician, plate="CAR", refrigerant="R-404A", charge_nominal_mg=2 * KG)
    with_limit = {judged(charge(rack, technician, 1, ago(50)).verdicts).others[0].answer}
    assert (judged(charge(car, technician, 1, ago(40)).verdicts).others, with_limit) == ([], {"met"})


def test_what_an_installation_adds_has_no_rate(rack, technician):  # noqa: F811
    job = charge(rack, technician, 20, ago(50), charge_why="installation")
    assert judged(job.verdicts).others == []


def test_the_report_of_units_opens_and_has_notes(rack, technician, office_client):  # noqa: F811
    charge(rack, technician, 5, ago(50))
    page = words(office_client.get(f"/reports/units/?first={year().first}&last={year().last}").content)
    assert (
        f"The leak rate on {said_day(ago(50))} was 25.00 % a year, over 20 %" in page
        and "Worked out from Method" in page
    )
    said = printed(report("pdf"))
    assert "Notes: figures and rules [1] The leak rate on" in said
    assert "limit: over 20 % a year" in said and "84.106" in said
    assert "rolling average" not in report("csv").decode().split("\n")[0]


def test_statements_of_the_report_do_not_grow_with_units(rack, technician):  # noqa: F811
    def count():
        with CaptureQueriesContext(connection) as seen:
            report("csv")
        return len(seen)

    charge(rack, technician, 5, ago(50))
    few = count()
    for number in range(3):
        other = add_unit(
            by=technician,
            name=f"Rack {number}",
            kind="stationary",
            exactly="refrigeration",
            refrigerant="R-404A",
            charge_nominal_mg=20 * KG,
        )
        charge(other, technician, 5, ago(40 - number))
    assert count() == few
    assert Job.objects.count() == 4
