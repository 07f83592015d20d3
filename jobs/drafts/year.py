"""Twelve months of signed jobs: what was charged and recovered in each."""

import datetime as dt

from django.db.models import QuerySet, Sum
from django.db.models.functions import TruncMonth

from inventory.measures.months import add_months
from inventory.paper.chart import Picture, bars
from jobs.drafts.models import Job

MONTHS = 12
UNIT_FROM = 1_000_000  # mg: from 1 kg in a month on the bars are in kg


def year_of(jobs: QuerySet[Job], title: str, last: dt.date) -> Picture | None:
    """Of the signed ones among the jobs, by the month of their day, up to and with that of `last`; what was corrected
    counts as it stands now. None where nothing was charged or recovered. One question."""
    first = add_months(last.replace(day=1), 1 - MONTHS)
    found = jobs.filter(state="signed", day__gte=first, day__lte=last).order_by()
    found = found.annotate(month=TruncMonth("day")).values("month")
    sums = {
        row["month"].strftime("%Y-%m"): (row["charged"], row["recovered"])
        for row in found.annotate(charged=Sum("charged_mg"), recovered=Sum("recovered_mg"))
    }
    if not any(map(any, sums.values())):
        return None
    months = [add_months(first, number) for number in range(MONTHS)]
    rows = [(month.strftime("%Y-%m"), *sums.get(month.strftime("%Y-%m"), (0, 0))) for month in months]
    most = max(max(charged, recovered) for _, charged, recovered in rows)
    unit, size = ("kg", 1e6) if most >= UNIT_FROM else ("g", 1e3)
    series = [(name, [row[at] / size for row in rows]) for at, name in ((1, "charged"), (2, "recovered"))]
    names = [month.strftime("%b") for month in months]
    heads = ("Month", "Charged", "Recovered")
    return Picture(title, lambda width: bars(names, series, unit, width), heads, rows)


def year_of_unit(pk: int, last: dt.date) -> Picture | None:
    return year_of(Job.objects.filter(unit_id=pk), "Charged and recovered by month", last)


def year_of_person(pk: int, last: dt.date) -> Picture | None:
    return year_of(Job.objects.filter(technician_id=pk), "Charged and recovered by month", last)
