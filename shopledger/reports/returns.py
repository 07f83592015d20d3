"""The figures that the rulebook asks for of each period of the calendar, such as what was bought in a quarter."""

from collections import defaultdict

from inventory.ledger.models import Substance
from inventory.reference.period_rules import COUNTED
from inventory.shop.models import Shop
from inventory.verdicts.period_figures import Asked, figures_asked
from shopledger.reporting.report import Column, Period, Report, ReportTable
from shopledger.reports import usage

NONE_ASKED = "The rulebook asks for no figures of a period."


def rows(period: Period, _key: str | None = None) -> ReportTable:
    """One row a period of the calendar and refrigerant of which anything moved in it: its figures, each what columns of
    the mass balance come to. Of a period that lies in the report's days in part, those days only."""
    asked = figures_asked(Shop.current().rules, period.last)
    lead = [Column("from", "From", "day"), Column("to", "To", "day"), Column("substance", "Substance")]
    lead.append(Column("unit", "Unit"))
    if asked is None:
        return ReportTable(lead, [], notes=[NONE_ASKED])
    columns = [*lead, *(Column(named(rule.title), rule.title, "quantity") for rule in asked.rules)]
    found = [
        (first, last, code, "g", *figures)
        for (first, last, code), counted in sorted(_counted(period, asked).items())
        if any(figures := asked.figures(code, counted))
    ]
    return ReportTable(columns, found, notes=_notes(asked))


def named(title: str) -> str:
    """A figure's name as the name of a column."""
    return title.casefold().replace(" ", "_")


def _counted(period: Period, asked: Asked) -> dict[tuple, dict[str, int]]:
    """The columns of the mass balance by period of the calendar (first and last day) and refrigerant."""
    balance = usage.rows(period, "month")
    names = [column.name for column in balance.columns]
    oils = set(Substance.objects.filter(is_oil=True).values_list("code", flat=True))
    found: dict[tuple, dict[str, int]] = defaultdict(lambda: dict.fromkeys(COUNTED, 0))
    for row in balance.rows:
        figures = dict(zip(names, row, strict=True))
        if figures["substance"] in oils:
            continue
        year, month = map(int, figures["month"].split("-"))
        first, last = asked.of(period.first.replace(year=year, month=month, day=1))
        total = found[max(first, period.first), min(last, period.last), figures["substance"]]
        for name in COUNTED:
            total[name] += figures[name]
    return found


def _notes(asked: Asked) -> list[str]:
    """What each figure adds up, and where it is asked for."""
    said = [
        f"{rule.title}: what the usage report calls {', '.join(rule.columns).replace('_', ' ')}. {rule.cited()}."
        + (f" {rule.note}" if rule.note else "")
        for rule in asked.rules
    ]
    days = {rule.copies_days for rule in asked.rules} - {None}
    return [*said, *(f"Copies are given within {one} days of a written request." for one in sorted(days))]


ABOUT = "What the rulebook asks to be kept of each quarter or other period."
RETURNS = Report("returns", "Returns", rows, (), ABOUT, section="period_figures")
