"""What an inspector would object to: each rule at its boundary, and both sides of it."""

import datetime as dt
import uuid

import pytest

from inventory.attachments.models import Attachment
from inventory.containers.actions import count
from inventory.containers.models import Container, Scale, Weighing
from inventory.containers.safe_fill import Cylinder, limit
from inventory.counting.actions import correct_tare, explain
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import Arrival, receive
from inventory.reference.rulebook import rulebook as book
from inventory.shipping.actions import ship
from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, enter_line, start_job
from jobs.drafts.models import Job
from jobs.people.actions import add_certificate
from jobs.people.models import Certificate
from jobs.signing.actions import NotSignable, sign_job
from jobs.units.actions import add_unit
from jobs.units.models import Unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.kept import made

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)
MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))


def key():
    return str(uuid.uuid4())


def last():
    """The number of the job: what is recorded after it on its day."""
    return Voucher.objects.filter(kind="job").latest("number").number


def rules(period=MARCH):
    return [one.rule for one in findings(period)]


def one(rule, period=MARCH):
    (found,) = [finding for finding in findings(period) if finding.rule == rule]
    return found


@pytest.fixture
def clean(shop, technician, owner):
    """A shop with nothing to object to: one delivery with its paper, one job within the label."""
    made(Scale, code="bench", readability_mg=G, usual=True, checked_until=dt.date(2027, 1, 1))
    line = Arrival("refillable", "R-134a", False, "virgin", 9_000 * G, 1, "Store", "A", tare_mg=8_000 * G)
    number = receive(lines=[line], supplier=supplier_called("Acme"), document="D-1", day=DAY, by="o", key=key())
    made(
        Attachment,
        subject=f"voucher:{number}",
        name="i.pdf",
        type="application/pdf",
        size=1,
        sha256="0" * 64,
        added_by="o",
        added_at=dt.datetime(2026, 3, 2, tzinfo=dt.UTC),
    )
    add_certificate(by=owner, person=technician, scheme="Trade school", number="1", issued=dt.date(2020, 1, 1))
    unit = add_unit(by=technician, customer="Ada", plate="T-1", refrigerant="R-134a", charge_max_mg=500 * G)
    return charge(unit, technician, 500)


def charge(unit, technician, grams, code="A", day=DAY, **fields):
    job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(job.pk, by=technician, day=day, **fields)
    enter_line(job.pk, by=technician, key=uuid.uuid4(), action="charge", container=code, quantity=grams * G)
    reasons = dict.fromkeys((f"not-weighed-{code}", "over", f"grade-{code}", "leak"), "test")
    signed = sign_job(job.pk, by=technician, reasons=reasons)
    Job.objects.filter(pk=signed.pk).update(reasons={})
    return signed


def test_a_clean_shop_has_no_finding(clean):
    assert rules() == []


@pytest.mark.parametrize(("expires", "found"), [(DAY, False), (DAY - dt.timedelta(1), True), (None, False)])
def test_a_certificate_counts_through_its_last_day(clean, expires, found):
    Certificate.objects.update(expires=expires)
    assert (rules() == ["certificate"]) is found
    if found:
        assert one("certificate").severity == "high" and "J-0" in one("certificate").what
        assert one("certificate").where.startswith("/people/")


@pytest.mark.parametrize(("most", "found"), [(501, False), (500, False), (499, True)])
def test_the_most_on_the_label_is_not_over_it(clean, most, found):
    Job.objects.update(charge_max_mg=most * G)
    assert (rules() == ["charge over the label"]) is found
    if found:
        assert one("charge over the label").severity == "medium"
        Job.objects.update(reasons={"over": "longer hoses"})
        assert one("charge over the label").severity == "low" and "longer hoses" in one("charge over the label").what


