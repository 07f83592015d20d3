"""The figures that a rulebook asks for of each period, from the mass balance."""

import datetime as dt

import pytest
from django.urls import reverse

from inventory.reference.period_rules import COUNTED
from inventory.reference.rulebook import rulebook
from inventory.shop.models import Shop
from shopledger.reporting.output import make, written
from shopledger.reporting.report import Period
from shopledger.reports import returns, usage
from shopledger.reports.registry import REPORTS, wanted
from shopledger.sealing.actions import owed
from tests.kept import saved
from tests.stock import came, charge, delivery, recover

pytestmark = pytest.mark.django_db
KG = 1_000_000
HALF = Period(dt.date(2026, 1, 1), dt.date(2026, 6, 30))
COLUMNS = ("from", "to", "substance", "unit", "bought", "recovered", "sold", "otherwise_disposed_of")


@pytest.fixture
def quarters(shop):
    """Two quarters of one gas, each with other figures, and an oil that is no refrigerant."""
    saved(Shop.current(), rulebook="australia")
    delivery(came("CYL-1", net=9 * KG, grade="virgin", tare_mg=6 * KG), day=dt.date(2026, 1, 5))
    delivery(came("REC-1", "recovery", grade="recovered", tare_mg=6 * KG), day=dt.date(2026, 1, 5))
    delivery(came("OIL-1", "oil", 250_000, "PAG 46"), day=dt.date(2026, 1, 5))
    charge("CYL-1", quantity=2 * KG, day=dt.date(2026, 3, 31))
    charge("CYL-1", quantity=KG, day=dt.date(2026, 4, 1))
    recover("REC-1", 3 * KG, day=dt.date(2026, 6, 30))


def test_each_quarter_has_its_figures(quarters) -> None:
    """Regulation 141(1)(a): bought, recovered, sold and otherwise disposed of during each quarter."""
    table = returns.rows(HALF)
    assert tuple(column.name for column in table.columns) == COLUMNS
    assert table.rows == [
        (dt.date(2026, 1, 1), dt.date(2026, 3, 31), "R-134a", "g", 9 * KG, 0, 2 * KG, 0),
        (dt.date(2026, 4, 1), dt.date(2026, 6, 30), "R-134a", "g", 0, 3 * KG, KG, 0),
    ]
    assert any("14 days" in note for note in table.notes)
    assert any("regulation 141(1)(a)" in note for note in table.notes)


def test_a_period_that_is_asked_for_in_part_has_those_days_only(quarters) -> None:
    table = returns.rows(Period(dt.date(2026, 3, 1), dt.date(2026, 4, 30)))
    assert [row[:2] for row in table.rows] == [
        (dt.date(2026, 3, 1), dt.date(2026, 3, 31)),
        (dt.date(2026, 4, 1), dt.date(2026, 4, 30)),
    ]
    assert [row[6] for row in table.rows] == [2 * KG, KG]


def test_the_figures_come_to_those_of_the_usage_report(quarters) -> None:
    balance = usage.rows(HALF)
    names = [column.name for column in balance.columns]
    gas = next(dict(zip(names, row, strict=True)) for row in balance.rows if row[0] == "R-134a")
    table = returns.rows(HALF)
    assert [sum(row[at] for row in table.rows) for at in (4, 5, 6, 7)] == [
        gas["received"],
        gas["recovered"],
        gas["charged"],
        sum(gas[name] for name in COUNTED[3:]),
    ]


def test_what_a_rule_may_add_up_are_columns_of_the_usage_report() -> None:
    assert set(COUNTED) <= set(usage.ADDED) | set(usage.TAKEN)


def test_a_shop_whose_rulebook_asks_for_none_has_no_such_report(shop, office_client) -> None:
    day = HALF.last
    assert "returns" not in wanted(rulebook("generic"), day) and "returns" in wanted(rulebook("australia"), day)
    assert "returns.csv" not in owed(day)
    assert returns.rows(HALF).rows == [] and "asks for no figures" in returns.rows(HALF).notes[0]
    page = office_client.get(reverse("reports")).content.decode()
    assert reverse("report", args=["returns"]) not in page and reverse("report", args=["usage"]) in page
    saved(Shop.current(), rulebook="australia")
    assert "returns.csv" in owed(day)
    assert reverse("report", args=["returns"]) in office_client.get(reverse("reports")).content.decode()


def test_it_is_a_file_like_the_others(quarters, office_client) -> None:
    made = make(REPORTS["returns"], HALF, None, "x")
    first, second = written(made, "csv").decode().splitlines()[:2]
    assert first == ",".join(COLUMNS) and second == "2026-01-01,2026-03-31,R-134a,g,9000.000,0.000,2000.000,0.000"
    assert written(make(REPORTS["returns"], HALF, None, "x", drawn=True), "pdf").startswith(b"%PDF")
    page = office_client.get(reverse("report", args=["returns"]), {"first": HALF.first, "last": HALF.last})
    assert page.status_code == 200 and "Otherwise disposed of" in page.content.decode()
