"""What a job's lines come to: added up in one place, kept with the signed job, and proved."""

import pytest
from django.db import IntegrityError, transaction

from inventory.ledger.verify import verify
from jobs.drafts.models import Job, JobLine
from jobs.lines.posting import ACTIONS, Line
from jobs.lines.totals import ADDS_TO, Totals, totals_of
from jobs.signing.actions import correct_job, sign_job
from shopledger.logbook.actions import load
from tests.jobs.test_jobs import bay, enter, job, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
KEPT = ("charged_mg", "recovered_mg", "line_loss_mg", "oil_added_ul", "oil_drained_ul")


def kept(job_id):
    return Job.objects.values_list(*KEPT).get(pk=job_id)


def test_all_lines_add_up():
    lines = [
        Line("recover", "REC-1", before=5_000, after=5_120),
        Line("recover", "MAC-1", quantity=80),
        Line("recover", "REC-1", before=5_000, quantity=7),
        Line("oil-drain", quantity=20),
        Line("oil-add", "OIL-1", quantity=30),
        Line("charge", "CAN-1", before=440, after=100),
        Line("charge", "CAN-2", before=440),
        Line("charge", "MAC-1", quantity=181),
        Line("line-loss", quantity=5),
    ]
    found = totals_of(lines)
    assert found == Totals(left=521, line_loss=5, recovered=207, oil_added=30, oil_drained=20)
    assert found.charged == 516
    assert found.columns() == dict(zip(KEPT, (516, 207, 5, 30, 20), strict=True))
    assert totals_of([]) == Totals() and Totals(left=3, line_loss=5).charged == 0


def test_every_action_adds_to_something():
    assert ADDS_TO.keys() == ACTIONS.keys()


def test_a_signed_job_keeps_its_totals_and_a_draft_has_none(job, technician):  # noqa: F811
    whole_job(job, technician)
    enter(job, technician, "oil-drain", quantity=12_000)
    assert kept(job.pk) == (None,) * 5
    signed = sign_job(job.pk, by=technician)
    assert kept(job.pk) == (516_000, 120_000, 5_000, 30_000, 12_000)
    new = correct_job(signed.pk, by=technician, note="more was lost")
    assert kept(new.pk) == (None,) * 5, "a correction adds up its own lines"
    enter(new, technician, "line-loss", quantity=2_000)
    sign_job(new.pk, by=technician)
    assert kept(new.pk) == (514_000, 120_000, 7_000, 30_000, 12_000)
    assert kept(job.pk) == (516_000, 120_000, 5_000, 30_000, 12_000), "the revision before stays as it was"
    assert verify().faults == []


def test_no_job_is_signed_without_its_totals(job, technician):  # noqa: F811
    sign_job(job.pk, by=technician, reasons={"empty": "nothing to do"})
    assert kept(job.pk) == (0,) * 5
    for name in KEPT:
        with pytest.raises(IntegrityError), transaction.atomic():
            Job.objects.update(**{name: None})


def test_a_loaded_job_keeps_its_totals(tmp_path, db):
    (tmp_path / "shop.csv").write_text(
        "name,address,timezone,rulebook,readability,capacity\nOld Shop,,UTC,generic,1 g,\n"
    )
    (tmp_path / "opening.csv").write_text(
        "date,container,kind,substance,grade,net,tare\n2026-01-05,CAN-1,can,R-134a,virgin,340 g,100 g\n"
    )
    (tmp_path / "jobs.csv").write_text(
        "job,date,technician,customer,unit,substance\nW-7,2026-02-03,ann,Ada,T-1,R-134a\n"
    )
    (tmp_path / "job_lines.csv").write_text(
        "job,action,container,before,after,quantity\nW-7,charge,CAN-1,440 g,200 g,\nW-7,line-loss,,,,3 g\n"
        "W-7,oil-drain,,,,8 mL\n"
    )
    load(tmp_path)
    assert kept(Job.objects.get().pk) == (237_000, 0, 3_000, 0, 8_000)
    assert verify().faults == []


@pytest.mark.parametrize("name", KEPT)
def test_verify_names_a_job_whose_total_was_changed(job, technician, name):  # noqa: F811
    whole_job(job, technician)
    signed = sign_job(job.pk, by=technician)
    Job.objects.filter(pk=job.pk).update(**{name: 1})
    proof = verify()
    assert proof.first_wrong == signed.voucher_id
    said = [said for _, said in proof.faults]
    assert f"Job {job.number}, revision 1, keeps other totals than its lines add up to." in said
    assert len(said) == 2 and any(f"is now 1; voucher {signed.voucher_id} stated" in one for one in said)


@pytest.mark.parametrize("action", [action for action in ACTIONS if action != "oil-drain"])
def test_verify_names_a_job_whose_lines_were_changed(job, technician, action):  # noqa: F811
    whole_job(job, technician)
    signed = sign_job(job.pk, by=technician)
    JobLine.objects.filter(action=action).delete()
    assert (signed.voucher_id, f"Job {job.number}, revision 1") in [
        (number, said.partition(", keeps")[0]) for number, said in verify().faults
    ]
