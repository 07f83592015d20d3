"""The log of equipment evacuated to be disposed of: each piece, and the total of each month and refrigerant."""

import datetime as dt

from django.urls import reverse

from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.verdicts.records import Asked, Disposed, is_logged, monthly_totals, records
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job
from shopledger.findings.said import Kept, of_jobs
from shopledger.reporting.corrections import TAKEN_OFF, counted
from shopledger.reporting.report import MEASURED, Column, Period, Report, ReportTable, Worded, called

LOGGED = {True: "yes", False: "no", None: "not decided"}
WHERE_TO = "Where it went, how much, to whom and when: the report of shipments."


def rows(period: Period, _key: str | None) -> ReportTable:
    """One row for each piece of equipment, then one for each month and refrigerant: what was recovered from all that
    the rulebook puts into the log. A month without any has no row."""
    shop = Shop.current()
    signs = dict(counted("job", period).values_list("number", "sign"))
    jobs = Job.objects.filter(recover_why="disposal", voucher__in=counted("job", period).order_by().values("number"))
    loaded = jobs.select_related("technician", "unit__customer", "unit__premises").prefetch_related("lines__container")
    kept = sorted(of_jobs(loaded, shop), key=lambda one: (-signs[one.job.voucher_id], one.job.day, one.job.voucher_id))
    disposed = [Disposed(one.job.day, one.system, signs[one.job.voucher_id] * one.job.recovered_mg) for one in kept]
    found = [_row(one, gone, shop.rules) for one, gone in zip(kept, disposed, strict=True)]
    links = [{"job": reverse("job", args=[one.job.pk])} for one in kept]
    why = [_why(one, shop.rules) for one in kept]
    for (year, month, substance), total in monthly_totals(shop.rules, disposed).items():
        found.append((dt.date(year, month, 1), f"total of {year}-{month:02d}", "", "", "", substance, total, "yes"))
        links.append({})
        why.append(())
    notes = [WHERE_TO, MEASURED] + ([TAKEN_OFF] if -1 in signs.values() and any(one[6] < 0 for one in found) else [])
    return ReportTable(COLUMNS, found, notes=notes, links=links, why=why)


COLUMNS = [
    Column("date", "Date", "day"),
    Column("job", "Job"),
    Column("technician", "Technician"),
    Column("unit", "Unit"),
    Column("location", "Location"),
    Column("substance", "Refrigerant"),
    Column("recovered", "Recovered", "mass"),
    Column("logged", "In the log"),
]


def _row(one: Kept, gone: Disposed, rules: Rulebook) -> tuple:
    job = one.job
    return (
        job.day,
        job.number,
        called(job.technician.username, job.technician.name),
        called(job.unit.code, job.unit.title),
        Worded(" ".join(one.address.split()), ""),
        gone.system.substance,
        gone.recovered_mg,
        LOGGED[is_logged(rules, gone)],
    )


def _why(one: Kept, rules: Rulebook) -> tuple[Verdict, ...]:
    return tuple(records(rules, Asked("disposal", "technician", one.system), one.said, one.job.day))


DISPOSALS = Report(
    "disposals",
    "Disposals",
    rows,
    (),
    "Equipment that was evacuated to be disposed of, and what each month came to.",
)
