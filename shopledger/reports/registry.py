"""The reports there are. To add one: a function from a period and a key to a table, a `Report` of it, its name here."""

import datetime as dt
from dataclasses import replace

from inventory.reference.rulebook import Rulebook
from shopledger.findings import report as findings
from shopledger.reporting.report import Report
from shopledger.reports import (
    apart,
    behind,
    buying,
    charts,
    costs,
    disposals,
    emissions,
    kept,
    returns,
    stock,
    usage,
    work,
)

REPORTS: dict[str, Report] = {
    report.name: report
    for report in (
        replace(usage.REPORT, opens=behind.usage_opens, pictures=(charts.flow_of, charts.usage_by_month)),
        work.JOBS,
        replace(stock.CONTAINERS, pictures=(charts.stock_over_time,)),
        stock.PURCHASES,
        stock.SHIPMENTS,
        work.PEOPLE,
        replace(stock.VARIANCES, pictures=(charts.differences_by_month,)),
        replace(emissions.EMISSIONS, opens=behind.emissions_opens, pictures=(charts.emissions_by_substance,)),
        work.UNITS,
        kept.KEPT,
        apart.APART,
        apart.APART_VARIANCES,
        returns.RETURNS,
        disposals.DISPOSALS,
        costs.VALUE,
        costs.JOB_COSTS,
        buying.ORDERS,
        buying.SUPPLIERS,
        findings.FINDINGS,
    )
}


def wanted(rules: Rulebook, day: dt.date) -> dict[str, Report]:
    """The reports of a shop that seals keep and inspectors read: without those that its rulebook does not ask for on
    that day, and without those of money."""
    return {
        name: report
        for name, report in REPORTS.items()
        if not report.of_money and (not report.section or rules.section(report.section, day))
    }


def of_office(rules: Rulebook, day: dt.date) -> dict[str, Report]:
    """The same, and those of money behind them."""
    return wanted(rules, day) | {name: report for name, report in REPORTS.items() if report.of_money}
