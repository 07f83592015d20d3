"""A job from its start to its correction, through the actions."""

import datetime as dt
import uuid

import pytest

from inventory.containers.actions import retire
from inventory.containers.models import Container, Scale, Weighing
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Movement, Record, Voucher
from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.actions import (
    ChangedMeanwhile,
    change_job,
    drop_job,
    enter_line,
    line_mark,
    preview,
    remove_line,
    start_job,
)
from jobs.drafts.clocks import tap_clock
from jobs.drafts.merge import marks
from jobs.drafts.models import Job, JobLine
from jobs.people.actions import add_certificate
from jobs.signing.actions import NotSignable, correct_job, sign_job
from jobs.units.actions import add_unit
from tests.kept import made, posted, saved
from tests.stock import came, delivery, weigh

pytestmark = pytest.mark.django_db


@pytest.fixture
def bay(technician, owner):
    """Two cans and a recovery cylinder, a bottle of oil, a unit of 500 g to 540 g, a certificate."""
    made(Scale, code="bench", readability_mg=1000, usual=True)
    day = today() - dt.timedelta(10)
    cans = [came(code, "can", 340_000, tare_mg=100_000) for code in ("CAN-1", "CAN-2")]
    cylinder = came("REC-1", "recovery", tare_mg=5_000_000)
    delivery(*cans, cylinder, came("OIL-1", "oil", 250_000, "PAG 46"), day=day)
    add_certificate(
        person=technician,
        by=owner,
        scheme="Section 609",
        number="A-1",
        issuer="Example board",
        issued=day - dt.timedelta(100),
        expires=None,
    )
    return add_unit(
        by=technician,
        customer="Ada Example",
        plate="TST-1",
        refrigerant="R-134a",
        charge_min_mg=500_000,
        charge_max_mg=540_000,
    )


@pytest.fixture
def job(bay, technician):
    return start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())


def enter(job, by, action, container="", **amounts):
    return enter_line(job.pk, by=by, key=uuid.uuid4(), action=action, container=container, **amounts)


def whole_job(job, technician):
    enter(job, technician, "recover", "REC-1", before=5_000_000, after=5_120_000)
    enter(job, technician, "oil-add", "OIL-1", quantity=30_000)
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    enter(job, technician, "charge", "CAN-2", before=440_000, after=259_000)
    enter(job, technician, "line-loss", quantity=5_000)


def content(code):
    return Container.objects.select_related("account").get(code=code).content


def test_a_job_is_signed_and_moves_what_it_says(job, technician):
    whole_job(job, technician)
    assert [one.kind for one in posted()] == ["receipt"]
    before = Voucher.objects.count()
    signed = sign_job(job.pk, by=technician)
    assert (signed.state, signed.voucher_id, signed.certificate) == ("signed", before + 1, "Section 609 A-1")
    assert [one.kind for one in posted()] == ["receipt", "job"] and Voucher.objects.count() == before + 1
    # 340 + 181 = 521 g left the cans, 5 g of them as line loss out of the first.
    assert [content(code) for code in ("CAN-1", "CAN-2", "REC-1", "OIL-1")] == [0, 159_000, 120_000, 220_000]
    to_unit = Movement.objects.filter(target_class=AccountClass.UNIT, substance__code="R-134a")
    assert sorted(to_unit.values_list("quantity", flat=True)) == [181_000, 335_000]
    assert Weighing.objects.count() == 6
    assert verify().faults == []


def test_nine_litres_of_oil_do_not_come_out_of_a_bottle_of_a_quarter_litre(job, technician):
    before = Voucher.objects.count()
    with pytest.raises(
        Refused, match="OIL-1 was never recorded to hold more than 250 mL, so 9\u202f000 mL cannot"
    ) as refused:
        enter(job, technician, "oil-add", "OIL-1", quantity=9_000_000)
    assert refused.value.field == "quantity" and not JobLine.objects.exists() and Voucher.objects.count() == before
    with pytest.raises(Refused, match="CAN-1 was never recorded to hold more than 340 g"):
        enter(job, technician, "charge", "CAN-1", quantity=425_001)
    enter(job, technician, "oil-add", "OIL-1", quantity=312_500)
    enter(job, technician, "charge", "CAN-1", quantity=425_000)


