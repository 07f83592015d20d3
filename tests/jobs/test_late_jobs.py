"""A job of an earlier day, entered after something else was recorded for its containers."""

import datetime as dt
import html
import re
import uuid

import pytest

from inventory.containers.actions import move, retire
from inventory.ledger.models import Voucher
from inventory.ledger.verify import verify
from inventory.measures.days import said_day
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.actions import enter_line, start_job
from jobs.drafts.queries import chargeable, for_recovery_and_oil, order_asked
from jobs.signing.actions import correct_job, sign_job
from tests.jobs.test_jobs import bay, content  # noqa: F401 (a fixture)
from tests.stock import weigh

pytestmark = pytest.mark.django_db
UNDER = {"under": "a test"}


def ago(days):
    return today() - dt.timedelta(days)


@pytest.fixture
def late(bay, technician):  # noqa: F811
    """A job of yesterday that is entered today."""
    return start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4(), day=ago(1))


def charged(job, by, code="CAN-1"):
    weights = {"before": 440_000, "after": 300_000}
    return enter_line(job.pk, by=by, key=uuid.uuid4(), action="charge", container=code, **weights)


def test_a_container_retired_later_that_day_is_charged_from(late, technician):
    """What is left in it by the retirement is heel loss, 140 g less than without the job."""
    moved = move(codes=["CAN-1"], location="Van", day=ago(1), by="office", follows=0)
    retire(codes=["CAN-1"], residue_into="", day=ago(1), by="office", follows=moved)
    charged(late, technician)
    assert [one.kind for one in order_asked(late, list(late.lines.all())).acts] == ["move", "retirement"]
    sign_job(late.pk, by=technician, reasons=UNDER, follows=moved)
    assert content("CAN-1") == 0 and verify().faults == []


def test_a_container_retired_the_day_before_is_refused(late, technician):
    retire(codes=["CAN-1"], residue_into="", day=ago(2), by="office")
    move(codes=["CAN-2"], location="Van", day=ago(1), by="office", follows=0)
    charged(late, technician, "CAN-2")
    with pytest.raises(Refused, match="CAN-1 is retired"):
        charged(late, technician)


def test_what_was_retired_since_is_offered(late, technician, technician_client):
    retire(codes=["CAN-1"], residue_into="", day=ago(1), by="office", follows=0)
    retire(codes=["REC-1", "OIL-1"], residue_into="", day=today(), by="office")
    retire(codes=["CAN-2"], residue_into="", day=ago(2), by="office")
    assert [one.code for one in chargeable("R-134a", day=ago(1))] == ["CAN-1"]
    assert {one.code for one in for_recovery_and_oil("R-134a", ago(1))} == {"REC-1", "OIL-1"}
    assert not chargeable("R-134a", day=today()) and not for_recovery_and_oil("R-134a", today())
    page = technician_client.get(f"/jobs/{late.pk}/").content.decode()
    assert f"CAN-1 · retired {said_day(ago(1))} · Store" in page
    assert f"REC-1 · retired {said_day(today())}" in page and f"PAG 46 · retired {said_day(today())}" in page


# -- what signing posts besides ----------------------------------------------------------------------------


def shown(client, job):
    page = html.unescape(client.get(f"/jobs/{job.pk}/").content.decode())
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.partition('<details id="sign"')[2]))


def test_a_correction_shows_all_that_signing_posts(bay, technician, technician_client):  # noqa: F811
    """The can was weighed since: with 300 g instead of 140 g charged, its weighing finds other grams missing."""
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    charged(job, technician)
    first = sign_job(job.pk, by=technician, reasons=UNDER).voucher_id
    weighed = weigh("CAN-1", 300_000, day=today())
    new = correct_job(job.pk, by=technician, note="The weight after was misread.")
    line = new.lines.get()
    weights = {"before": 440_000, "after": 140_000}
    enter_line(new.pk, by=technician, key=line.key, action="charge", container="CAN-1", **weights)
    before = Voucher.objects.count()
    said = shown(technician_client, new)
    assert "This takes the place of what was signed before" in said
    assert (
        f"Voucher {first} is taken back" in said and "As it is entered now" in said and "What follows from it" in said
    )
    assert "unexplained gain to CAN-1 160 g R-134a check" in said
    assert f"CAN-1 , count, {said_day(today())} ( voucher {weighed} ) agreed, now 160 g unexplained gain" in said
    assert Voucher.objects.count() == before
    signed = sign_job(new.pk, by=technician, reasons=UNDER)
    kinds = Voucher.objects.filter(number__gt=before).order_by("number").values_list("kind", flat=True)
    assert list(kinds) == ["reversal", "job", "restatement"] and signed.voucher_id == before + 2


def test_a_late_job_shows_what_follows_from_it(late, technician, technician_client):
    weigh("CAN-1", 440_000, day=today())
    charged(late, technician)
    said = shown(technician_client, late)
    assert "Something was recorded for these containers after the day of this job" in said
    assert "Voucher" not in said.partition("What follows from it")[0]
    assert "unexplained gain to CAN-1 140 g R-134a check" in said.partition("What follows from it")[2]


def test_a_late_job_that_nothing_followed_shows_its_own_voucher_alone(late, technician, technician_client):
    charged(late, technician)
    said = shown(technician_client, late)
    assert "What will be posted CAN-1 to the unit 140 g" in said and "What follows" not in said


def test_a_late_job_whose_place_is_asked_shows_it_once_it_is_told(late, technician, technician_client):
    move(codes=["CAN-1"], location="Van", day=ago(1), by="office", follows=0)
    charged(late, technician)
    said = shown(technician_client, late)
    assert "nothing says which came first" in said and "What follows" not in said


def test_the_page_of_an_ordinary_job_asks_no_question_more(bay, technician, monkeypatch, technician_client):  # noqa: F811
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    charged(job, technician)
    monkeypatch.setattr("jobs.pages.page.would_sign", lambda *_: pytest.fail("asked"))
    assert "CAN-1 to the unit 140 g" in shown(technician_client, job)
