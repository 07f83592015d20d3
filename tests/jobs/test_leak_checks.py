"""Checks for leaks: when they are due, under, at and over the thresholds, and where they are seen."""

import datetime as dt
import uuid
from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.measures.months import add_months
from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.verdicts.leak_check import leak_check
from inventory.verdicts.leak_repair import Checked, check_again
from jobs.drafts.actions import change_job, start_job
from jobs.leaks.leak_checks import due
from jobs.leaks.queries import checks_due
from jobs.people.actions import add_certificate
from jobs.signing.actions import NotSignable, sign_job
from jobs.units.actions import add_unit, change_unit
from tests.kept import saved
from tests.reading import without_keys

DAY = dt.date(2026, 6, 10)
EU = rulebook("eu")
UNIT = System("stationary", "R-134a", 7_000_000)  # 10.01 t


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [
        ("2026-01-31", 1, "2026-02-28"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2026-12-10", 1, "2027-01-10"),
        ("2026-05-10", 12, "2027-05-10"),
    ],
)
def test_months_are_counted_by_the_calendar(day, months, then):
    assert add_months(dt.date.fromisoformat(day), months) == dt.date.fromisoformat(then)


def asked(last=None, repaired=None, detection=False, day=DAY, system=UNIT, since=()):
    system = replace(system, traits=frozenset({"detection"} if detection else ()))
    again = check_again(EU, system, repaired, since, day) if repaired else None
    return due(leak_check(EU, system, day), again, last_checked=last, today=day)


def test_the_interval_is_12_months_and_24_with_detection():
    # Regulation (EU) 2024/573 article 5(6)(a)
    last = dt.date(2025, 6, 9)
    assert (asked(last).due, asked(last).overdue) == (dt.date(2026, 6, 9), True)
    assert not asked(dt.date(2025, 6, 10)).overdue, "on the day itself it is not overdue"
    assert asked(last, detection=True).due == dt.date(2027, 6, 9)
    assert asked(last).verdict.by == dt.date(2026, 6, 9) and "due by 2026-06-09" in asked(last).verdict.said


def test_a_repair_is_checked_within_a_month():
    # Article 4(5): repaired on 10 May, checked after 24 hours of running and by 10 June
    found = asked(dt.date(2026, 5, 10), dt.date(2026, 5, 10))
    assert (found.due, found.overdue) == (dt.date(2026, 6, 10), False) and "24 hours of running" in found.why
    assert asked(dt.date(2026, 5, 10), dt.date(2026, 5, 10), day=dt.date(2026, 6, 11)).overdue
    assert "4(5)" in found.cited
    checked = asked(dt.date(2026, 5, 20), dt.date(2026, 5, 10), since=[Checked(dt.date(2026, 5, 20))])
    assert checked.due == dt.date(2027, 5, 20)
    late = asked(dt.date(2026, 6, 20), dt.date(2026, 5, 10), since=[Checked(dt.date(2026, 6, 20))])
    assert late.due == dt.date(2027, 6, 20), "what was made too late is not due any more"


def test_what_was_never_checked_is_due_today():
    assert (asked().due, asked().overdue) == (DAY, False) and "no check is recorded" in asked().why


def test_without_a_rule_nothing_is_due():
    car = System("vehicle", "R-134a", 500_000)
    assert asked(system=car, repaired=DAY).due is None


def test_without_a_charge_it_cannot_be_judged():
    found = asked(system=System("stationary", "R-134a"))
    assert found.is_open and found.due is None and "say what its full charge is" in found.why


@pytest.fixture
def unit(shop, technician):
    saved(Shop.objects.get(), rulebook="eu")
    add_certificate(
        person=technician,
        by=None,
        scheme="A1",
        number="A-1",
        issuer="Example board",
        issued=dt.date(2020, 1, 1),
        expires=None,
    )
    return add_unit(
        by=technician,
        name="Cold room",
        kind="stationary",
        exactly="refrigeration",
        refrigerant="R-134a",
        charge_nominal_mg=3_497_000,
    )


