"""The steps of a job: who saved them, passing one over, and what one step forbids another."""

import dataclasses

import pytest

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.reference.rulebook import rulebook
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, skip_step, start_job
from jobs.drafts.clocks import tap_clock
from jobs.drafts.models import Job
from jobs.signing.actions import correct_job, sign_job
from jobs.units.models import Unit
from tests.jobs.test_job_pages import job, step_fields  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, content, enter, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def saved(job):  # noqa: F811
    return {one.step: (one.by.username, one.skipped) for one in job.steps.select_related("by")}


def test_each_step_says_who_saved_it(job, technician, owner, technician_client):  # noqa: F811
    whole_job(job, technician)
    tap_clock(job.pk, by=owner, clock="evacuation_started")
    technician_client.post(f"/jobs/{job.pk}/step/check/", step_fields("check") | {"vent_c": "7"})
    tess, olive = ("tess", ""), ("olive", "")
    assert saved(job) == {"recover": tess, "oil": tess, "charge": tess, "evacuate": olive, "check": tess}
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Saved by Olive Test" in page and "Saved by Tess Test" in page


def test_a_step_is_passed_over_with_a_reason(job, technician, technician_client):  # noqa: F811
    answer = technician_client.post(f"/jobs/{job.pk}/skip/evacuate/", {"reason": " "}, headers=HTMX)
    assert answer.status_code == 422 and "Say why this step is skipped" in answer.content.decode()
    answer = technician_client.post(f"/jobs/{job.pk}/skip/evacuate/", {"reason": "topped up only"}, headers=HTMX)
    assert answer.status_code == 200 and "Skipped by Tess Test" in answer.content.decode()
    job.refresh_from_db()
    assert saved(job)["evacuate"] == ("tess", "topped up only")
    assert job.reasons == {"evacuation": "topped up only", "hold": "topped up only"}
    assert technician_client.post(f"/jobs/{job.pk}/skip/charge/", {"reason": "x"}).status_code == 404
    tap_clock(job.pk, by=technician, clock="evacuation_started")
    assert saved(job)["evacuate"] == ("tess", "")


def test_a_step_with_entries_is_not_passed_over(job, technician):  # noqa: F811
    enter(job, technician, "recover", "REC-1", quantity=50_000)
    with pytest.raises(Refused, match="has entries"):
        skip_step(job.pk, by=technician, step="recover", reason="none")


def test_reasons_for_passing_over_stand_on_the_signed_job_and_its_sheet(job, technician, technician_client):  # noqa: F811
    import io

    from pypdf import PdfReader

    whole_job(job, technician)
    skip_step(job.pk, by=technician, step="identify", reason="identified at the last visit")
    change_job(job.pk, by=technician, parts=["condenser"], static_said="5.7 bar", static_pa=671_000.0, ambient_c=25.0)
    sign_job(job.pk, by=technician)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Identify: skipped" in page and "identified at the last visit" in page
    assert "Condenser" in page and "with liquid in it stands at 25" in page
    sheet = technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content
    words = "".join(part.extract_text() for part in PdfReader(io.BytesIO(sheet)).pages)
    assert "identified at the last visit" in words and "Condenser" in words
    new = correct_job(job.pk, by=technician, note="wrong part")
    assert saved(new)["identify"] == ("tess", "identified at the last visit")
    assert new.parts == ["condenser"]


# -- identified as something else ------------------------------------------------------------------


def test_what_is_not_the_label_s_is_kept_apart(job, technician, technician_client):  # noqa: F811
    enter(job, technician, "recover", "REC-1", before=5_000_000, after=5_120_000)
    change_job(job.pk, by=technician, identified_as="R-1234yf")
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "R-1234yf was found, and the label says R-134a" in page
    sign_job(job.pk, by=technician)
    container = Container.objects.get(code="REC-1")
    assert (container.grade, content("REC-1")) == ("mixed", 120_000), "an empty cylinder is marked by what comes in"
    assert Voucher.objects.get(kind="job").detail.count('"mixed"') >= 1
    assert verify().faults == []


def test_it_does_not_come_to_what_is_clean(job, technician, bay):  # noqa: F811
    first = start_job(unit=bay, technician=technician, by=technician, key="00000000-0000-4000-8000-000000000001")
    enter(first, technician, "recover", "REC-1", before=5_000_000, after=5_100_000)
    sign_job(first.pk, by=technician)
    change_job(job.pk, by=technician, purity_percent=90.0)
    with pytest.raises(
        Refused, match="REC-1 holds recovered R-134a; what was identified must be kept apart"
    ) as refused:
        enter(job, technician, "recover", "REC-1", before=5_100_000, after=5_200_000)
    assert refused.value.field == "container"
    assert job.lines.count() == 0


