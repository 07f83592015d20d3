"""Leak rates and cases of units that stand in the database: from signed jobs, events, full charges and methods to
pages, paper, home and findings. What the law says of each is held against its text in
tests/reference/law/test_us_leaks.py."""

import datetime as dt
import io
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from inventory.measures.days import said_day
from inventory.receiving.actions import Arrival, open_stock
from inventory.shop.clock import today, zone
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.drafts.models import Job
from jobs.leaks.actions import add_leak_event, void_leak_event
from jobs.leaks.case import present_rate
from jobs.leaks.case_queries import appliances, leaks_of, limited, open_cases
from jobs.people.actions import add_certificate
from jobs.signing.actions import sign_job
from jobs.units.actions import add_unit, change_unit
from jobs.units.models import Unit
from jobs.units.premises import ChargeFound, set_full_charge, set_method
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.kept import saved

pytestmark = pytest.mark.django_db
KG = 1_000_000


def ago(days):
    return today() - dt.timedelta(days=days)


@pytest.fixture
def rack(shop, technician):
    """20 kg of R-404A, so 84.106 with 20 %."""
    saved(Shop.objects.get(), rulebook="us-federal")
    add_certificate(by=None, person=technician, scheme="608-universal", number="U-1", issued=dt.date(2020, 1, 1))
    lines = [
        Arrival("refillable", gas, False, "virgin", 900 * KG, 1, "Store", code, tare_mg=100 * KG)
        for gas, code in (("R-404A", "CYL"), ("R-22", "OLD"))
    ]
    open_stock(lines=lines, day=ago(900), by="o", key=str(uuid.uuid4()))
    return add_unit(
        by=technician,
        customer="Example market",
        premises="Main street",
        name="Rack",
        kind="stationary",
        exactly="refrigeration",
        use="supermarket",
        refrigerant="R-404A",
        charge_nominal_mg=20 * KG,
    )


def charge(unit, technician, kilograms, day, container="CYL", **said):
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    enter_line(
        job.pk, by=technician, key=uuid.uuid4(), action="charge", container=container, quantity=int(kilograms * KG)
    )
    change_job(job.pk, by=technician, day=day, **said)
    asked = (
        f"not-weighed-{container}",
        f"used-{container}",
        "under",
        "over",
        "no-range",
        "empty",
        "evacuation",
        "leak",
    )
    sign_job(job.pk, by=technician, reasons=dict.fromkeys(asked, "test"))
    return Job.objects.get(pk=job.pk)


ASKED = {
    "repair": {"evacuated": False},
    "inspection": {"method": "electronic detector"},
    "initial-test": {"method": "bubbles"},
    "follow-up-test": {"method": "bubbles"},
}


def told(unit, technician, kind, day, **said):
    work = {"person": technician, "places": "liquid line", **ASKED[kind]} if kind in ASKED else {}
    return add_leak_event(unit, by=technician, kind=kind, day=day, **{**work, **said})


