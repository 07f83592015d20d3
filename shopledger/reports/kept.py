"""The report of gas that is kept for customers: a balance of its own, by customer and refrigerant.

closing = opening + brought + recovered + weighing_difference + unexplained_gain - charged - line_loss
          - other_loss - unexplained_loss - given_back, exactly. None of it was ever the shop's, so the usage report
          counts none.
A reversal counts in the column of what it reverses, with the opposite sign, on its own day.
"""

from collections import defaultdict

from django.urls import reverse

from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.models import Substance
from inventory.ledger.queries import Flow, flows_by, stock_by
from jobs.units.models import Customer
from shopledger.reporting.report import Column, Period, Report, ReportTable, worded
from shopledger.reports.usage import NotBalanced

IN = {
    "brought": A.CUSTOMER,
    "recovered": A.UNIT,
    "weighing_difference": A.WEIGHING_DIFFERENCE,
    "unexplained_gain": A.UNEXPLAINED_GAIN,
}
OUT = {
    "charged": A.UNIT,
    "line_loss": A.LINE_LOSS,
    "other_loss": A.OTHER_LOSS,
    "unexplained_loss": A.UNEXPLAINED_LOSS,
    "given_back": A.CUSTOMER,
}
TITLES = {
    "opening": "Opening",
    "brought": "Brought by them",
    "recovered": "Recovered",
    "weighing_difference": "Weighing difference",
    "unexplained_gain": "Unexplained gain",
    "charged": "Charged",
    "line_loss": "Line loss",
    "other_loss": "Other loss",
    "unexplained_loss": "Unexplained loss",
    "given_back": "Given back",
    "closing": "Closing",
}


def rows(period: Period, _key: str | None) -> ReportTable:
    """One row a customer and refrigerant. Raises NotBalanced where the ledger contradicts itself."""
    figures: dict[tuple[int, str], dict[str, int]] = defaultdict(lambda: dict.fromkeys(TITLES, 0))
    for place, quantity in stock_by("owner", period.eve, A.KEPT).items():
        if quantity:
            figures[place]["opening"] = quantity
    for flow, source, target in flows_by("owner", period.eve, period.last):
        if (flow.source_class == A.KEPT) != (flow.target_class == A.KEPT):
            name, sign = _column(flow)
            figures[flow.substance_id, source or target][name] += sign * flow.quantity
    closing = stock_by("owner", period.last, A.KEPT)
    for place, row in figures.items():
        row["closing"] = row["opening"] + sum(row[one] for one in IN) - sum(row[one] for one in OUT)
        if row["closing"] != closing.get(place, 0):
            raise NotBalanced(
                f"What moved of the gas kept for {place[1]} comes to {row['closing']}, and its balances to "
                f"{closing.get(place, 0)}. Run manage.py verify."
            )
    return _sheet(figures)


def _column(flow: Flow) -> tuple[str, int]:
    """The column that a flow counts in, and its sign there."""
    source, target, sign = flow.source_class, flow.target_class, 1
    if flow.reversal:
        source, target, sign = target, source, -1
    if A.WEIGHING_DIFFERENCE in (source, target):
        return "weighing_difference", sign if target == A.KEPT else -sign
    columns, other = (IN, source) if target == A.KEPT else (OUT, target)
    found = next((name for name, cls in columns.items() if cls == other), None)
    if found is None:
        raise NotBalanced(f"No column counts what goes from {A(source).word} to {A(target).word}.")
    return found, sign


def _sheet(figures: dict[tuple[int, str], dict[str, int]]) -> ReportTable:
    substances = Substance.objects.in_bulk({substance_id for substance_id, _ in figures})
    customers = worded(Customer.objects.filter(code__in={owner for _, owner in figures}).values_list("code", "name"))
    found, links = [], []
    for (substance_id, owner), row in sorted(
        figures.items(), key=lambda item: (item[0][1], substances[item[0][0]].code)
    ):
        found.append((customers.get(owner, owner), substances[substance_id].code, *row.values()))
        links.append({"customer": reverse("kept")})
    columns = [Column("customer", "Customer"), Column("substance", "Substance")]
    columns += [Column(name, title, "quantity") for name, title in TITLES.items()]
    return ReportTable(columns, found, notes=(NOTE,), links=links)


NOTE = "Gas of customers, in g: it is no stock of the shop, and in no column of the usage report."
ABOUT = "Customers' own gas: what they brought, what was recovered for them, what went back."
KEPT = Report("kept", "Kept for customers", rows, (), ABOUT)