@pytest.mark.parametrize("grade", ["virgin", "recycled", "reclaimed", "recovered", "mixed"])
def test_what_was_only_recovered_is_not_charged_again(clean, technician, grade):
    kind = "refillable" if grade != "mixed" else "recovery"
    line = Arrival(kind, "R-134a", False, grade, 900 * G, 1, "Store", "B", tare_mg=8_000 * G)
    number = receive(lines=[line], supplier=supplier_called("Acme"), document="D-2", day=DAY, by="o", key=key())
    Attachment.objects.filter(pk=Attachment.objects.first().pk).update(subject=f"voucher:{number}")
    if grade == "mixed":  # of which a signature is refused
        with pytest.raises(NotSignable, match="B holds mixed refrigerant. It is charged into nothing"):
            charge(Unit.objects.get(), technician, 400, "B")
        return
    charge(Unit.objects.get(), technician, 400, "B")
    assert ("reuse" in rules()) is (grade == "recovered")


@pytest.mark.parametrize(
    ("address", "registration", "purpose", "missing"),
    [
        ("3 Road", "R-7", "reclaim", ""),
        ("", "R-7", "reclaim", "no address"),
        ("3 Road", "", "reclaim", "no registration"),
        ("3 Road", "", "return", ""),
        ("", "", "destroy", "no address and no registration"),
    ],
)
def test_where_it_went_is_known(clean, address, registration, purpose, missing):
    made(Party, name="Renew", role="reclaimer", address=address, registration=registration)
    ship(
        parcels={"A": 100 * G},
        purpose=purpose,
        party=Party.objects.get(name="Renew"),
        document="S",
        day=DAY,
        by="o",
        follows=last(),
    )
    assert (rules() == ["destination"]) is bool(missing)
    if missing:
        assert missing in one("destination").what and one("destination").where.startswith("/receiving/parties/")


@pytest.mark.parametrize(("extra", "found"), [(0, False), (-1, False), (1, True)])
def test_the_safe_fill_itself_is_not_over_it(clean, extra, found):
    Container.objects.update(kind="refillable")
    most = limit(Cylinder(10_000 * G), "R-134a", book("generic").safe_fill("refillable", dt.date(2026, 3, 2))).mg
    held = Container.objects.select_related("account").get(code="A")
    held.account.balance = most + extra
    held.account.save(update_fields=["balance"])
    Container.objects.update(water_capacity_mg=10_000 * G)
    assert ("safe fill" in rules()) is found


def test_a_cylinder_too_weak_for_what_is_in_it(clean):
    """ADR/RID P200, table 2: R-134a asks for 18 bar."""
    Container.objects.update(kind="refillable", test_pressure_kpa=1799)
    assert "18 bar" in one("test pressure").what
    Container.objects.update(test_pressure_kpa=1800)
    assert "test pressure" not in rules()


@pytest.mark.parametrize(
    ("due", "found"), [(dt.date(2026, 3, 1), False), (dt.date(2026, 2, 28), True), (dt.date(2026, 4, 1), False)]
)
def test_a_retest_counts_through_its_month(clean, due, found):
    Container.objects.update(retest_due=due)
    assert (rules() == ["retest"]) is found


# 49 CFR 180.209(c): 5 % of the tare or more. By the federal rulebook only.
@pytest.mark.parametrize(
    ("tare", "rulebook", "found"), [(7_600, "us-federal", True), (7_601, "us-federal", False), (7_600, "eu", False)]
)
def test_a_cylinder_much_lighter_than_it_was(clean, tare, rulebook, found):
    Shop.objects.update(rulebook=rulebook)
    one = Container.objects.filter(kind="refillable").first()
    correct_tare(code=one.code, tare_mg=tare * G, note="rust", by="o")
    assert ("tare loss" in rules()) is found


@pytest.mark.parametrize(
    ("until", "found"), [(dt.date(2026, 3, 31), False), (dt.date(2026, 3, 30), True), (None, True)]
)
def test_a_scale_is_due_after_its_day(clean, until, found):
    Scale.objects.update(checked_until=until)
    assert rules() == [], "a scale that nothing was weighed on needs no check"
    count(readings={"A": 16_500 * G}, day=DAY, by="o", follows=last())
    assert (rules() == ["scale check"]) is found


