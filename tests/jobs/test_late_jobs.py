"""A job of an earlier day, entered after something else was recorded for its containers."""

import datetime as dt
import uuid

import pytest

from inventory.containers.actions import move, retire
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from jobs.drafts.actions import enter_line, start_job
from jobs.drafts.queries import chargeable, for_recovery_and_oil, order_asked
from jobs.signing.actions import sign_job
from tests.jobs.test_jobs import bay, content  # noqa: F401 (a fixture)

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
    assert f"CAN-1 · retired {ago(1)} · Store" in page
    assert f"REC-1 · retired {today()}" in page and f"PAG 46 · retired {today()}" in page
