"""What the stock is worth, and what went out of it cost, from the movements.

The rules, which each report names: a stock is what the shop holds of one substance in one grade. What a supplier
delivered, or the shop held when its ledger began, costs what its container did; what has no price stays a quantity
without one. So does gas recovered from units: nobody was paid for it. What passes into another grade takes its cost
along. What goes back to a supplier takes back what its container cost. What weighing finds beyond the book takes back
what it found missing before, at that cost. An entry that was taken back by the last day counts as if it had not been
made, and one that stands in its place as if it had been made then.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from django.db import connection

from inventory.costing.formulas import FORMULAS, Amount, Flow, walk
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Substance
from inventory.shop.models import Shop

BOUGHT = {int(AccountClass.SUPPLIER), int(AccountClass.OPENING)}
COMES_IN = BOUGHT | {
    int(cls)
    for cls in (
        AccountClass.UNIT,
        AccountClass.RECLASSIFIED,
        AccountClass.KEPT,
        AccountClass.CUSTOMER,
        AccountClass.FOUND,
    )
}
USED_UP = frozenset({int(AccountClass.UNIT), int(AccountClass.LINE_LOSS)})  # by a job
LOST = (AccountClass.LINE_LOSS, AccountClass.HEEL_LOSS, AccountClass.OTHER_LOSS, AccountClass.UNEXPLAINED_LOSS)

# Movements of the shop's own stock up to a day, without entries that were taken back by then and what took them back,
# added up by day; the jobs of the days asked for stand one by one. Of what was bought the price of its container.
FLOWS = """
SELECT COALESCE(f.day, m.day) AS happened, m.day, m.substance_id, m.source_class, m.target_class, m.reversal, s.grade,
  t.grade, c.price_minor, c.nominal, CASE WHEN v.kind = 'job' AND m.day >= %(first)s THEN v.number ELSE 0 END AS job,
  SUM(m.quantity)
FROM inventory_movement m
JOIN inventory_voucher v ON v.number = m.voucher_id
LEFT JOIN inventory_voucher f ON f.number = v.first_revision_id
JOIN inventory_account s ON s.id = m.source_id JOIN inventory_account t ON t.id = m.target_id
LEFT JOIN inventory_voucher r ON r.reverses_id = v.number AND r.day <= %(last)s
LEFT JOIN inventory_container c ON c.code = CASE
  WHEN m.source_class IN (2, 3) AND m.reversal = %(no)s THEN t.name
  WHEN m.target_class IN (2, 3) THEN s.name END
WHERE m.day <= %(last)s AND (m.source_class = 1 OR m.target_class = 1) AND v.kind <> 'reversal' AND r.number IS NULL
GROUP BY happened, m.day, m.substance_id, m.source_class, m.target_class, m.reversal, s.grade, t.grade, c.price_minor,
  c.nominal, job
