"""Checks of containers for leaks: kept once, never changed, and asked for as the rulebook says."""

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.containers.leak_checks import check_for_leaks, checks_of
from inventory.containers.models import ContainerCheck
from inventory.ledger.verify import verify
from inventory.reference.rulebook import rulebook
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.findings.rules.container_check import find
from shopledger.reporting.report import Period
from tests.kept import saved
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
KG = 1_000_000
CAME = dt.date(2025, 11, 3)
DAY = dt.date(2026, 6, 1)


@pytest.fixture
def store(shop):
    delivery(*(came(f"CYL-{n}", net=9 * KG, grade="virgin", tare_mg=6 * KG) for n in (1, 2, 3)), day=CAME)


def check(*codes, day=DAY, leaks=False, note="", key=None):
    return check_for_leaks(codes=codes, day=day, leaks=leaks, note=note, by="oscar", key=key or uuid.uuid4())


def findings(day=DAY):
    return list(find(Period(day.replace(day=1), day), rulebook("australia")))


def test_one_form_checks_many_containers_and_once(store) -> None:
    key = uuid.uuid4()
    assert len(check("CYL-1", "CYL-2", note="detector D-1", key=key)) == 2
    assert len(check("CYL-1", "CYL-2", key=key)) == 2
    assert ContainerCheck.objects.count() == 2
    assert verify().faults == []


@pytest.mark.parametrize(
    ("codes", "day", "said"),
    [
        (("CYL-1", "NONE-1"), DAY, "There is no container NONE-1"),
        (("CYL-1",), CAME - dt.timedelta(days=1), "came in on 3 Nov 2025"),
        (("CYL-1",), dt.date(2056, 1, 1), "has not come yet"),
        ((), DAY, "No container is chosen"),
    ],
)
def test_a_check_that_cannot_be_leaves_nothing(store, codes, day, said) -> None:
    with pytest.raises(Refused, match=said):
        check(*codes, day=day)
    assert not ContainerCheck.objects.exists()


def test_what_is_due_follows_the_checks(store) -> None:
    """Regulation 141(1)(e) of the Ozone Protection and Synthetic Greenhouse Gas Management Regulations 1995 (Cth):
    every quarter. 92 days before 1 June is 1 March, in the quarter before."""
    rules = rulebook("australia")
    check("CYL-1", day=DAY - dt.timedelta(days=92))
    check("CYL-2", day=dt.date(2026, 4, 1))
    answers = {one.container.code: one.verdict.answer for one in checks_of(rules, DAY)}
    assert answers == {"CYL-1": "due", "CYL-2": "met", "CYL-3": "breach"}
    assert checks_of(rulebook("generic"), DAY) == []
    late, due = findings()
    assert (late.severity, due.severity) == ("medium", "low")
    assert "CYL-3" in late.what and "CYL-1" in due.what and "regulation 141(1)(e)" in due.citation
    assert late.verdict.is_breach and due.verdict.by == dt.date(2026, 6, 30)


def test_a_later_day_does_not_count_for_an_earlier_one(store) -> None:
    """Nobody saw on 31 March a check of 1 June: in the second whole quarter after they came, all are still due."""
    check("CYL-1", day=DAY)
    answers = {one.container.code: one.verdict.answer for one in checks_of(rulebook("australia"), dt.date(2026, 3, 31))}
    assert set(answers.values()) == {"due"}


def test_a_leaking_container_is_found_until_it_is_checked_tight(store) -> None:
    for code in ("CYL-1", "CYL-2", "CYL-3"):
        check(code, leaks=code == "CYL-2")
    (found,) = findings()
    assert "CYL-2 was found leaking on 2026-06-01" in found.what
    check("CYL-2", leaks=False)
    assert findings() == []


def test_the_questions_do_not_grow_with_the_containers(store) -> None:
    with CaptureQueriesContext(
        connection,
    ) as few:
        checks_of(rulebook("australia"), DAY)
    delivery(*(came(f"MORE-{n}", net=9 * KG, grade="virgin", tare_mg=6 * KG) for n in range(9)), day=CAME)
    with CaptureQueriesContext(connection) as many:
        assert len(checks_of(rulebook("australia"), DAY)) == 12
    assert len(many) == len(few) == 1


def test_the_pages(store, office_client, technician_client) -> None:
    saved(Shop.current(), rulebook="australia")
    page = technician_client.get(reverse("container-checks")).content.decode()
    assert "CYL-1" in page and 'name="codes"' not in page
    page = office_client.get(reverse("container-checks")).content.decode()
    assert page.count('name="codes"') == 3 and "regulation 141(1)(e)" in page
    form = office_client.get(reverse("leak-checked"), {"codes": ["CYL-1", "CYL-2"]})
    assert "CYL-1, CYL-2" in form.content.decode()
    sent = {"codes": ["CYL-1", "CYL-2"], "day": str(today()), "leaks": "no", "note": "", "key": str(uuid.uuid4())}
    answer = office_client.post(reverse("leak-checked"), sent)
    assert answer.status_code == 302 and answer.url == reverse("container-checks")
    shown = office_client.get(reverse("container", args=["CYL-1"])).content.decode()
    assert "no leak found" in shown and "in this quarter" in shown
    assert ContainerCheck.objects.count() == 2