def test_signing_twice_posts_once(job, technician):
    whole_job(job, technician)
    before = Voucher.objects.count()
    assert sign_job(job.pk, by=technician).voucher_id == sign_job(job.pk, by=technician).voucher_id == before + 1
    assert Voucher.objects.count() == before + 1


def test_without_a_certificate_nothing_is_posted(job, technician):
    saved(technician.certificates.get(), expires=today() - dt.timedelta(1))
    whole_job(job, technician)
    before = Voucher.objects.count()
    with pytest.raises(NotSignable) as refused:
        sign_job(job.pk, by=technician)
    assert {o.key for o in refused.value.objections} == {"certificate-recover", "certificate-charge"}
    assert (Voucher.objects.count(), Job.objects.get().state) == (before, "draft")


def test_over_the_label_needs_a_reason_that_is_kept(job, technician):
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    enter(job, technician, "charge", "CAN-2", before=440_000, after=200_000)
    with pytest.raises(NotSignable) as refused:
        sign_job(job.pk, by=technician)
    assert [(o.key, o.refuses) for o in refused.value.objections] == [("over", False)]
    assert "580 g went in, 40 g over the most on the label (540 g)" in refused.value.message
    signed = sign_job(job.pk, by=technician, reasons={"over": "long hoses"})
    assert signed.reasons == {"over": "long hoses"}
    kept = stated("job", "J-00001/1")
    assert (kept.voucher, kept.said["reasons"]) == (signed.voucher_id, {"over": "long hoses"})
    assert "long hoses" not in signed.voucher.detail, "what can be erased stands in a record alone"


def test_an_open_system_asks_for_evacuation_and_hold(job, technician):
    change_job(job.pk, by=technician, system_opened=True)
    whole_job(job, technician)
    with pytest.raises(NotSignable) as refused:
        sign_job(job.pk, by=technician)
    assert [o.key for o in refused.value.objections] == ["evacuation", "hold"]


@pytest.mark.parametrize(
    ("entry", "field", "said"),
    [
        ({"action": "charge", "container": "NONE", "quantity": 1}, "container", "There is no container 'NONE'"),
        ({"action": "charge", "container": "CAN-1", "before": 1, "after": 2}, "after", "cannot weigh more"),
        ({"action": "recover", "container": "CAN-1", "quantity": 1000}, "container", "single-use container"),
        ({"action": "recover", "container": "REC-1", "before": 5_000_000, "after": 1}, "after", "cannot weigh less"),
        ({"action": "charge", "container": "OIL-1", "quantity": 1000}, "container", "is for PAG 46, not for R-134a"),
        ({"action": "oil-add", "container": "CAN-1", "quantity": 1000}, "container", "holds refrigerant, not oil"),
        ({"action": "line-loss", "quantity": 1000}, "quantity", "More is written as line loss"),
        ({"action": "line-loss", "container": "CAN-1", "quantity": 1000}, "container", "names no container"),
    ],
)
def test_a_wrong_entry_is_refused_at_its_field_and_not_kept(job, technician, entry, field, said):
    with pytest.raises(Refused) as refused:
        enter(job, technician, **entry)
    assert refused.value.field == field
    assert said in refused.value.message
    assert JobLine.objects.count() == 0


def test_the_same_entry_arriving_twice_is_one_line(job, technician):
    key = uuid.uuid4()
    for after in (None, 150_000):
        enter_line(job.pk, by=technician, key=key, action="charge", container="CAN-1", before=440_000, after=after)
    assert JobLine.objects.get().amount == 290_000
    remove_line(job.pk, by=technician, key=key)
    remove_line(job.pk, by=technician, key=key)
    assert JobLine.objects.count() == 0


