"""The usage report: the mass balance of each substance over a period.

closing = opening + received + found + recovered + weighing_difference + unexplained_gain + reclassified_in
          - charged - sold - line_loss - heel_loss - other_loss - returned - reclaimed - destroyed
          - unexplained_loss - reclassified_out, exactly; split by grade or location also + transferred_in
          - transferred_out. Where the period reaches to the last voucher (or is split by grade or location)
          it is compared with the balances, and a report that does not agree is not given.

A flow belongs to a column by the classes of its two accounts; a reversal counts there, with the opposite
sign, on its own day. Opening stock counts in `opening`, also when it is dated inside the period. `found` is there only
where something was: what came in with nobody's paper is no purchase.

It balances the shop's own containers alone. A customer's gas that is kept for them never was in stock, so it is in no
column, whatever is done with it: it has a balance of its own (`kept.py`).
"""

from collections import defaultdict
from collections.abc import Iterable

from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.models import Substance
from inventory.ledger.queries import (
    Flow,
    flows_by,
    nothing_after,
    stock_by,
    stock_kept,
    stock_through,
    totals_between,
)
from jobs.people.models import Person
from shopledger.reporting.report import Column, Period, Report, ReportTable, worded

IN = {
    "received": A.SUPPLIER,
    "recovered": A.UNIT,
    "weighing_difference": A.WEIGHING_DIFFERENCE,
    "unexplained_gain": A.UNEXPLAINED_GAIN,
    "reclassified_in": A.RECLASSIFIED,
}
OUT = {
    "charged": A.UNIT,
    "sold": A.BUYER,
    "line_loss": A.LINE_LOSS,
    "heel_loss": A.HEEL_LOSS,
    "other_loss": A.OTHER_LOSS,
    "returned": A.SUPPLIER,
    "reclaimed": A.RECLAIMER,
    "destroyed": A.DESTROYER,
    "unexplained_loss": A.UNEXPLAINED_LOSS,
    "reclassified_out": A.RECLASSIFIED,
}
SELDOM = {"found": A.FOUND}  # behind what was received, and left out where nothing counts in it
CAME = {"received": A.SUPPLIER, **SELDOM, **IN}
ADDED, TAKEN = tuple(CAME), tuple(OUT)
TITLES = {
    "received": "Received",
    "found": "Found",
    "recovered": "Recovered",
    "weighing_difference": "Weighing difference",
    "unexplained_gain": "Unexplained gain",
    "reclassified_in": "Reclassified in",
    "charged": "Charged",
    "sold": "Sold",
    "line_loss": "Line loss",
    "heel_loss": "Heel loss",
    "other_loss": "Other loss",
    "returned": "Returned",
    "reclaimed": "Sent to be reclaimed",
    "destroyed": "Sent to be destroyed",
    "unexplained_loss": "Unexplained loss",
    "reclassified_out": "Reclassified out",
    "transferred_in": "Transferred in",
    "transferred_out": "Transferred out",
}
KEYS = ("grade", "location", "technician", "month")
INTERNAL = (A.CONTAINER, A.CONTAINER)


class NotBalanced(Exception):
    """The report's figures do not agree with the balances: the ledger is to be verified first."""


def columns_of(source: int, target: int, reversal: bool) -> tuple[str, int, tuple[int, int]]:
    """The column that a flow counts in, its sign there, and the classes as the first movement had them."""
    sign = -1 if reversal else 1
    if reversal:
        source, target = target, source
    if source == A.WEIGHING_DIFFERENCE or target == A.WEIGHING_DIFFERENCE:
        return "weighing_difference", sign if target == A.CONTAINER else -sign, (source, target)
    if target == A.CONTAINER:
        names = [name for name, cls in CAME.items() if cls == source] or ["opening"] * (source == A.OPENING)
    else:
        names = [name for name, cls in OUT.items() if cls == target and source == A.CONTAINER]
    if not names:
        raise NotBalanced(f"No column counts what goes from {A(source).word} to {A(target).word}.")
    return names[0], sign, (source, target)


def rows(period: Period, key: str | None = None) -> ReportTable:
    """The report's table. Raises NotBalanced where the ledger contradicts itself."""
    if key in {"grade", "location"}:
        figures = _by_account(period, key)
    elif key == "technician":
        figures = _by_technician(period)
    elif key == "month":
        figures = _by_month(period)
    else:
        figures = _whole(period)
    return _sheet(figures, key)


Figures = dict[tuple[int, str], dict[str, int | None]]


def _count(figures: Figures, flow: Flow, group: str) -> None:
    """Put a flow into its column; what moves between containers only shows that the row exists. What is none of the
    shop's does not."""
    if A.CONTAINER not in (flow.source_class, flow.target_class):
        return
    row = figures[flow.substance_id, group]
    if _crosses(flow):
        name, sign, _ = columns_of(flow.source_class, flow.target_class, flow.reversal)
        row[name] = row.get(name, 0) + sign * flow.quantity


def _crosses(flow: Flow) -> bool:
    """Whether it goes into the shop's containers or out of them."""
    return (flow.source_class == A.CONTAINER) != (flow.target_class == A.CONTAINER)


