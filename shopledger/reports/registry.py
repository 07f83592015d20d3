"""The reports there are. To add one: a function from a period and a key to a table, a `Report` of it, its name here."""

from dataclasses import replace

from shopledger.findings import report as findings
from shopledger.reporting.report import Report
from shopledger.reports import behind, charts, emissions, stock, usage, work

REPORTS: dict[str, Report] = {
    report.name: report
    for report in (
        replace(usage.REPORT, opens=behind.usage_opens, chart=charts.usage_by_month),
        work.JOBS,
        replace(stock.CONTAINERS, chart=charts.stock_over_time),
        stock.PURCHASES,
        stock.SHIPMENTS,
        work.PEOPLE,
        replace(stock.VARIANCES, chart=charts.differences_by_month),
        replace(emissions.EMISSIONS, opens=behind.emissions_opens, chart=charts.emissions_by_substance),
        work.UNITS,
        findings.FINDINGS,
    )
}