def visit(unit, technician, day, result):
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=day, leak_result=result)
    sign_job(job.pk, by=technician)


@pytest.mark.django_db
def test_a_unit_falls_under_it_by_its_charge(unit, technician):
    book = Shop.current().rules
    assert [one.unit for one in checks_due(book, today())] == [unit]
    change_unit(unit, by=technician, charge_nominal_mg=3_496_000)  # 4.99928 t
    assert checks_due(book, today()) == []
    change_unit(unit, by=technician, charge_nominal_mg=6_900_000)
    assert checks_due(book, today())
    change_unit(unit, by=technician, sealed=True)  # 9.867 t: under the 10 t of what is sealed
    assert checks_due(book, today()) == []


@pytest.mark.django_db
def test_a_signed_check_moves_it_on(unit, technician, technician_client):
    book = Shop.current().rules
    visit(unit, technician, today() - dt.timedelta(days=400), "none found")
    (one,) = checks_due(book, today())
    assert one.check.overdue
    page = technician_client.get("/units/leak-checks/").content.decode()
    assert "overdue" in page and "Cold room" in page and "2024/573" in page
    visit(unit, technician, today(), "found and repaired")
    (one,) = checks_due(book, today())
    assert one.check.due == add_months(today(), 1) and "after the repair" in one.check.why
    assert "after the repair" in technician_client.get(f"/units/{unit.pk}/").content.decode()
    visit(unit, technician, today(), "found, not repaired")
    assert checks_due(book, today())[0].check.due == add_months(today(), 1), "what is not repaired is no check passed"


@pytest.mark.django_db
def test_cars_are_not_listed_and_questions_do_not_grow(unit, technician, technician_client):
    add_unit(by=technician, plate="CAR", refrigerant="R-134a", charge_nominal_mg=50_000_000)

    def count():
        with CaptureQueriesContext(connection) as seen:
            assert "CAR" not in without_keys(technician_client.get("/units/leak-checks/").content.decode())
        return len(seen)

    few = count()
    for n in range(20):
        add_unit(by=technician, name=f"Room {n}", kind="stationary", refrigerant="R-134a", charge_nominal_mg=4_000_000)
    assert count() == few


@pytest.mark.django_db
def test_the_form_takes_the_exact_kind(shop, technician_client):
    answer = technician_client.post(
        "/units/new/", {"key": str(uuid.uuid4()), "name": "Coach", "kind": "vehicle", "exactly": "vehicle/bus"}
    )
    assert answer.status_code == 302
    page = technician_client.get(answer.url).content.decode()
    assert "a/c of a bus or coach" in page
    form = technician_client.get(answer.url + "edit/").content.decode()
    assert '<option value="vehicle/bus" selected>' in form


@pytest.mark.django_db
def test_an_exact_kind_belongs_to_its_kind(shop, technician):
    from inventory.text.refusal import Refused

    with pytest.raises(Refused, match="leave it blank, or choose"):
        add_unit(by=technician, name="x", kind="vehicle", exactly="refrigeration")


@pytest.mark.django_db
def test_a_check_asks_for_its_certificate(unit, technician):
    # Regulation (EU) 2024/573 article 5(4): by a certified person
    technician.certificates.update(scheme="M1")
    with pytest.raises(NotSignable, match="checking for leaks"):
        visit(unit, technician, today(), "none found")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kg", "sealed", "signs"), [(2.999, False, True), (3, False, False), (5.999, True, True), (6, True, False)]
)
def test_a_certificate_for_small_charges_reaches_so_far(unit, technician, kg, sealed, signs):
    # Implementing Regulation (EU) 2024/2215 article 3(2)(b): under 3 kg, sealed and labelled under 6 kg
    technician.certificates.update(scheme="A2")
    mg = int(kg * 1_000_000)
    unit = change_unit(unit, by=technician, charge_nominal_mg=None, charge_max_mg=mg, sealed=sealed)
    if signs:
        visit(unit, technician, today(), "none found")
    else:
        with pytest.raises(NotSignable, match="checking for leaks"):
            visit(unit, technician, today(), "none found")
