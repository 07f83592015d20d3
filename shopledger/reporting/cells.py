"""A report's rows as a page shows them: each value with its column, and the page behind it."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.http import urlencode

from inventory.verdicts.verdict import Verdict
from shopledger.reporting.output import Made, empty_columns
from shopledger.reporting.report import QUANTITIES, Column, coded


@dataclass(frozen=True)
class Row:
    """cells: as the template wants them. why: what the rulebook says about it."""

    cells: list[dict]
    why: Sequence[Verdict] = ()

    @property
    def said(self) -> str:
        """All its text."""
        return " ".join(str(cell["value"]) for cell in self.cells if cell["value"] is not None)


@dataclass(frozen=True)
class Shown:
    """columns: those that say something. empty: titles of the others. total: cells of the row that sums all up, on the
    last page; else none."""

    columns: list[Column]
    rows: list[Row]
    empty: list[str]
    total: list[dict]


def shown(made: Made, places: Sequence[int] | None = None, linked: bool = True) -> Shown:
    """places: of the rows on this page; all where None. linked: False for readers who may not follow the links."""
    empty = empty_columns(made.table)
    itself = {"unit"} if made.report.name == "usage" else set()  # each of its figures says it, kg from 10 kg on
    kept = [i for i, column in enumerate(made.table.columns) if i not in empty and column.name not in itself]
    places = range(len(made.table.rows)) if places is None else places
    rows = []
    for place in places:
        cells = _cells(made, place, linked)
        rows.append(Row([cells[i] for i in kept], made.table.why[place] if made.table.why else ()))
    columns, nothing = made.table.columns, [made.table.columns[i].title.lower() for i in empty]
    ends = made.table.total and len(made.table.rows) - 1 in places
    total = [_cell(columns[i], made.table.total[i], False) for i in kept] if ends else []
    return Shown([columns[i] for i in kept], rows, nothing, total)


def _cells(made: Made, place: int, linked: bool) -> list[dict]:
    """Each with the value, whether it is a volume, and the page behind it."""
    table, row = made.table, made.table.rows[place]
    names = [column.name for column in table.columns]
    unit = names.index("unit") if made.report.name == "usage" else None
    oil = row[unit] == "mL" if unit is not None else bool(table.oils and table.oils[place])
    links = dict(table.links[place]) if linked and table.links else {}
    if linked and unit is not None and not made.key:  # what was there, container by container
        held = f"{reverse('report', args=['containers'])}?first={made.period.first}&last={made.period.last}"
        links |= {"opening": held, "closing": held}
    group = coded(row[names.index(made.key)]) if made.key else ""
    for column, value in zip(table.columns, row, strict=True):
        if linked and value and made.report.opens(column.name, made.key):
            links[column.name] = _behind(made, row[0], column.name, group)
    return [
        _cell(column, value, oil, links.get(column.name, "")) for column, value in zip(table.columns, row, strict=True)
    ]


def _cell(column: Column, value: object, oil: bool, link: str = "") -> dict:
    return {
        "column": column,
        "value": value,
        "quantity": column.kind in QUANTITIES and value is not None,
        "oil": oil if column.kind == "quantity" else column.kind == "volume",
        "day": value if column.kind == "day" else None,
        "link": link,
    }


def _behind(made: Made, substance: str, column: str, group: str) -> str:
    """The address of the movements behind a figure."""
    asked = {"first": made.period.first, "last": made.period.last, "substance": substance, "column": column}
    if made.key:
        asked |= {"by": made.key, "group": group}
    return f"{reverse('report-movements', args=[made.report.name])}?{urlencode(asked)}"
