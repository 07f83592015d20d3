"""The report of findings."""

from shopledger.findings.queries import findings
from shopledger.reporting.report import Column, Period, Report, ReportTable


def rows(period: Period, _key: str | None) -> ReportTable:
    found = findings(period)
    columns = [
        Column("severity", "Severity"),
        Column("rule", "Rule"),
        Column("citation", "Where it is written"),
        Column("what", "What"),
        Column("where", "Where to mend it"),
    ]
    return ReportTable(
        columns,
        [(one.severity, one.rule, one.citation, one.what, one.where) for one in found],
        links=[{"where": one.where, "what": one.where} for one in found],
        why=[(one.verdict,) if one.verdict else () for one in found],
    )


FINDINGS = Report(
    "findings", "Findings", rows, (), "What an inspector would object to, and where it is mended.", of_ledger=False
)