def page(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def kinds(first=None, last=None):
    return [(one.severity, one.rule) for one in findings(Period(first or ago(300), last or today()))]


LEAK = {"leak rate", "leak rate method", "leak repair", "chronic leak", "seasonal variance"}


def about_leaks(first=None, last=None):
    return [one for one in kinds(first, last) if one[1] in LEAK]


def test_an_excess_opens_a_case_and_nothing_is_written_for_it(rack, technician, office_client):
    charge(rack, technician, 4, ago(40))
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    assert leaks.cases == [], "20 % itself is not over the limit"
    before = Job.objects.count()
    charge(rack, technician, 0.1, ago(20))
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    (case,) = leaks.cases
    assert (case.day, case.step("repair").due, case.is_open(today())) == (ago(20), ago(-10), True)
    assert Job.objects.count() == before + 1
    said = page(office_client, f"/units/{rack.pk}/")
    assert "20.50 % a year, over 20 %" in said and f"repaired by {said_day(ago(-10))}" in said
    home = page(office_client, "/")
    assert "Leaks to be repaired" in home and "Rack: leak inspection" in home
    assert ("high", "leak rate") in about_leaks() and ("low", "leak rate method") in about_leaks()


def test_what_is_overdue_is_a_finding_and_late_at_home(rack, technician, office_client):
    charge(rack, technician, 5, ago(31))
    assert about_leaks().count(("high", "leak repair")) == 4, "inspection, repair, initial test, and no plan instead"
    assert "late, was due" in page(office_client, "/")
    assert about_leaks(ago(300), ago(1)).count(("high", "leak repair")) == 0, "on the 30th day it is not late"


def test_a_case_from_the_excess_to_its_end(rack, technician, office_client):
    charge(rack, technician, 5, ago(100))
    told(rack, technician, "inspection", ago(99))
    told(rack, technician, "repair", ago(90), parts="valve")
    told(rack, technician, "initial-test", ago(90), passed=True)
    told(rack, technician, "follow-up-test", ago(85), passed=True, all_leaks=True)
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    (case,) = leaks.cases
    assert case.repaired.day == ago(85)
    stands = {one.key: one.stands(today()) for one in case.steps if one.key != "inspections"}
    assert stands == {
        "inspection": "kept",
        "repair": "kept",
        "initial-test": "kept",
        "follow-up-test": "kept",
        "presumed": "not asked",
    }
    assert all(severity != "high" for severity, rule in about_leaks(ago(80))), about_leaks(ago(80))
    said = page(office_client, f"/units/{rack.pk}/leaks/")
    for words in ("Excess of", "Follow-up verification test", "done in time", "valve", "84.106(e)(2)"):
        assert words in said or words == "valve", words
    assert "Leak inspections after the rate was over its limit" in said
    charge(rack, technician, 1, ago(10))
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    assert len(leaks.cases) == 1 and leaks.latest[0].rate.percent == 5, "the sum began anew with the test"


def test_a_void_event_counts_for_nothing(rack, technician):
    charge(rack, technician, 5, ago(100))
    told(rack, technician, "repair", ago(90))
    told(rack, technician, "initial-test", ago(90), passed=True)
    test = told(rack, technician, "follow-up-test", ago(85), passed=True, all_leaks=True)
    assert leaks_of([rack], Shop.current().rules, today())[0].cases[0].repaired
    void_leak_event(test, by=technician, reason="of another unit")
    assert leaks_of([rack], Shop.current().rules, today())[0].cases[0].repaired is None


def test_marks_of_a_job_take_an_addition_out(rack, technician):
    charge(rack, technician, 20, ago(60), charge_why="installation")
    charge(rack, technician, 3, ago(50), charge_why="leak")
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    assert [one.addition.mg for one in leaks.judged] == [3 * KG]
    assert [(one.mg, one.why) for one in leaks.appliance.history.exempt] == [(20 * KG, "right after an installation")]


def test_a_seasonal_variance_wants_its_statement(rack, technician):
    job = start_job(unit=rack, technician=technician, by=technician, key=uuid.uuid4())
    open_stock(
        lines=[Arrival("recovery", "R-404A", False, "recovered", 0, 1, "Store", "REC", tare_mg=50 * KG)],
        day=ago(800),
        by="o",
        key=str(uuid.uuid4()),
    )
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="recover", container="REC", quantity=6 * KG)
    change_job(job.pk, by=technician, day=ago(200), recover_why="seasonal")
    sign_job(job.pk, by=technician, reasons={"not-weighed-REC": "test"})
    charge(rack, technician, 6, ago(20), charge_why="seasonal")
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    assert leaks.judged == [] and ("medium", "seasonal variance") in about_leaks()


def test_the_method_of_the_premises_counts_from_its_day(rack, technician):
    charge(rack, technician, 1, ago(100))
    charge(rack, technician, 1, ago(90))
    set_method(rack.premises, by=technician, method="annualizing", from_day=ago(95))
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    assert [(one.rate.method, one.method_set) for one in leaks.judged] == [("rolling", False), ("annualizing", True)]
    assert leaks.judged[1].rate.days == 10 and leaks.judged[1].over, "5 % in 10 days: 182.5 % a year"


