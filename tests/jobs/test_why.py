"""A page and a sheet show why the rulebook says what it says, and a signed job's say so for good."""

import re
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from inventory.reference.wording import LABELS
from inventory.verdicts.explaining import explained
from jobs.drafts.models import Job
from jobs.sheet.job_sheet import job_sheet
from jobs.sheet.reasons import reason_title
from jobs.signing import actions as signing
from jobs.signing import charging
from jobs.signing import objections as signing_objections
from jobs.signing.actions import sign_job
from jobs.signing.judged import judged, kept
from jobs.signing.objections import Objection
from tests.jobs.test_jobs import bay, enter, job  # noqa: F401 (fixtures)
from tests.verdicts import ASKED, BANNED, NOTE, judging, printed, words

pytestmark = pytest.mark.django_db
REASONS = {"over": "Long hoses"}


@pytest.fixture
def over(job, technician, monkeypatch):  # noqa: F811
    """A draft that signing objects to, by a rule."""
    monkeypatch.setattr(signing, "objections", judging(signing.objections, over=BANNED))
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    enter(job, technician, "charge", "CAN-2", before=440_000, after=200_000)
    return job


def sheet(pk):
    loaded = Job.objects.select_related("unit__customer", "technician", "voucher", "corrects", "signed_by").get(pk=pk)
    return job_sheet(loaded)


def test_an_objection_opens_to_its_figures_and_rules(over, technician_client):
    page = words(technician_client.get(f"/jobs/{over.pk}/").content)
    assert "40 g over the most on the label" in page
    for said in (
        f"Why : {BANNED.said}",
        f"not as asked {BANNED.said}",
        "Worked out from GWP 3943 Grade virgin",
        "Rule 1",
        "GWP of at least 2500",
        "Where it is not kept listed as a finding",
        "Applies from 1 Jan 2025",
        "Where it is written Law of Nowhere, art. 7(2)",
        "How well it is known read in the text itself Text read on 1 Feb 2026",
        "Rule 2",
        "read in a summary, not in the text itself to be confirmed with the authority",
        "The text allows more than one reading; taken is A trailer counts as a vehicle.",
        "What would change it Recycled refrigerant may be charged until 2030.",
    ):
        assert said in page, said


def test_opening_an_objection_asks_the_database_nothing(over, technician_client, monkeypatch):
    address = f"/jobs/{over.pk}/"
    technician_client.get(address)
    with CaptureQueriesContext(connection) as with_it:
        technician_client.get(address)
    monkeypatch.setattr(signing, "objections", judging(signing.objections, over=None))
    with CaptureQueriesContext(connection) as without:
        technician_client.get(address)
    assert len(with_it) == len(without)


def test_the_signed_page_says_what_was_objected_and_answered(over, technician, technician_client):
    sign_job(over.pk, by=technician, reasons=REASONS)
    page = words(technician_client.get(f"/jobs/{over.pk}/").content)
    assert f"Charged over the label Long hoses not as asked {BANNED.said} Why" in page
    assert "Where it is written Law of Nowhere, art. 7(2)" in page


def test_the_sheet_has_it_as_a_note(over, technician):
    signed = sign_job(over.pk, by=technician, reasons=REASONS)
    page = printed(sheet(signed.pk))
    assert "Section 609 A-1 [1]" in page, "why the certificate allows it"
    assert "Charged over the label Long hoses [2]" in page
    for said in NOTE:
        assert said in page, said
    assert page.index("Signature") < page.index("Notes: figures and rules") < page.index("Cautions:")


def test_the_sheet_of_a_draft_has_no_notes(over):
    assert "Notes: figures" not in printed(sheet(over.pk))


def test_a_sheet_says_what_was_said_whatever_the_rulebook_says_now(over, technician, monkeypatch):
    signed = sign_job(over.pk, by=technician, reasons=REASONS)
    before = sheet(signed.pk)
    monkeypatch.setattr(signing, "objections", judging(signing.objections, over=ASKED))
    monkeypatch.setitem(LABELS, "gwp_at_least", "changed")
    assert sheet(signed.pk) == before
    Job.objects.filter(pk=signed.pk).update(verdicts=[])  # behind the program's back: the record says it still
    assert sheet(signed.pk) == before
    assert verify().faults[0][1].startswith("Job J-00001/1: what the rulebook said is now blank")


def test_what_was_said_is_in_the_record(over, technician):
    signed = sign_job(over.pk, by=technician, reasons=REASONS)
    said = stated("job", f"{signed.number}/1").body["verdicts"]
    assert {"about": "over", **explained(BANNED).kept} in said


def test_what_is_said_of_certificate_and_job_has_its_place(bay, technician, technician_client):  # noqa: F811
    found = judged(kept([Objection("over", "", False, "charge", verdict=BANNED)], [ASKED], [ASKED, BANNED]))
    assert found.objections == {"over": [explained(BANNED)]}
    assert found.certificate == [explained(ASKED)]
    assert found.others == [explained(ASKED), explained(BANNED)]


def test_the_certificate_is_marked_and_the_job_has_its_verdicts(job, technician, technician_client, monkeypatch):  # noqa: F811
    monkeypatch.setattr(signing, "kept", lambda found, certificate, others: kept(found, [ASKED], [BANNED]))
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    enter(job, technician, "charge", "CAN-2", before=440_000, after=200_000)
    signed = sign_job(job.pk, by=technician, reasons=REASONS)
    page = printed(sheet(signed.pk))
    assert "Section 609 A-1 [1]" in page
    assert f"By the rulebook, when it was signed {BANNED.said} [2]" in page
    # The rule that both lean on is written out once.
    assert "Rule: A digest of the law, p. 4; in words in note 1." in page
    assert "To be said first: whether it is hermetically sealed." in page
    shown = words(technician_client.get(f"/jobs/{signed.pk}/").content)
    assert f"By the rulebook, when it was signed cannot be judged {ASKED.said}" in shown
    assert f"not as asked {BANNED.said}" in shown


def test_each_objection_that_takes_a_reason_has_a_title():
    """The keys as they stand in the code, with CAN-1 where it names a container or work."""
    code = Path(signing_objections.__file__).read_text()
    keys = set(re.findall(r'(?:Objection\(|key = |key, [a-z]+ = )f?"([a-z][a-z-]*)', code)) | {*charging.STEPS}
    keys -= {"day", "substance", "retest-", "recovers-into-", "safe-fill-", "entry-"}  # no reason helps
    assert {"empty", "certificate-", "grade-", "banned-", "unsaid-", "single-use-", "over"} <= keys
    for key in sorted(keys):
        whole = f"{key}CAN-1" if key.endswith("-") else key
        assert reason_title(whole) not in {whole, key}, key