def test_a_page_that_is_behind_does_not_overwrite(job, technician, office):
    seen = marks({"note": "", "vent_c": None})
    change_job(job.pk, by=office, shown=seen, note="from the desk", vent_c=None)
    with pytest.raises(ChangedMeanwhile) as refused:
        change_job(job.pk, by=technician, shown=seen, note="from the bay", vent_c=6.5)
    assert refused.value.clashes == ("note",)
    assert (Job.objects.get().note, Job.objects.get().vent_c) == ("from the desk", None)


def test_two_people_who_write_different_things_both_keep_them(job, technician, office):
    seen = marks({"note": "", "vent_c": None})
    change_job(job.pk, by=office, shown=seen, note="from the desk", vent_c=None)
    change_job(job.pk, by=technician, shown=seen, note="", vent_c=6.5)
    assert (Job.objects.get().note, Job.objects.get().vent_c) == ("from the desk", 6.5)


def test_an_entry_that_someone_else_changed_is_not_overwritten_unseen(job, technician, office):
    line = enter(job, technician, "charge", "CAN-1", before=440_000)
    seen, said = line_mark(line), {"key": line.key, "action": "charge", "container": "CAN-1", "before": 440_000}
    enter_line(job.pk, by=office, shown=seen, after=140_000, **said)
    with pytest.raises(ChangedMeanwhile, match="Oscar Test changed this entry"):
        enter_line(job.pk, by=technician, shown=seen, after=150_000, **said)
    assert JobLine.objects.get().after == 140_000
    enter_line(job.pk, by=technician, shown=seen, after=140_000, **said)  # the same once more is no quarrel
    enter_line(job.pk, by=technician, shown=line_mark(JobLine.objects.get()), after=150_000, **said)
    assert JobLine.objects.get().after == 150_000


def test_what_is_signed_is_what_the_summary_showed(job, technician, office):
    whole_job(job, technician)
    seen = Job.objects.get().version
    enter(job, office, "line-loss", quantity=1_000)
    with pytest.raises(ChangedMeanwhile, match="was changed since this summary"):
        sign_job(job.pk, by=technician, version=seen)
    assert Voucher.objects.filter(kind="job").count() == 0
    seen = Job.objects.get().version
    assert [sign_job(job.pk, by=technician, version=seen).state for _ in range(2)] == ["signed", "signed"]
    assert Voucher.objects.filter(kind="job").count() == 1


def test_a_weight_before_is_judged_at_once(job, technician):
    with pytest.raises(Refused, match="holds oil|is for PAG 46"):
        enter(job, technician, "charge", "OIL-1", before=440_000)
    line = enter(job, technician, "charge", "CAN-1", before=428_000)
    _, book = preview(job, [line], Scale.objects.get())
    first = book.postings.readings[0]
    assert (first.difference, first.outcome) == (-12_000, "unexplained loss")
    assert [transfer.quantity for transfer in book.postings.transfers] == [12_000]


def test_what_is_not_weighed_after_cannot_be_signed(job, technician):
    whole_job(job, technician)
    enter(job, technician, "charge", "CAN-2", before=259_000)
    with pytest.raises(NotSignable, match="CAN-2: The weight after is missing"):
        sign_job(job.pk, by=technician)


def test_a_clock_is_set_once_and_a_double_tap_stops_nothing(job, technician):
    for clock in ("evacuation_started", "evacuation_ended"):
        tap_clock(job.pk, by=technician, clock=clock)
    tapped = Job.objects.get()
    assert tapped.evacuation_started is not None and tapped.evacuation_ended is None
    early = tapped.evacuation_started - dt.timedelta(minutes=40)
    change_job(job.pk, by=technician, evacuation_started=early)
    for clock in ("evacuation_started", "evacuation_ended", "hold_started", "hold_ended"):
        tap_clock(job.pk, by=technician, clock=clock)
    tapped = Job.objects.get()
    assert tapped.evacuation_started == early and tapped.evacuation_ended > early
    assert tapped.hold_started is not None and tapped.hold_ended is None


@pytest.mark.parametrize("clock", ["test_ended", "evacuation_ended", "hold_ended"])
def test_what_was_not_begun_is_not_ended(job, technician, clock):
    with pytest.raises(Refused, match="enter both times by hand"):
        tap_clock(job.pk, by=technician, clock=clock)
    assert getattr(Job.objects.get(), clock) is None


