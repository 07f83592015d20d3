"""What people would rather look at than read: drawings of a report's figures, for page and PDF alike."""

from django.db.models import Sum
from django.db.models.functions import TruncMonth
from reportlab.graphics.shapes import Drawing

from inventory.counting.queries import standing
from inventory.counting.whose import whose
from inventory.paper.chart import WIDE, bars
from inventory.reference.kinds import with_trait
from shopledger.reporting.report import Period
from shopledger.reports import usage
from shopledger.reports.emissions import LOST, emissions


def usage_by_month(period: Period, width: float = WIDE) -> Drawing:
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
    return bars(
        ordered,
        [(name, [months[m][name] / 1e6 for m in ordered]) for name in ("charged", "recovered", "lost")],
        "kg",
        width,
    )


def emissions_by_substance(period: Period, width: float = WIDE) -> Drawing:
    rows = [row for row in emissions(period, None).rows if row[3] is not None]
    kinds = (("charged", 3), ("recovered", 4), ("lost", 5), ("shipped", 6))
    return bars(
        [row[0] for row in rows], [(name, [float(row[at]) for row in rows]) for name, at in kinds], "t CO2e", width
    )


def differences_by_month(period: Period, width: float = WIDE) -> Drawing:
    """The sum of all differences of the shop's refrigerants a month, g, of either sign."""
    found = whose(standing(period.last)).filter(day__gte=period.first)
    found = found.exclude(container__kind__in=with_trait("is_oil"))
    rows = found.annotate(month=TruncMonth("day")).order_by("month").values("month").annotate(total=Sum("difference"))
    return bars(
        [row["month"].strftime("%Y-%m") for row in rows],
        [("difference", [row["total"] / 1000 for row in rows])],
        "g",
        width,
    )


def stock_over_time(period: Period, width: float = WIDE) -> Drawing:
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
    return bars(ordered, [(code, [held[code].get(month, 0) / 1e6 for month in ordered]) for code in most], "kg", width)


LINES = 5  # as many as can be told apart