def test_a_revised_full_charge_counts_from_its_day(rack, technician):
    charge(rack, technician, 4.5, ago(100))
    charge(rack, technician, 0.5, ago(50))
    set_full_charge(rack, by=technician, found=ChargeFound("measured", mg=25 * KG), from_day=ago(60))
    (leaks,) = leaks_of([rack], Shop.current().rules, today())
    assert [(one.rate.full_mg, one.over) for one in leaks.judged] == [(20 * KG, True), (25 * KG, False)]


def test_an_undecided_mark_cannot_be_judged(rack, technician, office_client):
    split = add_unit(by=technician, name="Rooftop", kind="stationary", refrigerant="R-404A", charge_nominal_mg=20 * KG)
    charge(split, technician, 19, ago(40))
    assert about_leaks() == [("low", "leak rate"), ("low", "leak rate method")]
    assert open_cases(Shop.current().rules, today()) == []
    said = page(office_client, f"/units/{split.pk}/")
    assert "cannot be judged: say whether it is a residential or light commercial A/C or heat pump" in said
    change_unit(split, by=technician, light_commercial="yes")
    assert about_leaks() == []
    change_unit(split, by=technician, light_commercial="no")
    assert ("high", "leak rate") in about_leaks() and len(open_cases(Shop.current().rules, today())) == 1


def test_a_unit_whose_full_charge_nobody_knows_is_asked_about(rack, technician, office_client):
    unknown = add_unit(by=technician, name="Old", kind="stationary", exactly="refrigeration", refrigerant="R-404A")
    charge(unknown, technician, 5, ago(40))
    assert about_leaks() == [("low", "leak rate")]
    assert "say what its full charge is" in page(office_client, f"/units/{unknown.pk}/")


def test_refrigerant_before_the_test_is_a_finding(rack, technician):
    charge(rack, technician, 5, ago(50))
    told(rack, technician, "repair", ago(40), evacuated=True)
    charge(rack, technician, 1, ago(38))
    told(rack, technician, "initial-test", ago(37), passed=True)
    said = [one.what for one in findings(Period(ago(60), today())) if one.rule == "leak repair"]
    assert any("before the initial verification test" in one for one in said)


def test_very_much_lost_in_a_year_is_reported(rack, technician):
    year = today().year - 1
    old = add_unit(
        by=technician,
        name="Old rack",
        kind="stationary",
        exactly="refrigeration",
        refrigerant="R-22",
        charge_nominal_mg=40 * KG,
    )
    charge(old, technician, 50, dt.date(year, 8, 1), container="OLD")
    found = [one for one in findings(Period(dt.date(year, 1, 1), dt.date(year, 12, 31))) if one.rule == "chronic leak"]
    assert [(one.severity, f"by {year + 1}-03-01" in one.what) for one in found] == [("high", True)]
    assert "125.00 %" in found[0].what and "82.157(j)" in found[0].citation
    told(old, technician, "report-sent", dt.date(year + 1, 2, 1))
    assert not [one for one in findings(Period(dt.date(year + 1, 1, 1), today())) if one.rule == "chronic leak"]


@pytest.mark.parametrize(("hours", "percent"), [(-2, 5), (2, 0)])
def test_an_addition_counts_only_after_the_test_of_that_day(rack, technician, monkeypatch, hours, percent):
    """The moment at which the charge was weighed, and the time of the test, both of one day."""
    day = ago(3)
    noon = dt.datetime.combine(day, dt.time(12), tzinfo=zone())
    with monkeypatch.context() as patch:
        patch.setattr("django.utils.timezone.now", lambda: noon)
        charge(rack, technician, 1, day)
    told(rack, technician, "repair", ago(4))
    told(rack, technician, "initial-test", ago(4), passed=True)
    at = noon + dt.timedelta(hours=hours)
    told(rack, technician, "follow-up-test", ago(3), passed=True, all_leaks=True, at=at)
    (appliance,) = appliances([rack], today()).values()
    assert present_rate(appliance, today()).percent == percent


def test_a_method_that_changes_while_a_rate_is_over_is_a_finding(rack, technician):
    set_method(rack.premises, by=technician, method="rolling", from_day=ago(200))
    charge(rack, technician, 5, ago(50))
    set_method(rack.premises, by=technician, method="annualizing", from_day=ago(40), reason="a new owner")
    assert ("medium", "leak rate method") in about_leaks()
    assert ("medium", "leak rate method") not in about_leaks(ago(39))