ORDER BY happened, MIN(COALESCE(f.number, v.number)), MIN(m.line)
"""


class Stock(NamedTuple):
    """What the shop holds of one substance in one grade."""

    code: str
    is_oil: bool
    grade: str


class Spent(NamedTuple):
    """What went out of a stock in a month (YYYY-MM) to a class of account; job: its voucher, 0 where it was none."""

    month: str
    cls: int
    stock: Stock
    job: int


class Costs(NamedTuple):
    """formula: of FORMULAS. stocks: at the end of the last day."""

    formula: str
    spent: dict[Spent, Amount]
    stocks: dict[Stock, Amount]

    @property
    def said(self) -> str:
        """How it was worked out, in a sentence that a report names."""
        return (
            f"Cost by {FORMULAS[self.formula]} (IAS 2, 25 and 27), of each substance and grade; prices without tax, "
            "shipping and deposits, as they are known now. Recovered gas was not paid for: it is a quantity without a "
            "price, never counted as 0."
        )


def costs_through(last: dt.date, first: dt.date | None = None, formula: str = "") -> Costs:
    """What went out up to a day, and what was left at its end. first: the first day whose jobs stand one by one.
    formula: as the shop chose where it is blank. One statement, and the calculation."""
    formula = formula or Shop.current().cost_formula
    spent, stocks = walk(_flows(last, first or dt.date.max), formula)
    return Costs(formula, spent, {name: held for name, held in stocks.items() if held.quantity})


def _flows(last: dt.date, first: dt.date) -> Iterator[Flow]:
    names = {pk: (code, bool(oil)) for pk, code, oil in Substance.objects.values_list("id", "code", "is_oil")}
    values = {"first": first.isoformat(), "last": last.isoformat(), "no": False, "yes": True}
    with connection.cursor() as cursor:
        cursor.execute(FLOWS, values)
        for happened, day, substance, *ends, back, s_grade, t_grade, price, nominal, job, moved in cursor.fetchall():
            grades, quantity = [s_grade, t_grade], int(moved)
            if back:
                ends, grades, quantity = ends[::-1], grades[::-1], -quantity
            stocks = [Stock(*names[substance], grade) for grade in grades]
            more = (str(day)[:7], job, Fraction(price, nominal) if price is not None and nominal else None)
            yield from _flow(str(happened), ends, stocks, quantity, more)


def _flow(day: str, ends: list[int], stocks: list[Stock], quantity: int, more: tuple) -> Iterator[Flow]:
    """A flow as the calculation wants it. ends: classes of the source and of the target. more: the month in which it
    was posted, the job, and what a unit of it was bought for."""
    (source, target), (month, job, unit) = ends, more
    if source == target:
        if stocks[0] != stocks[1]:
            yield Flow(day, stocks[0], stocks[1], quantity)
        return
    if target == AccountClass.CONTAINER:
        if source in COMES_IN:
            yield Flow(day, None, stocks[1], quantity, unit if source in BOUGHT else None)
        else:  # what was missing is found again
            yield Flow(day, stocks[1], None, -quantity, None, Spent(month, source, stocks[1], job))
        return
    if target == AccountClass.SUPPLIER:
        yield Flow(day, None, stocks[0], -quantity, unit)
        return
    yield Flow(day, stocks[0], None, quantity, None, Spent(month, target, stocks[0], job))


def stock_value(day: dt.date, formula: str = "") -> list[tuple[str, bool, int, int, int]]:
    """Per substance at the end of a day: code, whether an oil, content with a price, its value in minor units, content
    without a price. Its value is the sum of those of its grades, each rounded once: as the report has them, so that the
    two agree to the last cent."""
    found: dict[tuple[str, bool], Amount] = {}
    worth: Counter[tuple[str, bool]] = Counter()
    for stock, held in costs_through(day, formula=formula).stocks.items():
        found.setdefault((stock.code, stock.is_oil), Amount()).plus(held)
        worth[stock.code, stock.is_oil] += held.minor
    rows = [(*name, held.rounded[0], worth[name], held.rounded[1]) for name, held in found.items()]
    return sorted(rows, key=lambda row: (row[1], row[0]))


def losses_by_month(first: dt.date, last: dt.date) -> dict[str, dict[int, tuple[int, int]]]:
    """Per month and class of loss: its cost in minor units, and the quantity without a price."""
    found: dict[str, dict[int, Amount]] = {}
    months = {one.isoformat()[:7] for one in (first, last)}
    for spent, amount in costs_through(last).spent.items():
        if spent.cls in LOST and min(months) <= spent.month <= max(months):
            found.setdefault(spent.month, {}).setdefault(spent.cls, Amount()).plus(amount)
    return {
        month: {cls: (one.minor, one.rounded[1]) for cls, one in row.items()} for month, row in sorted(found.items())
    }


def cost_of_jobs(first: dt.date, last: dt.date) -> tuple[Costs, dict[int, dict[Stock, Amount]]]:
    """What each job dated in a period used, by its voucher and stock."""
    costs, found = costs_through(last, first), {}
    for spent, amount in costs.spent.items():
        if spent.job and spent.cls in USED_UP:
            found.setdefault(spent.job, {}).setdefault(spent.stock, Amount()).plus(amount)
    return costs, found
