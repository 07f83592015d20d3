"""Which days can be entered: at the bounds, in every form, by every action, in every file."""

import datetime as dt
import uuid

import pytest
from django import forms
from django.urls import get_resolver
from hypothesis import given
from hypothesis import strategies as st

from inventory.containers.actions import correct_tare, count, decant, move, regrade, retire
from inventory.containers.models import Scale
from inventory.ledger.models import Voucher
from inventory.measures.days import FIRST_ENTRY, FIRST_MADE, objection, said_day
from inventory.receiving.actions import open_stock
from inventory.scales.actions import CheckMade, check_scale
from inventory.shop.clock import today
from inventory.shop.forms import DayField
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, start_job
from jobs.people.actions import add_certificate
from jobs.units.actions import add_unit
from tests.inventory.test_office_pages import CANS, delivery, ready  # noqa: F401 (ready: a fixture)
from tests.kept import made
from tests.stock import came
from tests.stock import delivery as received

NOW = dt.date(2026, 3, 2)
OLD = dt.date(1926, 3, 2)


@given(st.dates())
def test_at_the_bounds(day):
    said = objection(day, FIRST_ENTRY, NOW)
    assert bool(said) is not (dt.date(1990, 1, 1) <= day <= dt.date(2076, 3, 2))


@pytest.mark.parametrize(
    ("day", "first", "due", "said"),
    [
        (OLD, FIRST_ENTRY, False, "2 Mar 1926 is before 1990; check the year. Did you mean 2 Mar 2026?"),
        (dt.date(26, 3, 2), FIRST_ENTRY, False, "2 Mar 0026 is before 1990; check the year. Did you mean 2 Mar 2026?"),
        (dt.date(1926, 3, 3), FIRST_ENTRY, False, "3 Mar 1926 is before 1990; check the year."),  # tomorrow
        (dt.date(1929, 5, 1), FIRST_ENTRY, True, "1 May 1929 is before 1990; check the year. Did you mean 1 May 2029?"),
        (dt.date(1985, 5, 1), FIRST_ENTRY, False, "1 May 1985 is before 1990; check the year."),
        (dt.date(1985, 5, 1), FIRST_MADE, False, ""),
        (
            dt.date(2126, 3, 2),
            FIRST_ENTRY,
            False,
            "2 Mar 2126 is more than 50 years from now; check the year. Did you mean 2 Mar 2026?",
        ),
        (
            dt.date(1904, 2, 29),
            FIRST_ENTRY,
            False,
            "29 Feb 1904 is before 1990; check the year. Did you mean 29 Feb 2004?",
        ),
    ],
)
def test_the_day_that_was_meant_is_named(day, first, due, said):
    assert objection(day, first, NOW, due=due) == said


# Reading a list, a report or a bundle of a period enters no day.
LOOKED_UP = {
    "inventory.audit.views.TrailForm.first",
    "inventory.audit.views.TrailForm.last",
    "inventory.counting.forms.PeriodForm.first",
    "inventory.counting.forms.PeriodForm.last",
    "inventory.vouchers.views.VoucherFilter.since",
    "inventory.vouchers.views.VoucherFilter.until",
    "shopledger.report_pages.forms.PeriodForm.first",
    "shopledger.report_pages.forms.PeriodForm.last",
}


def test_every_day_of_every_form_is_bounded_but_those_that_are_only_looked_up():
    get_resolver().url_patterns  # noqa: B018 (which loads every form)
    unbounded = set()
    for form in _forms(forms.BaseForm):
        for name, field in getattr(form, "base_fields", {}).items():
            bounded = isinstance(field, DayField) and field.first is not None
            if isinstance(field, forms.DateField) and not bounded:
                unbounded.add(f"{form.__module__}.{form.__qualname__}.{name}")
    assert unbounded == LOOKED_UP


def _forms(cls):
    for one in cls.__subclasses__():
        if one.__module__.split(".")[0] in {"inventory", "jobs", "shopledger"}:
            yield one
        yield from _forms(one)


def test_a_delivery_of_1926_is_refused_on_the_page_and_what_was_typed_kept(ready):  # noqa: F811
    before = Voucher.objects.count()
    this = today().replace(day=1)
    answer = ready.post("/receiving/new/", delivery(CANS, day=str(this.replace(year=1926))))
    page = answer.content.decode()
    assert answer.status_code == 422 and Voucher.objects.count() == before
    assert f"is before 1990; check the year. Did you mean {said_day(this)}?" in page and 'value="INV-1"' in page


@pytest.fixture
def stock(db, shop):
    made(Scale, code="bench", readability_mg=1000, usual=True)
    received(
        came("A", "can", 340_000, tare_mg=100_000),
        came("C", "refillable", 5_000_000),
        came("R", "recovery"),
        day=today(),
    )


def entries(technician):
    once = {"day": OLD, "by": "o", "key": str(uuid.uuid4())}
    unit = add_unit(by=technician, customer="Ada", plate="T1", refrigerant="R-134a")
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    scale = Scale.objects.get()
    return {
        "receipt": lambda: received(came("Z", "can", 340_000), day=OLD),
        "opening": lambda: open_stock(lines=[came("Z", "can", 340_000)], **once),
        "move": lambda: move(codes=["A"], location="Van", **once),
        "regrade": lambda: regrade(code="C", grade="recycled", **once),
        "decant": lambda: decant(source="A", into="C", quantity=1000, **once),
        "count": lambda: count(readings={"A": 440_000}, **once),
        "retire": lambda: retire(codes=["A"], residue_into="", **once),
        "tare": lambda: correct_tare(code="A", tare_mg=1000, note="found", **once),
        "scale": lambda: check_scale(scale=scale, check=CheckMade(OLD, 50_000, 50_000), by="o", key=uuid.uuid4()),
        "scale due": lambda: check_scale(
            scale=scale, check=CheckMade(today(), 50_000, 50_000, next_due=OLD), by="o", key=uuid.uuid4()
        ),
        "job": lambda: start_job(unit=unit, technician=technician, by=technician, day=OLD, key=uuid.uuid4()),
        "job's day": lambda: change_job(job.pk, by=technician, day=OLD),
        "certificate": lambda: add_certificate(
            by=None, person=technician, scheme="S", number="1", issuer="", issued=dt.date(1826, 1, 1), expires=None
        ),
        "certificate ends": lambda: add_certificate(
            by=None, person=technician, scheme="S", number="1", issuer="", issued=today(), expires=OLD.replace(2226)
        ),
        "unit": lambda: add_unit(by=technician, customer="Bo", plate="T2", installed_on=dt.date(1826, 1, 1)),
    }


def test_no_action_takes_such_a_day(stock, technician):
    table = entries(technician)
    before = Voucher.objects.count()
    for name, act in table.items():
        with pytest.raises(Refused, match="check the year"):
            act()
        assert Voucher.objects.count() == before, name


def test_what_is_rightly_old_is_taken(stock, technician):
    unit = add_unit(by=technician, customer="Bo", plate="T2", installed_on=dt.date(1985, 6, 1))
    said = {"scheme": "S", "number": "1", "issuer": "", "issued": dt.date(1984, 1, 1), "expires": None}
    assert unit.installed_on.year == 1985 and add_certificate(by=None, person=technician, **said).issued.year == 1984
    assert received(came("OLD", "refillable", 0, retest_due=dt.date(1989, 1, 1)), day=today())
