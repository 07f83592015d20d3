"""The job sheet: what stands on it, that it stays as it was issued, and that no text breaks it."""

import io
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from inventory.containers.actions import regrade
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, start_job
from jobs.drafts.models import Job, JobLine
from jobs.people.actions import add_person, change_person, choose_units
from jobs.sheet.job_sheet import job_sheet
from jobs.sheet.reasons import reason_title
from jobs.signing.actions import correct_job, sign_job
from jobs.units.actions import add_unit, change_unit
from shopledger.logbook.actions import load
from tests.jobs.test_jobs import bay, enter, job, whole_job  # noqa: F401 (fixtures)
from tests.kept import saved
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db


def sheet(job_id: int) -> bytes:  # noqa: F811
    loaded = Job.objects.select_related("unit__customer", "technician", "voucher", "corrects", "signed_by")
    return job_sheet(loaded.get(pk=job_id))


def pages(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def text(job_id: int) -> str:
    return " ".join(pages(sheet(job_id)))


@pytest.fixture
def signed(shop, job, technician):  # noqa: F811
    whole_job(job, technician)
    change_job(
        job.pk,
        by=technician,
        complaint="Blows warm",
        identified_as="R-134a",
        identified_how="identifier",
        purity_percent=99.5,
        leak_result="none found",
        leak_method="electronic detector",
        repairs="New condenser",
        vacuum_said="500 micron",
        vacuum_pa=66.66,
        hold_start_said="510 micron",
        hold_start_pa=68.0,
        hold_end_said="600 micron",
        hold_end_pa=80.0,
        vent_c=6.5,
        low_side_said="2.1 bar",
        note="Came by tow truck.",
    )
    change_unit(job.unit, by=technician, vin="1M8GDM9AXKP042788", make="Quillon", model="Arbour", year=2016)
    return sign_job(job.pk, by=technician)


def test_an_inspector_finds_everything_on_one_page(signed):
    found = pages(sheet(signed.pk))
    assert len(found) == 1
    for said in (
        "Test Shop",
        "1 Test Street",
        f"Job sheet {signed.number}",
        "Revision 1, signed",
        signed.day.isoformat(),
        "Tess Test",
        "Section 609 A-1",
        "Ada Example",
        "TST-1, 2016 Quillon Arbour",
        "1M8GDM9AXKP042788",
        "500 g to 540 g",
        "Blows warm",
        "R-134a, by identifier",
        "99.5 %",
        "none found, electronic detector",
        "New condenser",
        "REC-1 R-134a recovered",
        "5 000 g 5 120 g 120 g",
        "CAN-1 R-134a virgin",
        "440 g 100 g 340 g",
        "440 g 259 g 181 g",
        "Left the containers 521 g",
        "Line loss -5 g",
        "Put into the unit 516 g within the label's range",
        "put in OIL-1 PAG 46 30 mL",
        "500 micron (67 Pa absolute)",
        "510 micron to 600 micron",
        "within the limit",
        "6.5 °C",
        "2.1 bar",
        "Came by tow truck.",
        f"{signed.voucher_id}, revision 1",
        signed.voucher.digest,
        "Do not vent refrigerant",
        "Local rules and licensed practice come first.",
        "page 1 of 1",
    ):
        assert said in found[0], said
    assert "DRAFT" not in found[0] and "Invented" not in found[0]


def test_an_issued_sheet_stays_as_it_is_whatever_is_renamed(signed, technician, owner):
    """The car is sold, its plate changed; the technician has another name and reads ounces: byte for byte the same."""
    issued = sheet(signed.pk)
    assert sheet(signed.pk) == issued
    change_unit(signed.unit, by=owner, customer="Someone Else", plate="NEW-9", vin="", make="Verrin", year=2020)
    change_person(technician, by=owner, name="Tess Married")
    choose_units(technician, by=technician, mass_unit="oz", volume_unit="fl oz")
    technician.refresh_from_db()
    assert sheet(signed.pk) == issued
    draft = start_job(unit=signed.unit, technician=technician, by=technician, key=uuid.uuid4())
    assert "Someone Else" in text(draft.pk) and "Tess Married" in text(draft.pk)


def test_a_draft_says_that_nothing_is_posted(shop, job, technician):  # noqa: F811
    enter(job, technician, "charge", "CAN-1", before=440_000)
    said = text(job.pk)
    assert "DRAFT: nothing is posted" in said and "A draft: it is not signed, and nothing is posted." in said
    assert "not weighed yet" in said and "Signature" not in said


def test_both_revisions_say_which_one_stands(signed, technician):
    new = correct_job(signed.pk, by=technician, note="the last can was misread")
    line = new.lines.filter(container__code="CAN-2").get()
    enter(new, technician, "charge", "CAN-2", before=440_000, after=255_000)
    JobLine.objects.filter(pk=line.pk).delete()
    sign_job(new.pk, by=technician)
    assert "Corrects revision 1 because: the last can was misread" in text(new.pk)
    assert "Put into the unit 520 g" in text(new.pk)
    old = text(signed.pk)
    assert "This revision was corrected; revision 2 stands in its place." in old and "Put into the unit 516 g" in old


def test_ounces_have_grams_beside_them(shop, job, technician):  # noqa: F811
    saved(technician, mass_unit="oz")
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    said = text(job.pk)
    assert "15.52 oz (440 g) 3.53 oz (100 g) 11.99 oz (340 g)" in said


def test_over_the_label_the_reason_stands_on_it(shop, job, technician):  # noqa: F811
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    enter(job, technician, "charge", "CAN-2", before=440_000, after=200_000)
    sign_job(job.pk, by=technician, reasons={"over": "longer hoses"})
    said = text(job.pk)
    assert "40 g over the label" in said and "Charged over the label longer hoses" in said


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("not-weighed-CAN-1", "Not weighed: CAN-1"),
        ("grade-REC-1", "Grade of REC-1"),
        ("certificate-charge", "No certificate on file to charge"),
        ("hold", "No hold recorded"),
    ],
)
def test_a_reason_is_titled_in_words(key, words):
    assert reason_title(key) == words