def _close(figures: Figures, closing: dict[tuple[int, str], int]) -> Figures:
    for place, row in figures.items():
        total = row.get("opening", 0) + row.get("transferred_in", 0) - row.get("transferred_out", 0)
        total += sum(row.get(name, 0) for name in ADDED) - sum(row.get(name, 0) for name in TAKEN)
        if total != closing.get(place, 0):
            raise NotBalanced(
                f"The movements of {_name(place)} come to {total}, and its balances to {closing.get(place, 0)}. "
                "Run manage.py verify."
            )
        row["closing"] = total
    return figures


def _name(place: tuple[int, str]) -> str:
    return f"{Substance.objects.get(pk=place[0])} {place[1]}".strip()


def _whole(period: Period) -> Figures:
    figures: Figures = defaultdict(dict)
    for substance_id, quantity in stock_through(period.eve).items():
        if quantity:
            figures[substance_id, ""]["opening"] = quantity
    for flow in totals_between(period.eve, period.last):
        _count(figures, flow, "")
    closing = {(substance_id, ""): quantity for substance_id, quantity in _closing(figures).items()}
    if nothing_after(period.last):  # then the balances that are kept with each posting must say the same
        closing = {(substance_id, ""): quantity for substance_id, quantity in stock_kept().items()}
    return _close(figures, closing)


def _closing(figures: Figures) -> dict[int, int]:
    """Closing by the formula, per substance."""
    found: dict[int, int] = defaultdict(int)
    for (substance_id, _), row in figures.items():
        found[substance_id] += row.get("opening", 0) + sum(row.get(name, 0) for name in ADDED)
        found[substance_id] -= sum(row.get(name, 0) for name in TAKEN)
    return found


def _by_account(period: Period, key: str) -> Figures:
    figures: Figures = defaultdict(dict)
    for place, quantity in stock_by(key, period.eve).items():
        if quantity:
            figures[place]["opening"] = quantity
    for flow, source, target in flows_by(key, period.eve, period.last):
        if _crosses(flow):
            _count(figures, flow, target if flow.target_class == A.CONTAINER else source)
            continue
        if (flow.source_class, flow.target_class) != INTERNAL:
            continue
        if flow.reversal:
            source, target = target, source
        sign = -1 if flow.reversal else 1
        for name, group in (("transferred_out", source), ("transferred_in", target)):
            row = figures[flow.substance_id, group]
            if source != target:
                row[name] = row.get(name, 0) + sign * flow.quantity
    return _close(figures, stock_by(key, period.last))


def _by_technician(period: Period) -> Figures:
    figures: Figures = defaultdict(dict)
    for flow, person, _ in flows_by("technician", period.eve, period.last):
        opening = A.OPENING in (flow.source_class, flow.target_class)
        if not opening and _crosses(flow):
            _count(figures, flow, person)
    for row in figures.values():
        row["opening"] = row["closing"] = None
    return figures


def _by_month(period: Period) -> Figures:
    moved: Figures = defaultdict(dict)
    for flow, month, _ in flows_by("month", period.eve, period.last):
        _count(moved, flow, month)
    stock = {substance_id: q for substance_id, q in stock_through(period.eve).items() if q}
    figures: Figures = {}
    substances = set(stock) | {substance_id for substance_id, _ in moved}
    for month in _months(period):
        for substance_id in substances:
            row = moved.get((substance_id, month))
            opening = stock.get(substance_id, 0)
            if row is None and not opening:
                continue
            row = dict(row or {})
            row["opening"] = opening + row.get("opening", 0)
            stock[substance_id] = _closing({(substance_id, month): row})[substance_id]
            row["closing"] = stock[substance_id]
            figures[substance_id, month] = row
    return figures


def _months(period: Period) -> Iterable[str]:
    year, month = period.first.year, period.first.month
    while (year, month) <= (period.last.year, period.last.month):
        yield f"{year:04d}-{month:02d}"
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)


def _sheet(figures: Figures, key: str | None) -> ReportTable:
    empty = {name for name in SELDOM if not any(row.get(name) for row in figures.values())}
    names = ["opening", *(name for name in (*ADDED, *TAKEN) if name not in empty)]
    if key in {"grade", "location"}:
        names += ["transferred_in", "transferred_out"]
    names.append("closing")
    columns = [Column("substance", "Substance"), Column("unit", "Unit")]
    if key:
        columns.append(Column(key, key.capitalize()))
    columns += [Column(name, TITLES.get(name, name.capitalize()), "quantity") for name in names]
    substances = Substance.objects.in_bulk({substance_id for substance_id, _ in figures})
    people = worded(Person.objects.values_list("username", "name")) if key == "technician" else {}
    ordered = sorted(
        figures.items(), key=lambda item: (substances[item[0][0]].is_oil, substances[item[0][0]].code, item[0][1])
    )
    found = []
    for (substance_id, group), row in ordered:
        substance = substances[substance_id]
        lead = (substance.code, "mL" if substance.is_oil else "g", *([people.get(group, group)] if key else []))
        found.append((*lead, *(row.get(name, 0) for name in names)))
    return ReportTable(columns, found)


REPORT = Report(
    "usage",
    "Usage",
    rows,
    KEYS,
    "The mass balance: what came in, what jobs took and gave back, what was lost, what is left.",
)
