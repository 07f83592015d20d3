"""What a report is made of. Pure: no Django here.

A report's module offers a `Report`: its name, title, the keys it can be split by, and `rows`, which answers
a `Period` and a key with a `ReportTable`. Page, CSV, XLSX, JSON and PDF follow from its columns.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from inventory.measures.quantity import csv_value, ungrouped
from inventory.verdicts.verdict import Verdict


class Worded(str):
    """Text that is said in two ways: as people read it, and as files hold it (`coded`), with codes in place of names
    and without what somebody wrote; see `ReportTable.said`. codes: those that stand in it; people's are usernames."""

    coded: str
    codes: frozenset[str]

    def __new__(cls, words: str, coded: str, codes: Iterable[str] = ()) -> "Worded":
        made = super().__new__(cls, words)
        made.coded, made.codes = coded, frozenset(codes)
        return made


def called(code: str, name: str) -> Worded:
    """One whom people call by a name: a person, by the username, a customer, a unit or a party."""
    return Worded(name or code, code, (code,))


def worded(names: Iterable[tuple[str, str]]) -> dict[str, Worded]:
    """From (code, name) of each its cell, by code; one object however many rows hold it."""
    return {code: called(code, name) for code, name in names}


def with_code(one: Worded) -> Worded:
    """A name with its code behind it."""
    return Worded(f"{one} ({one.coded})", one.coded, one.codes)


def joined(*parts: str) -> Worded:
    """A sentence of parts, some of which may be said in two ways."""
    codes = (part.codes for part in parts if isinstance(part, Worded))
    return Worded("".join(parts), "".join(map(coded, parts)), frozenset().union(*codes))


def coded(value: object) -> object:
    """What files hold of a cell's value; another value as it is."""
    return value.coded if isinstance(value, Worded) else value


QUANTITIES = frozenset({"quantity", "mass", "volume"})
NUMERIC = QUANTITIES | {"count", "decimal"}
MEASURED = "g for refrigerants, mL for oils."  # a note of each report whose rows do not say it


@dataclass(frozen=True)
class Period:
    """Days from first to last, both included."""

    first: dt.date
    last: dt.date

    @property
    def eve(self) -> dt.date:
        """The day before the first."""
        return self.first - dt.timedelta(days=1)

    def __str__(self) -> str:
        return f"{self.first} to {self.last}"


@dataclass(frozen=True)
class Column:
    """kind: text, day, count, decimal (a number as text), mass (mg), volume (uL), or quantity (mg or uL: the row's
    `unit`, or the table's `oils`, says which)."""

    name: str
    title: str
    kind: str = "text"

    @property
    def numeric(self) -> bool:
        return self.kind in NUMERIC


@dataclass(frozen=True)
class ReportTable:
    """Rows as tuples in the order of the columns; None is blank. links: for each row, the page behind a column;
    oils: for each row, whether its quantities are volumes; why: for each row, what the rulebook says about it, which a
    page opens and a PDF has as notes. total: a row that sums the others up, last on pages and paper; other files have
    none, for whoever adds up a column there would count everything twice."""

    columns: Sequence[Column]
    rows: Sequence[tuple]
    notes: Sequence[str] = field(default_factory=tuple)
    links: Sequence[dict[str, str]] = field(default_factory=tuple)
    oils: Sequence[bool] = field(default_factory=tuple)
    why: Sequence[tuple[Verdict, ...]] = field(default_factory=tuple)
    total: tuple = ()

    def said(self, in_codes: bool = False) -> list[list[str]]:
        """Every cell as a CSV holds it: quantities in g or mL with three decimals, days as ISO. in_codes: as files
        hold it."""
        rows = (map(coded, row) for row in self.rows) if in_codes else self.rows
        return [[cell(column, value) for column, value in zip(self.columns, row, strict=True)] for row in rows]


def nothing_behind(_column: str, _key: str | None) -> bool:
    return False


@dataclass(frozen=True)
class Report:
    """opens: whether a column, in a report split by a key, has movements behind its figures. pictures: of the figures
    of a period (`inventory.paper.chart.Picture`), None where there is nothing to draw. section: of the rulebook, which
    asks for it; blank: it is always there.
    of_money: it is the shop's own affair: no inspector reads it, and no seal keeps it, for prices come late."""

    name: str
    title: str
    rows: Callable[[Period, str | None], ReportTable]
    keys: tuple[str, ...] = ()
    about: str = ""
    of_ledger: bool = True  # whether its figures are movements, so that later corrections of them are named
    opens: Callable[[str, str | None], bool] = nothing_behind
    pictures: tuple[Callable[[Period], object], ...] = ()
    section: str = ""
    of_money: bool = False


def cell(column: Column, value: object) -> str:
    if value is None:
        return ""
    if column.kind in QUANTITIES:
        return csv_value(value)
    if column.kind == "day":
        return value.isoformat()
    return ungrouped(str(value))
