"""The reports there are. To add one: a function from a period to a sheet, a `Report` of it, and its name here."""

from shopledger.findings import report as findings
from shopledger.reports import emissions, stock, usage, work
from shopledger.reports.report import Report

REPORTS: dict[str, Report] = {
    report.name: report
    for report in (
        usage.REPORT, work.JOBS, stock.CONTAINERS, stock.PURCHASES, stock.SHIPMENTS, work.PEOPLE, stock.VARIANCES,
        emissions.EMISSIONS, work.UNITS, findings.FINDINGS,
    )
}  # fmt: skip
