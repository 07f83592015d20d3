"""What people would rather look at than read: drawings of a report's figures, for page and PDF alike."""

from collections.abc import Sequence

from django.db.models import Sum
from django.db.models.functions import TruncMonth

from inventory.counting.queries import standing
from inventory.counting.whose import whose
from inventory.measures.days import said_day
from inventory.paper import flow
from inventory.paper.chart import Picture, bars
from inventory.reference.kinds import with_trait
from shopledger.reporting.report import Period, ReportTable
from shopledger.reports import usage
from shopledger.reports.emissions import LOST, emissions

CAME = {
    "received": ("received",),
    "found": ("found",),
    "recovered": ("recovered",),
    "weighing differences": ("weighing_difference",),
    "unexplained gain": ("unexplained_gain",),
    "now another substance": ("reclassified_in", "reclassified_out"),
}
LEFT = {
    "charged": ("charged",),
    "lost": LOST,
    "sent away": ("returned", "reclaimed", "destroyed"),
    "sold": ("sold",),
}
LINES = 5  # as many as can be told apart


def flow_of(period: Period) -> Picture | None:
    """Refrigerants of all kinds together: what was in stock and came, and what left and is in stock, to one scale."""
    return flow_in(usage.rows(period), period)


def flow_in(table: ReportTable, period: Period) -> Picture | None:
    """The same from a usage report that is not split; None where no refrigerant moved or stands."""
    sums = _sums(table)
    came = [(name, sums.get(one, 0) - sum(sums.get(less, 0) for less in rest)) for name, (one, *rest) in CAME.items()]
    left = [(name, sum(sums.get(one, 0) for one in columns)) for name, columns in LEFT.items()]
    before, after = (f"before {said_day(period.first)}", f"on {said_day(period.last)}")
    sides = flow.parts((before, sums.get("opening", 0)), came, left, (after, sums.get("closing", 0)))
    if not sides[0]:
        return None
    return flow.picture("What came and where it went, all refrigerants together", *sides)


def _sums(table: ReportTable) -> dict[str, int]:
    """Each quantity's column over all refrigerants, mg."""
    names = [column.name for column in table.columns]
    unit, sums = names.index("unit"), {}
    for row in table.rows:
        if row[unit] != "mL":
            for name, value in zip(names, row, strict=True):
                if isinstance(value, int):
                    sums[name] = sums.get(name, 0) + value
    return sums


def _barred(title: str, names: Sequence[str], series: Sequence[tuple[str, Sequence[int]]], head: str) -> Picture:
    """Bars in kg of whole mg."""
    drawn = [(name, [value / 1e6 for value in row]) for name, row in series]
    rows = [(name, *(row[place] for _, row in series)) for place, name in enumerate(names)]
    return Picture(title, lambda width: bars(names, drawn, "kg", width), (head, *(name for name, _ in series)), rows)


def usage_by_month(period: Period) -> Picture | None:
    """Refrigerants of all kinds together, kg a month: charged, recovered, lost."""
    table = usage.rows(period, "month")
    names = [column.name for column in table.columns]
    months: dict[str, dict[str, int]] = {}
    for row in table.rows:
        figures = dict(zip(names, row, strict=True))
        if figures["unit"] == "mL":
            continue
        sums = months.setdefault(figures["month"], {"charged": 0, "recovered": 0, "lost": 0})
        sums["charged"] += figures["charged"]
        sums["recovered"] += figures["recovered"]
        sums["lost"] += sum(figures[name] for name in LOST)
    ordered = sorted(months)
    series = [(name, [months[m][name] for m in ordered]) for name in ("charged", "recovered", "lost")]
    return _barred("Charged, recovered and lost by month", ordered, series, "Month")


def emissions_by_substance(period: Period) -> Picture | None:
    rows = [row for row in emissions(period, None).rows if row[3] is not None]
    kinds = (("charged", 3), ("recovered", 4), ("lost", 5), ("shipped", 6))
    series = [(name, [float(row[at]) for row in rows]) for name, at in kinds]
    return Picture(
        "t CO2e by refrigerant",
        lambda width: bars([row[0] for row in rows], series, "t CO2e", width),
        ("Refrigerant", *(name for name, _ in kinds)),
        [(row[0], *(row[at] for _, at in kinds)) for row in rows],
    )


def differences_by_month(period: Period) -> Picture | None:
    """The sum of all differences of the shop's refrigerants a month, g, of either sign."""
    found = whose(standing(period.last)).filter(day__gte=period.first)
    found = found.exclude(container__kind__in=with_trait("is_oil"))
    rows = found.annotate(month=TruncMonth("day")).order_by("month").values("month").annotate(total=Sum("difference"))
    months = [(row["month"].strftime("%Y-%m"), row["total"]) for row in rows]
    series = [("difference", [total / 1000 for _, total in months])]
    names = [month for month, _ in months]
    return Picture(
        "Differences by month", lambda width: bars(names, series, "g", width), ("Month", "Difference"), months
    )


def stock_over_time(period: Period) -> Picture | None:
    """What all containers held at the end of each month, kg, for the refrigerants of which there was most."""
    table = usage.rows(period, "month")
    names = [column.name for column in table.columns]
    held: dict[str, dict[str, int]] = {}
    months = set()
    for row in table.rows:
        figures = dict(zip(names, row, strict=True))
        if figures["unit"] == "g":
            held.setdefault(figures["substance"], {})[figures["month"]] = figures["closing"]
            months.add(figures["month"])
    ordered = sorted(months)
    most = sorted(held, key=lambda code: (-max(held[code].values()), code))[:LINES]
    series = [(code, [held[code].get(month, 0) for month in ordered]) for code in most]
    return _barred("In stock at the end of each month", ordered, series, "Month")