def test_a_difference_wants_a_reason(clean):
    count(readings={"A": 16_400 * G}, day=DAY, by="o", follows=last())
    assert rules() == ["difference without a reason"]
    explain(weighing_id=Weighing.objects.get(role="count").pk, reason="leaked", note="", by="o")
    assert rules() == []


def test_a_delivery_has_its_paper(clean):
    with writing():
        Attachment.objects.get().delete()
    assert one("invoice").severity == "low"


def test_a_delivery_without_a_document_is_graver(clean):
    line = Arrival("can", "R-134a", False, "virgin", 340 * G, 1, "Store", "K", tare_mg=100 * G)
    receive(lines=[line], supplier=supplier_called("Acme"), document="", day=DAY, by="o", key=key())
    assert one("invoice").severity == "medium"


def test_an_open_leak_and_no_evacuation(clean, technician):
    Job.objects.update(leak_result="found, not repaired", system_opened=True)
    assert sorted(rules()) == ["leak not repaired", "no evacuation"]
    Job.objects.update(leak_result="found and repaired", vacuum_pa=66.0)
    assert rules() == []


# The rolling rate of 40 CFR 82.152 against a limit of 10 % (82.157(c), "all other"): the limit itself is not over it.
@pytest.mark.parametrize(("full", "found"), [(5_001, False), (5_000, False), (4_999, True)])
def test_a_leak_rate_at_its_limit_is_not_over_it(clean, monkeypatch, full, found):
    import dataclasses
    from decimal import Decimal

    from inventory.reference.leak_rate_rules import LeakRate

    generic = book("generic")
    practice = generic.sections["practice"][0]
    rule = LeakRate(
        text=practice.text, citation="82.157(c)", confidence="seen", over_percent=Decimal(10), equipment=("stationary",)
    )
    changed = dataclasses.replace(generic, sections={**generic.sections, "leak_rate": (rule,)})
    monkeypatch.setattr(Shop, "rules", property(lambda self: changed))
    Unit.objects.update(kind="stationary", charge_max_mg=full * G)
    assert ("leak rate" in rules()) is found
    from shopledger.reports.work import units

    (row,) = units(Period(DAY, DAY), None).rows
    assert row[-1] == "10.0", "the report counts as the finding does"


def test_a_single_use_container_is_not_filled(clean):
    line = Arrival("can", "R-134a", False, "virgin", 340 * G, 1, "Store", "K", tare_mg=100 * G)
    number = receive(lines=[line], supplier=supplier_called("Acme"), document="D-2", day=DAY, by="o", key=key())
    Attachment.objects.update(subject=f"voucher:{number}")
    assert "single-use container" not in rules()
    from inventory.ledger.accounts import AccountClass, Spot, Transfer
    from inventory.ledger.actions import Draft, post

    # No page allows it: it stands in a ledger that another program wrote.
    into = Spot("R-134a", AccountClass.CONTAINER, "K", "Store", "virgin")
    post(
        Draft("decant", DAY, "o", (Transfer(Spot("R-134a", AccountClass.CONTAINER, "A", "Store", "virgin"), into, 5),))
    )
    assert one("single-use container").severity == "high"


@pytest.mark.parametrize(("last", "found"), [("2031-03-01", False), ("2031-03-02", True)])
def test_records_may_go_after_their_years(clean, last, found):
    """Five years by the common rulebook: a record of 2 March 2026 may go from 2 March 2031 on, and not before."""
    assert ("retention" in rules(Period(dt.date(2031, 2, 1), dt.date.fromisoformat(last)))) is found


def test_findings_are_a_page_and_a_report(clean, office_client):
    Scale.objects.update(checked_until=None)
    count(readings={"A": 16_500 * G}, day=DAY, by="o", follows=last())
    page = office_client.get("/reports/findings/?first=2026-03-01&last=2026-03-31").content.decode()
    assert "The check of scale bench was never recorded" in page and 'href="/scales/' in page
    assert Shop.objects.get().rulebook == "generic" and Voucher.objects.exclude(kind="record").count() == 3
