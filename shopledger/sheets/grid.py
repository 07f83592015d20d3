"""What a workbook is once it is read: sheets of cells, each with what it says and where it stands. Pure.

Rows and columns are counted from 0; `place` says them as a person does, e.g. `Store!C14`.
"""

import datetime as dt
import re
from dataclasses import dataclass, field
from decimal import Decimal

# Marks that steer how text runs and take no room: no part of what anybody meant to write.
UNSEEN = re.compile("[\u00ad\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff]")
TEXT, NUMBER, DAY, TIME, ERROR = "text", "number", "day", "time", "error"


@dataclass(frozen=True, slots=True)
class Cell:
    """text: as it reads. kind: one of the above, blank of an empty one. number, when, time: what it says, exactly.
    unit: what its number format shows beside the number. An error's text says what is wrong with it."""

    text: str = ""
    kind: str = ""
    number: Decimal | None = None
    when: dt.datetime | None = None
    time: dt.time | None = None
    unit: str = ""

    def __bool__(self) -> bool:
        return bool(self.kind)


BLANK = Cell()


@dataclass(frozen=True)
class Sheet:
    """rows: cells, each row as long as the widest. merged: (first row, first column, last row, last column)."""

    name: str
    rows: list[list[Cell]]
    merged: tuple[tuple[int, int, int, int], ...] = ()
    hidden: bool = False
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    struck_rows: frozenset[int] = frozenset()

    @property
    def width(self) -> int:
        return len(self.rows[0]) if self.rows else 0

    def at(self, row: int, column: int) -> Cell:
        return self.rows[row][column] if row < len(self.rows) and column < self.width else BLANK

    def place(self, row: int, column: int) -> str:
        return f"{self.name}!{letters(column)}{row + 1}"


@dataclass(frozen=True)
class Book:
    """A workbook, or a CSV, which is one of one sheet. kind: xlsx, xls, ods or csv. sha256: of the file."""

    sheets: list[Sheet] = field(default_factory=list)
    kind: str = "csv"
    sha256: str = ""

    def called(self, name: str) -> Sheet | None:
        return next((sheet for sheet in self.sheets if sheet.name == name), None)


def letters(column: int) -> str:
    """A column as sheets call it: 0 is A, 26 is AA."""
    said, left = "", column + 1
    while left:
        left, digit = divmod(left - 1, 26)
        said = chr(65 + digit) + said
    return said


def cell_of(value: object) -> Cell:
    """A cell of what `child.py` says of it, or of a text."""
    if value is None:
        return BLANK
    if isinstance(value, bool):
        return Cell("yes" if value else "no", TEXT)
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, str):
        text = UNSEEN.sub("", value).strip()
        return Cell(text, TEXT) if text else BLANK
    word, what = value[0], value[1]
    if word == "unit":
        cell = _number(what)
        return Cell(f"{cell.text} {value[2]}", NUMBER, cell.number, unit=value[2])
    if word == "day" or word == "moment":
        when = dt.datetime.fromisoformat(what)
        return Cell(when.strftime("%Y-%m-%d %H:%M").removesuffix(" 00:00"), DAY, when=when)
    if word == "time":
        time = dt.time.fromisoformat(what)
        return Cell(time.strftime("%H:%M"), TIME, time=time)
    if word == "formula":
        return Cell("a formula whose value the file does not hold; open and save it once", ERROR)
    return Cell(f"the error {what}", ERROR)


def _number(value: int | float) -> Cell:
    """Sheets keep fifteen digits: what a formula leaves behind them (0.30000000000000004) nobody wrote."""
    number = Decimal(value) if isinstance(value, int) else Decimal(f"{value:.15g}")
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return Cell(text if len(text) <= 40 else f"{value:g}", NUMBER, number)


def squared(rows: list[list[Cell]]) -> list[list[Cell]]:
    """Each row as long as the widest, without what is empty at the right and at the foot."""
    while rows and not any(rows[-1]):
        rows.pop()
    width = max((at + 1 for row in rows for at, cell in enumerate(row) if cell), default=0)
    return [row[:width] + [BLANK] * (width - len(row)) for row in rows]
