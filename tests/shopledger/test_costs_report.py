"""The report of what jobs cost ends with what it comes to, by the amounts as they are printed."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest

from inventory.shop.clock import today
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.signing.actions import correct_job, sign_job
from shopledger.reporting.report import Period
from shopledger.reports.costs import JOB_COSTS
from shopledger.sealing.actions import seal_period
from tests.jobs.test_jobs import bay  # noqa: F401 (fixture)
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
G = 1000
UNDER = {"under": "test"}


@pytest.fixture
def charged(bay, technician):  # noqa: F811
    """Two jobs of yesterday, 200 g and 100 g of what came first, 340 g at 7.00: 4.12 and 2.06."""
    day = today() - dt.timedelta(1)
    cans = [("CAN-7", 700, 200), ("CAN-8", 999, 100)]
    made = [
        came(code, "can", 340 * G, tare_mg=100 * G, grade="reclaimed", price_minor=price) for code, price, _ in cans
    ]
    delivery(*made, day=day - dt.timedelta(1))
    signed = []
    for code, _, grams in cans:
        job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
        change_job(job.pk, by=technician, day=day)
        readings = {"before": 440 * G, "after": (440 - grams) * G}
        enter_line(job.pk, by=technician, key=uuid.uuid4(), action="charge", container=code, **readings)
        signed.append(sign_job(job.pk, by=technician, reasons=UNDER))
    return signed


def summed(period, key):
    """What the report says in all, after its rows were added up by hand."""
    made = JOB_COSTS.rows(period, key)
    at = [one.name for one in made.columns].index("cost")
    assert Decimal(made.total[at]) == sum(Decimal(row[at]) for row in made.rows if row[at])
    assert len(made.total) == len(made.columns) and made.total[0] == "In all"
    assert [one for one in made.total[1:] if one] == [made.total[at]], "grams of one gas and of another are no sum"
    return made.total[at]


@pytest.mark.parametrize("key", [None, *JOB_COSTS.keys])
def test_it_comes_to_what_its_rows_say(charged, key):
    assert summed(Period(today() - dt.timedelta(1), today()), key) == "6.18"
    assert JOB_COSTS.rows(Period(dt.date(2020, 1, 1), dt.date(2020, 1, 31)), key).total == ()


@pytest.mark.parametrize("key", [None, *JOB_COSTS.keys])
def test_what_a_later_period_takes_off_is_taken_off_the_sum(charged, technician, key):
    """The day is sealed with 200 g; it was 100 g: the later period says -4.12 and 2.06."""
    seal_period(today() - dt.timedelta(1), "olga")
    new = correct_job(charged[0].pk, by=technician, note="misread")
    line = {"action": "charge", "container": "CAN-7", "before": 440 * G, "after": 340 * G}
    enter_line(new.pk, by=technician, key=new.lines.get().key, **line)
    sign_job(new.pk, by=technician, reasons=UNDER)
    assert summed(Period(today(), today()), key) == "-2.06"
