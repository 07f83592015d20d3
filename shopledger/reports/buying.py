"""The reports of buying: what was ordered and what came of it, and how it stands with each supplier."""

from collections.abc import Sequence

from django.urls import reverse

from inventory.buying.statement import statements
from inventory.measures.money import plain_money
from inventory.orders.models import Order
from inventory.orders.queries import progresses
from inventory.parties.models import Party
from inventory.shop.models import Shop
from shopledger.reporting.report import MEASURED, Column, Period, Report, ReportTable, called


def orders(period: Period, _key: str | None) -> ReportTable:
    """One row a line of an order of the period: what came of it by the last day, and how late the rest is then."""
    found = Order.objects.filter(day__gte=period.first, day__lte=period.last).select_related("supplier")
    rows, links, oils = [], [], []
    currency = Shop.current().currency
    for one in progresses(found.order_by("day", "id"), period.last):
        order = one.order
        for of in one.lines:
            line, given_up = of.line, of.line.cancelled_on is not None and of.line.cancelled_on <= period.last
            price = None if line.price_minor is None else plain_money(line.price_minor, currency)
            waited = 0 if given_up else line.count - of.came
            late = (period.last - line.expected_on).days if waited and line.expected_on else 0
            lead = (order.day, order.code, called(order.supplier.code, order.supplier.name), line.substance)
            rows.append(
                (*lead, line.grade, line.net, line.count, price, line.expected_on, of.came, waited, max(late, 0))
            )
            links.append({"order": reverse("order", args=[order.pk])})
            oils.append(line.is_oil)
    columns = [
        Column("date", "Date", "day"),
        Column("order", "Order"),
        Column("supplier", "Supplier"),
        Column("substance", "Substance"),
        Column("grade", "Grade"),
        Column("net", "Net each", "quantity"),
        Column("ordered", "Ordered", "count"),
        Column("price", "Price each", "decimal"),
        Column("expected", "Expected", "day"),
        Column("came", "Came", "count"),
        Column("open", "Still to come", "count"),
        Column("days_late", "Days late", "count"),
    ]
    return ReportTable(columns, rows, notes=(BY_THEN, MEASURED, f"Amounts in {currency}."), links=links, oils=oils)


BY_THEN = "What came by the end of the last day, of deliveries that stood then; orders dated in the period."


def suppliers(period: Period, _key: str | None) -> ReportTable:
    """One row a supplier with whom anything was in the period, or is open at its end."""
    currency = Shop.current().currency
    rows, links, sums = [], [], [0] * 7
    parties = Party.objects.filter(role="supplier").order_by("id")
    for one in statements(parties, period.first, period.last):
        party, its = one.supplier, one.deposits
        amounts = (one.billed, one.unbilled_minor, one.missing_minor, its.opening, its.charged, its.back, its.closing)
        if not one.entries and not any(amounts) and not one.unpriced:
            continue
        sums = [sum(pair) for pair in zip(sums, amounts, strict=True)]
        rows.append(_row(called(party.code, party.name), len(one.entries), amounts, one.unpriced, currency))
        links.append({"supplier": f"{reverse('statement', args=[party.pk])}?month={period.last:%Y-%m}"})
    columns = [
        Column("supplier", "Supplier"),
        Column("papers", "Papers", "count"),
        Column("billed", "Billed less credited", "decimal"),
        Column("not_billed", "Came, not billed", "decimal"),
        Column("without_price", "Containers without a price", "count"),
        Column("not_come", "Billed, not come", "decimal"),
        Column("deposits_before", "Deposits before", "decimal"),
        Column("deposits_charged", "Charged", "decimal"),
        Column("deposits_back", "Due back", "decimal"),
        Column("deposits_after", "Deposits after", "decimal"),
    ]
    total = _row("In all", None, sums, None, currency) if rows else ()
    return ReportTable(columns, rows, notes=(OPEN, f"Amounts in {currency}."), links=links, total=total)


def _row(name: str, papers: int | None, amounts: Sequence[int], unpriced: int | None, currency: str) -> tuple:
    money = [plain_money(amount, currency) for amount in amounts]
    return (name, papers, *money[:2], unpriced, *money[2:])


OPEN = "Not billed, not come and deposits as they stand at the end of the last day; papers are those of the period."
ABOUT_ORDERS = "What was ordered, what came of it, and what is late."
ABOUT_SUPPLIERS = "What each supplier billed and credited, what is not billed, what did not come, and deposits."
ORDERS = Report("orders", "Orders", orders, (), ABOUT_ORDERS, of_ledger=False, of_money=True)
SUPPLIERS = Report("suppliers", "Suppliers' statements", suppliers, (), ABOUT_SUPPLIERS, of_ledger=False, of_money=True)