def test_a_grade_is_the_one_at_signing(signed):
    assert "REC-1 R-134a recovered" in text(signed.pk)
    issued = sheet(signed.pk)
    regrade(code="REC-1", grade="recycled", day=signed.day, by="tess", key="regrade-1")
    assert sheet(signed.pk) == issued


def test_what_a_machine_showed_is_not_called_a_weight(shop, job, technician):  # noqa: F811
    delivery(came("MAC-1", "machine", 2_000_000, location="Bay", tare_mg=9_000_000), day=job.day)
    enter(job, technician, "charge", "MAC-1", quantity=520_000)
    enter(job, technician, "charge", "CAN-1", quantity=1_000)
    said = text(job.pk)
    assert "MAC-1 R-134a recycled – – – 520 g as the machine showed" in said
    assert "CAN-1 R-134a virgin – – – 1 g not weighed" in said


def test_a_refrigerant_that_burns_says_so(shop, owner, technician):
    unit = add_unit(by=owner, plate="YF-1", refrigerant="R-1234yf")
    burning = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    assert "This refrigerant can burn" in text(burning.pk)


def test_an_invented_shop_says_so(signed):
    Shop.objects.update(invented=True)
    assert "Invented shop, people and vehicles: a demonstration." in text(signed.pk)


def test_text_is_text_and_runs_on_over_pages(shop, job, technician):  # noqa: F811
    """40 weighings, a note of 600 lines, a word without a break, markup, and letters that the font has not."""
    for step in range(40):
        said = {"before": 440_000 - step * 1000, "after": 439_000 - step * 1000}
        enter(
            job,
            technician,
            "charge",
            "CAN-1",
            **said,
            note=f"<b>valve & seat</b> no. {step} was opened {'slowly ' * 20}",
        )
    change_job(
        job.pk,
        by=technician,
        note="one & <i>line</i>\n" * 600,
        complaint="W" * 2000,
        repairs="水 \x07 part",
        reasons={"hold": "why " * 500},
    )
    found = pages(sheet(job.pk))
    whole = " ".join(found)
    assert len(found) > 8 and f"page {len(found)} of {len(found)}" in found[-1]
    assert whole.count("one & <i>line</i>") == 600 and whole.count("why") == 500
    assert all(f"<b>valve & seat</b> no. {step} was opened" in whole for step in range(40))
    assert whole.count("slowly") == 800 and "Put into the unit 40 g" in whole
    assert all("Container Refrigerant Grade" in page for page in found[:2])  # the header again on the next page


def test_a_loaded_job_claims_nothing_that_its_log_did_not_hold(tmp_path, db):
    (tmp_path / "shop.csv").write_text(
        "name,address,timezone,rulebook,readability,capacity\nOld Shop,,UTC,generic,1 g,\n"
    )
    (tmp_path / "opening.csv").write_text(
        "date,container,kind,substance,grade,net,tare\n2026-01-05,CAN-1,can,R-134a,virgin,340 g,100 g\n"
    )
    (tmp_path / "jobs.csv").write_text(
        "job,date,technician,customer,unit,substance\nW-7,2026-02-03,ann,Ada,TST-1,R-134a\n"
    )
    (tmp_path / "job_lines.csv").write_text("job,action,container,before,after\nW-7,charge,CAN-1,440 g,200 g\n")
    load(tmp_path)
    said = text(Job.objects.get().pk)
    assert "From the shop's earlier log" in said and "CAN-1 R-134a virgin" in said and "240 g" in said
    assert "System opened" not in said and "Leak check" not in said and "Loaded from the shop's earlier log on" in said


def test_who_may_open_it(signed, owner, technician_client, office_client, owner_client, client):
    address = f"/jobs/{signed.pk}/sheet.pdf"
    for may in (technician_client, office_client, owner_client):
        answer = may.get(address)
        assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
        assert f'filename="job-{signed.number}.pdf"' in answer["Content-Disposition"]
    assert client.get(address).status_code == 302  # to sign in
    client.force_login(add_person(by=owner, username="mara", name="Mara Test", role="technician"))
    assert client.get(address).status_code == 404
    assert owner_client.get("/jobs/999999/sheet.pdf").status_code == 404


def test_questions_do_not_grow_with_the_lines_of_a_signed_job(shop, job, technician, technician_client):  # noqa: F811
    """Page and sheet, which are drawn from its record."""
    cans = [f"X-{number}" for number in range(9)]
    delivery(*(came(code, "can", 340_000, tare_mg=100_000) for code in cans), day=today())

    def asked(number):
        counts = []
        for address in (f"/jobs/{number}/", f"/jobs/{number}/sheet.pdf"):
            with CaptureQueriesContext(connection) as captured:
                assert technician_client.get(address).status_code == 200
            counts.append(len(captured))
        return counts

    other = start_job(unit=job.unit, technician=technician, by=technician, key=uuid.uuid4())
    enter(job, technician, "charge", cans[0], before=440_000, after=400_000)
    for code in cans[1:]:
        enter(other, technician, "charge", code, before=440_000, after=400_000)
    for one in (job, other):
        sign_job(one.pk, by=technician, reasons={"under": "a test"})
    assert asked(other.pk) == asked(job.pk)
