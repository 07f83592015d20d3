"""What an inspector would object to once refrigerant got out by accident."""

import datetime as dt
import uuid

import pytest

from inventory.containers.leak_checks import check_for_leaks
from inventory.containers.models import Scale
from inventory.releases.actions import release
from inventory.shop.models import Shop
from jobs.leaks.actions import add_leak_event, void_leak_event
from jobs.units.actions import add_unit, change_unit
from shopledger.findings.queries import findings
from shopledger.reporting.report import Period
from tests.kept import made, saved
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
KG = 1_000_000
DAY = dt.date(2026, 3, 2)
YEAR = Period(dt.date(2026, 1, 1), dt.date(2026, 12, 31))


def of(rule):
    return [one for one in findings(YEAR) if one.rule == rule]


def got_out(quantity=None, cause="hose", note="Seen at once.", **more):
    head = {"day": DAY, "by": "oscar", "key": str(uuid.uuid4()), "note": note}
    return release(code="BIG", cause=cause, quantity=quantity, **{**head, **more})


@pytest.fixture
def stock(shop, technician):
    made(Scale, code="S1", readability_mg=1000, usual=True)
    delivery(came("BIG", net=200 * KG, tare_mg=60 * KG), day=DAY)


def test_what_may_leak_still_is_to_be_checked(stock) -> None:
    got_out(KG, "valve")
    (one,) = of("container leaks")
    assert "no check since says that it is tight" in str(one.what)
    said = {"day": DAY, "note": "", "by": "oscar", "key": uuid.uuid4()}
    check_for_leaks(codes=["BIG"], leaks=False, **said)
    assert of("container leaks") == []


def test_a_burst_hose_says_nothing_of_the_container(stock) -> None:
    got_out(KG)
    assert of("container leaks") == [] and of("release") == []


def test_nothing_was_said_of_what_was_done(stock) -> None:
    got_out(note="")
    (one,) = of("release")
    assert one.severity == "low" and "nothing says what was done" in str(one.what)


@pytest.mark.parametrize(("kilograms", "asked"), [(10, False), (11, True), (99, True), (100, True)])
def test_a_large_one_is_reported_where_the_rulebook_asks_it(stock, kilograms, asked) -> None:
    """Whether the rulebook binds the shop nobody has said: it is open, and told as such."""
    saved(Shop.objects.get(), rulebook="canada-federal")
    got_out(kilograms * KG)
    assert [(one.severity, one.verdict.answer) for one in of("release")] == [("low", "open")] * asked


@pytest.fixture
def rack(shop):
    return add_unit(by=None, name="Rack", kind="stationary", exactly="refrigeration", refrigerant="R-404A")


def let_out(unit, **more):
    return add_leak_event(unit, by=None, kind="release", day=DAY, cause="fall", **more)


def test_a_unit_is_repaired_after_it(rack) -> None:
    event = let_out(rack, released_mg=3 * KG)
    (one,) = of("leak not repaired")
    assert "no repair since is on record" in str(one.what)
    add_leak_event(rack, by=None, kind="repair", day=DAY, evacuated=False, person_said="Ken Other")
    assert of("leak not repaired") == []
    void_leak_event(event, by=None, reason="It was another one.")
    assert of("release") == []


@pytest.mark.parametrize(("kilograms", "severity"), [(10, None), (11, "high"), (100, "high")])
def test_of_a_unit_that_is_bound_it_is_due(rack, kilograms, severity) -> None:
    saved(Shop.objects.get(), rulebook="canada-federal")
    change_unit(rack, by=None, bound="yes")
    let_out(rack, released_mg=kilograms * KG)
    assert [one.severity for one in of("release")] == ([severity] if severity else [])