def test_what_was_entered_before_it_was_identified_stands_in_the_way(job, technician, bay):  # noqa: F811
    first = start_job(unit=bay, technician=technician, by=technician, key="00000000-0000-4000-8000-000000000001")
    enter(first, technician, "recover", "REC-1", before=5_000_000, after=5_100_000)
    sign_job(first.pk, by=technician)
    enter(job, technician, "recover", "REC-1", before=5_100_000, after=5_200_000)
    change_job(job.pk, by=technician, identified_as="unknown")
    with pytest.raises(Refused, match="kept apart"):
        sign_job(job.pk, by=technician)
    assert Job.objects.get(pk=job.pk).is_draft and content("REC-1") == 100_000


# -- leaks and oil -------------------------------------------------------------------------------------


@pytest.fixture
def strict(monkeypatch):
    """A rulebook in which a leak that was found stops the charge."""
    book = rulebook("generic")
    rules = tuple(dataclasses.replace(rule, stops_charge=True) for rule in book.sections["leak_repair"])
    changed = dataclasses.replace(book, sections={**book.sections, "leak_repair": rules})
    monkeypatch.setattr(Shop, "rules", property(lambda self: changed))


def test_an_open_leak_stops_the_charge_where_the_rulebook_says_so(job, technician, strict):  # noqa: F811
    change_job(job.pk, by=technician, leak_result="found, not repaired")
    with pytest.raises(Refused, match="nothing may be charged before it is"):
        enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    change_job(job.pk, by=technician, leak_result="found and repaired")
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    change_job(job.pk, by=technician, leak_result="found, not repaired")
    with pytest.raises(Refused, match="A leak was found and not repaired"):
        sign_job(job.pk, by=technician, reasons={"leak": "they insisted", "under": "x"})


def test_elsewhere_it_asks_for_a_reason(job, technician, technician_client):  # noqa: F811
    change_job(job.pk, by=technician, leak_result="found, not repaired")
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    assert "What is charged now leaks out again" in technician_client.get(f"/jobs/{job.pk}/").content.decode()
    with pytest.raises(Refused, match="Say why it was charged all the same"):
        sign_job(job.pk, by=technician, reasons={"under": "x"})
    assert sign_job(job.pk, by=technician, reasons={"under": "x", "leak": "hospital bus"}).state == "signed"


def test_oil_that_would_conduct_does_not_go_into_a_high_voltage_compressor(job, technician):  # noqa: F811
    Unit.objects.update(oil="POE 68", high_voltage_compressor=True)
    with pytest.raises(Refused, match="high voltage and its label names POE 68; PAG 46 must not go in"):
        enter(job, technician, "oil-add", "OIL-1", quantity=30_000)
    Unit.objects.update(oil="")
    with pytest.raises(Refused, match="Enter that oil with the unit first"):
        enter(job, technician, "oil-add", "OIL-1", quantity=30_000)
    Unit.objects.update(oil="PAG 46")
    enter(job, technician, "oil-add", "OIL-1", quantity=30_000)


def test_another_oil_wants_a_reason(job, technician):  # noqa: F811
    Unit.objects.update(oil="POE 68")
    enter(job, technician, "oil-add", "OIL-1", quantity=30_000)
    with pytest.raises(Refused, match="The unit takes POE 68, and the bottle holds PAG 46. Say why it was taken"):
        sign_job(job.pk, by=technician)
    assert sign_job(job.pk, by=technician, reasons={"oil-OIL-1": "the compressor's new plate"}).state == "signed"


# -- before the first step -----------------------------------------------------------------------------


def test_earlier_visits_say_what_was_lost_between_them(bay, technician, technician_client):  # noqa: F811
    import datetime as dt
    import uuid

    def work(days, recovered, *cans):
        one = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
        change_job(one.pk, by=technician, day=one.day - dt.timedelta(days=days), vacuum_pa=66.0)
        if recovered:
            enter(one, technician, "recover", "REC-1", before=5_000_000, after=5_000_000 + recovered)
        for code, after in cans:
            enter(one, technician, "charge", code, before=440_000, after=after)
        sign_job(one.pk, by=technician, reasons={"under": "x", "over": "x"})

    work(8, 0, ("CAN-1", 100_000), ("CAN-2", 260_000))
    work(2, 400_000)
    start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    page = technician_client.get(f"/jobs/{Job.objects.latest('id').pk}/").content.decode()
    # 520 g went in, 400 g came out six days later, of an aim of 520 g: 120/520 x 365/6 = 1403.8 % a year.
    assert "Lost" in page and "120 g" in page and "in the 6 days until the next visit" in page and "1403.8 %" in page


def test_the_shop_s_own_limits_come_before_the_rulebook_s(shop, job, technician_client):  # noqa: F811
    Shop.objects.update(evacuation_minutes=45)
    assert "Run the pump at least 45 min" in technician_client.get(f"/jobs/{job.pk}/").content.decode()