def test_the_second_of_two_jobs_on_one_can_is_told(job, bay, technician):
    other = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    enter(job, technician, "charge", "CAN-1", before=440_000, after=240_000)
    enter(other, technician, "charge", "CAN-1", before=440_000, after=240_000)
    first = sign_job(job.pk, by=technician, reasons={"under": "first of two"})
    with pytest.raises(NotSignable) as refused:
        sign_job(other.pk, by=technician, reasons={"under": "second of two"})
    assert [o.key for o in refused.value.objections] == ["used-CAN-1"]
    assert f"Voucher {first.voucher_id} (job J-00001) was recorded for CAN-1" in refused.value.message


def test_a_correction_is_the_next_revision_and_both_stay(job, technician):
    whole_job(job, technician)
    first = sign_job(job.pk, by=technician).voucher_id
    new = correct_job(job.pk, by=technician, note="misread the second can")
    assert correct_job(job.pk, by=technician, note="again") == new
    line = new.lines.get(container__code="CAN-2")
    enter_line(new.pk, by=technician, key=line.key, action="charge", container="CAN-2", before=440_000, after=249_000)
    signed = sign_job(new.pk, by=technician)
    assert (signed.title, signed.state, signed.voucher_id) == ("J-00001 rev 2", "signed", first + 2)
    old = Job.objects.get(pk=job.pk)
    assert (old.state, old.voucher.reversed_by.number) == ("corrected", first + 1)
    told = [stated("job", f"J-00001/{revision}") for revision in (1, 2)]
    assert [one.body["state"] for one in told] == ["corrected", "signed"]
    assert told[1].said["correction_note"] == "misread the second can"
    assert [content(code) for code in ("CAN-1", "CAN-2", "REC-1", "OIL-1")] == [0, 149_000, 120_000, 220_000]
    assert verify().faults == []


def test_what_is_signed_or_anothers_does_not_change(job, technician, owner):
    from jobs.people.actions import add_person

    other = add_person(by=owner, username="mara", name="Mara Example", role="technician", password="a-long-pass-9")
    with pytest.raises(Refused, match="ask them"):
        change_job(job.pk, by=other, note="x")
    whole_job(job, technician)
    sign_job(job.pk, by=technician)
    for act in (
        lambda: change_job(job.pk, by=technician, note="x"),
        lambda: drop_job(job.pk, by=technician),
        lambda: enter(job, technician, "charge", "CAN-2", quantity=1),
    ):
        with pytest.raises(Refused, match="no longer changes"):
            act()


def test_a_dropped_draft_moves_nothing_and_stays_readable(job, technician):
    whole_job(job, technician)
    before = Voucher.objects.count()
    drop_job(job.pk, by=technician)
    assert (Job.objects.get().state, JobLine.objects.count(), Voucher.objects.count()) == ("dropped", 5, before)
    assert not Record.objects.filter(kind="job").exists(), "what nobody signed is no evidence"


def test_a_correction_is_entered_as_things_stood_then(job, technician):
    """The first can was emptied, then retired; the second was used again. Neither is in the correction's way."""
    whole_job(job, technician)
    sign_job(job.pk, by=technician)
    retire(codes=["CAN-1"], residue_into="", day=today(), by="office")
    weigh("CAN-2", 259_000, day=today())
    new = correct_job(job.pk, by=technician, note="the first can was left with 20 g")
    line = new.lines.get(container__code="CAN-1")
    enter_line(new.pk, by=technician, key=line.key, action="charge", container="CAN-1", before=440_000, after=120_000)
    signed = sign_job(new.pk, by=technician, reasons={"under": "as it was"})
    assert signed.state == "signed"
    assert [content(code) for code in ("CAN-1", "CAN-2")] == [0, 159_000]
    heel = Movement.objects.get(target_class=AccountClass.HEEL_LOSS)
    assert heel.quantity == 20_000
    assert verify().faults == []