def test_open_cases_stand_before_the_regular_checks(rack, technician, office_client):
    charge(rack, technician, 5, ago(10))
    said = page(office_client, "/units/leak-checks/")
    assert "Leaks to be repaired" in said and "84.106" in said
    assert "Leaks to be repaired" not in page(office_client, f"/units/{rack.pk}/edit/")


def test_the_paper_says_what_the_page_says(rack, technician, office_client):
    charge(rack, technician, 5, ago(50))
    told(rack, technician, "repair", ago(40), parts="valve")
    answer = office_client.get(f"/units/{rack.pk}/leaks.pdf")
    assert answer["Content-Type"] == "application/pdf"
    text = "".join(one.extract_text() for one in PdfReader(io.BytesIO(answer.content)).pages)
    words = " ".join(text.split())
    for said in ("Leak rate and leak repair, Rack", "25.00 % a year, over 20 %", "Main street", "parts: valve", "[1]"):
        assert said in words, said
    assert "Local rules and licensed practice come first." in words and "Ledger at voucher" in words
    assert "Cautions" in words and "84.106(d)" in words
    assert ".." not in words, "a note ends in one full stop"


def test_what_a_case_says_of_the_last_addition_is_said_once(rack, technician, office_client):
    charge(rack, technician, 5, ago(50))
    answer = office_client.get(f"/units/{rack.pk}/leaks/").content.decode()
    assert answer.count("</span> The leak rate on") == 1
    paper = office_client.get(f"/units/{rack.pk}/leaks.pdf").content
    text = "".join(one.extract_text() for one in PdfReader(io.BytesIO(paper)).pages)
    assert " ".join(text.split("Notes")[0].split()).count("The leak rate on") == 1


def test_a_limit_that_is_passed_is_not_shown_as_kept(rack, technician, office_client):
    charge(rack, technician, 5, ago(50))
    answer = page(office_client, f"/units/{rack.pk}/leaks/")
    assert "may be up to 20 % a year" in answer and "as asked Its leak rate may be" not in answer


def test_an_address_that_a_page_wrote_stands_on_paper_without_boxes(rack, office_client):
    shop = Shop.current()
    shop.address = "12 Nowhere Lane\r\nImaginary Falls"
    saved(shop)
    paper = office_client.get(f"/units/{rack.pk}/leaks.pdf").content
    text = PdfReader(io.BytesIO(paper)).pages[0].extract_text()
    assert "12 Nowhere Lane, Imaginary Falls" in text


def test_only_units_under_a_limit_are_read(rack, technician):
    book = Shop.current().rules
    add_unit(by=technician, plate="CAR", refrigerant="R-404A", charge_nominal_mg=50 * KG)
    add_unit(by=technician, name="Split", kind="stationary", refrigerant="R-404A", charge_nominal_mg=6 * KG)
    bus = add_unit(
        by=technician, plate="BUS", kind="vehicle", exactly="bus", refrigerant="R-404A", charge_nominal_mg=8 * KG
    )
    assert {one.pk for one in limited(book, today())} == {rack.pk, bus.pk}


def test_statements_do_not_grow_with_units(rack, technician, office_client):
    day, book = today(), Shop.current().rules

    def count():
        with CaptureQueriesContext(connection) as seen:
            leaks_of(Unit.objects.all(), book, day)
        return len(seen)

    charge(rack, technician, 5, ago(50))
    told(rack, technician, "inspection", ago(50))
    few = count()
    for number in range(4):
        other = add_unit(
            by=technician,
            customer="Example market",
            premises=f"Street {number}",
            name=f"Rack {number}",
            kind="stationary",
            exactly="refrigeration",
            refrigerant="R-404A",
            charge_nominal_mg=20 * KG,
        )
        charge(other, technician, 5, ago(40 - number))
        told(other, technician, "inspection", ago(35))
    assert count() == few == 5
    assert len(appliances(Unit.objects.all(), today())) == 5
    assert page(office_client, "/").count('/leaks/"') == 5
