"""The reports there are. To add one: write its module with a `REPORT`, and name it here."""

from shopledger.reports import usage
from shopledger.reports.report import Report

REPORTS: dict[str, Report] = {module.REPORT.name: module.REPORT for module in (usage,)}
