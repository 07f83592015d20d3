"""Reading the cells of a table's rows, each column by what the whole column shows. Pure.

A column that shows its decimal mark somewhere needs no question about `1,250`, one in which a day over twelve stands
needs none about `02/03/2026`. What the column does not show is asked once, for all its cells.
"""

import datetime as dt
import re
from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

from inventory.measures.days import said_day
from shopledger.sheet_meaning.asking import LEFT_OUT, Asking, Pending
from shopledger.sheet_meaning.heads import AMOUNT
from shopledger.sheet_meaning.kinds_of_sheet import called
from shopledger.sheet_meaning.known import Known
from shopledger.sheet_meaning.mapping import Columns
from shopledger.sheet_meaning.rows import is_ditto
from shopledger.sheet_meaning.tables import Table
from shopledger.sheet_meaning.values import (
    MASS,
    VOLUME,
    Days,
    Figure,
    Unread,
    Yearless,
    days,
    figure,
    is_nothing,
    quantity,
    unit_of,
)
from shopledger.sheets.grid import BLANK, DAY, ERROR, TEXT, Cell

DAY_FIRST, MONTH_FIRST = "day", "month"
HALF_A_YEAR = 182  # days
A_YEAR = re.compile(r"(?<!\d)20\d\d(?!\d)")
UNIT_WORDS = {
    "g": "gram",
    "kg": "kilogram",
    "lb": "pound",
    "oz": "ounce",
    "mg": "milligram",
    "mL": "millilitre",
    "L": "litre",
}


class Skip(Exception):
    """Somebody said to leave such rows out."""


@dataclass
class Marks:
    """How the numbers of a column are written. decimal: the marks that part decimals for sure. proved: that the other
    mark parts thousands, as both stand in one number."""

    decimal: set[str] = field(default_factory=set)
    proved: bool = False


class Reader:
    """rows: those that are read. faults: (row, column, what is wrong)."""

    def __init__(self, table: Table, columns: Columns, rows: list[int], asking: Asking, known: Known):
        self.table, self.columns, self.rows, self.asking, self.known = table, columns.columns, rows, asking, known
        self.heads = columns.heads
        self.faults: list[tuple[int, int, str]] = []
        self._marks: dict[str, Marks] = {}
        self._order: dict[str, str] = {}
        self._above: dict[tuple[int, int], Cell] = self._dittos()

    # -- cells -----------------------------------------------------------------------------------

    def _dittos(self) -> dict[tuple[int, int], Cell]:
        """What a mark for `the same as above` stands for."""
        found: dict[tuple[int, int], Cell] = {}
        for column in set(self.columns.values()):
            above = BLANK
            for row in self.rows:
                cell = self.table.sheet.rows[row][column]
                if is_ditto(cell) and above:
                    found[row, column] = above
                elif cell:
                    above = cell
        return found

    def has(self, name: str) -> bool:
        return name in self.columns

    def cell(self, row: int, name: str) -> Cell:
        column = self.columns.get(name)
        if column is None:
            return BLANK
        return self._above.get((row, column)) or self.table.sheet.rows[row][column]

    def place(self, row: int, name: str) -> str:
        return self.table.sheet.place(row, self.column(name))

    def column(self, name: str) -> int:
        return self.columns.get(name, min(self.table.columns))

    def fault(self, row: int, name: str, message: str) -> None:
        self.faults.append((row, self.column(name), message))

    def text(self, row: int, name: str) -> str:
        """Raises Unread for a cell that holds an error."""
        cell = self.cell(row, name)
        if cell.kind == ERROR:
            raise Unread(f"this is {cell.text}.")
        return "" if is_nothing(cell) else " ".join(cell.text.split())

    def counted(self, name: str) -> Counter:
        """How often each text stands in a column."""
        cells = (self.cell(row, name) for row in self.rows)
        return Counter(" ".join(cell.text.split()) for cell in cells if not is_nothing(cell) and cell.kind != ERROR)

    # -- figures ---------------------------------------------------------------------------------

    def marks(self, name: str) -> Marks:
        if name not in self._marks:
            found = self._marks[name] = Marks()
            for row in self.rows:
                cell = self.cell(row, name)
                if cell.kind == TEXT and not is_nothing(cell):
                    _shows(cell.text, found)
        return self._marks[name]

    def figure(self, row: int, name: str) -> tuple[Decimal, Figure] | None:
        """The number of a cell and what else it says; None where it is blank. Raises Unread, Pending."""
        cell = self.cell(row, name)
        if is_nothing(cell):
            return None
        read = figure(cell)
        if read.strange:
            raise Unread(f"the sheet shows {cell.text[:40]}; {read.strange} is no unit that is known.")
        if read.is_certain:
            return read.readings["."], read
        marks, mark = self.marks(name), read.doubted
        other = "," if mark == "." else "."
        if marks.decimal == {mark}:
            return read.readings[mark], read
        if marks.decimal == {other} and marks.proved:
            return read.readings[other], read
        two = read.readings[mark], read.readings[other]
        one, large = (f"{value.normalize():f}" for value in two)
        said = f"{called(name).capitalize()}: is {cell.text[:24]} {one}, or {large}?"
        choices = (
            ("decimal", f"{one}: the {_MARK[mark]} parts decimals"),
            ("thousands", f"{large}: the {_MARK[mark]} parts thousands"),
        )
        answer = self.asking.ask(f"mark:{name}:{mark}", said, choices, self.place(row, name))
        return (two[0] if answer == "decimal" else two[1]), read

    def amount(self, row: int, name: str, *, oil: bool) -> tuple[int, int | None] | None:
        """mg (uL of an oil), and the count that the cell says itself; None where blank. Raises Unread, Pending."""
        found = self.figure(row, name)
        if found is None:
            return None
        number, read = found
        if number == 0 and not read.unit:
            return 0, read.count
        unit = read.unit or self._unit(row, name, oil=oil)
        if unit == "oz" and oil:
            unit = self._asked_unit(row, name, oil=True, id="oz", among=("fl oz", "oz"))
        return quantity(number, unit, oil=oil), read.count

    def _unit(self, row: int, name: str, *, oil: bool) -> str:
        measure = self.cell(row, "measure").text
        if measure and not unit_of(measure) and self.heads[self.columns[name]].field == AMOUNT:
            raise Unread(f"{self.cell(row, name).text[:24]} {measure[:24]} says how many, and not how much is in each.")
        said = unit_of(measure) or self.heads[self.columns[name]].unit
        right = VOLUME if oil else MASS
        if said in right or (said == "oz" and oil):
            return said
        return self._asked_unit(row, name, oil=oil)

    def _asked_unit(self, row: int, name: str, *, oil: bool, id: str = "unit", among: tuple[str, ...] = ()) -> str:
        among = among or (VOLUME if oil else tuple(unit for unit in MASS if unit != "mg"))
        shown = self.table.heads.get(self.columns[name], called(name))
        of = " of oils" if oil else ""
        example = self.cell(row, name).text[:24]
        return self.asking.ask(
            f"{id}:{name}{':oil' if oil else ''}",
            f"In which unit is {shown}{of}, e.g. {example}?",
            [(unit, UNIT_WORDS.get(unit, unit)) for unit in among],
            self.place(row, name),
        )

    def count(self, row: int, name: str) -> int | None:
        """A whole number of pieces. Raises Unread, Pending."""
        found = self.figure(row, name)
        if found is None:
            return None
        number, measure = found[0], unit_of(self.cell(row, "measure").text)
        if measure and self.heads[self.columns[name]].field == AMOUNT:
            said = f"{self.cell(row, name).text[:24]} {measure} says how much, and not how many containers."
            raise Unread(f"{said} Say that the column is what is in it (net), or leave it out.")
        if number != int(number) or not 0 <= number <= 500 or found[1].unit:
            raise Unread(f"{self.cell(row, name).text[:40]!r} is no number of containers; write a whole one up to 500.")
        return int(number)

    # -- days ------------------------------------------------------------------------------------

    def day(self, row: int, name: str) -> dt.datetime | None:
        """None where it is blank. Raises Unread, Pending."""
        cell = self.cell(row, name)
        if is_nothing(cell):
            return None
        read = self._days(row, name, cell)
        if read.serial:
            said = f"{called(name).capitalize()}: {cell.text} counts days, as sheets do: {said_day(read.day_first)}?"
            choices = (("yes", "yes, it is that day"), ("no", "no, it is no day"))
            if self.asking.ask(f"serial:{name}", said, choices, self.place(row, name)) == "no":
                raise Unread(f"{cell.text[:40]} is no day; write it as 2026-03-02.")
            return read.day_first
        if cell.kind == DAY:
            return self._typed(row, name, read)
        if read.is_certain:
            return read.day_first
        order = self.order(name, row)
        when = read.day_first if order == DAY_FIRST else read.month_first
        if when is None:
            other = "month" if order == DAY_FIRST else "day"
            said = f"{cell.text[:40]!r} has its {other} first, and other days of this column have not"
            raise Unread(f"{said}; write 2026-03-02.")
        return when

    def _days(self, row: int, name: str, cell: Cell) -> Days:
        """What a cell says; of days without a year it is asked which one is meant. Raises Unread, Pending."""
        try:
            return days(cell, self.known.today)
        except Yearless as yearless:
            years = years_of(self.table, self.known.today)
            said = f"{called(name).capitalize()}: the days of {{n}} have no year, e.g. {cell.text[:24]}. Which is it?"
            choices = [(str(year), str(year)) for year in years]
            more = {"lasting": False, "suggested": str(years[0])}
            year = int(self.asking.ask(f"year:{name}", said, choices, self.place(row, name), **more))
            if self._over_new_year(name):
                said = f"{cell.text[:40]!r} has no year, and the days of this column run over the end of one"
                raise Unread(f"{said}; write it as 2026-03-02.") from yearless
            return days(cell, self.known.today, year)

    def _year(self, name: str) -> int | None:
        question = self.asking.asked.get(f"year:{name}")
        return int(question.given) if question and question.given else None

    def _over_new_year(self, name: str) -> bool:
        """Whether days that go on in one direction jump back by half a year: then they are not all of one."""
        key = f"over {name}"
        if key not in self._order:
            month_first = self._order_shown(name) == MONTH_FIRST
            texts = self._texts(name)
            told = [(one.month_first if month_first else one.day_first) or one.month_first for one in texts]
            steps = [(second - first).days for first, second in pairwise(told)]
            onward = sum(step > 0 for step in steps) - sum(step < 0 for step in steps)
            back = [step for step in steps if step * onward < 0 and abs(step) > HALF_A_YEAR]
            self._order[key] = "yes" if back else ""
        return bool(self._order[key])

    def order(self, name: str, row: int) -> str:
        """Which comes first in the days of a column that are text. Raises Pending."""
        if name not in self._order:
            self._order[name] = self._order_shown(name)
        if self._order[name]:
            return self._order[name]
        two = self._days(row, name, self.cell(row, name))
        examples = [(key, when) for key, when in ((DAY_FIRST, two.day_first), (MONTH_FIRST, two.month_first)) if when]
        choices = [(key, f"{when.day} {when:%B %Y}: the {key} stands first") for key, when in examples]
        if len(choices) < 2:
            choices = [(DAY_FIRST, "the day stands first"), (MONTH_FIRST, "the month stands first")]
        said = f"{called(name).capitalize()}: which day is {self.cell(row, name).text[:24]}?"
        return self.asking.ask(f"order:{name}", said, choices, self.place(row, name))

    def _order_shown(self, name: str) -> str:
        """What days over twelve show, where they all show the same; where none is, that dots part them."""
        shown, texts = set(), self._texts(name)
        for read in texts:
            if read.day_first is None:
                shown.add(MONTH_FIRST)
            elif read.month_first is None:
                shown.add(DAY_FIRST)
        if not shown and texts and all(read.dotted for read in texts if not read.is_certain):
            return DAY_FIRST
        return shown.pop() if len(shown) == 1 else ""

    def _texts(self, name: str) -> list[Days]:
        found = []
        for row in self.rows:
            cell = self.cell(row, name)
            if cell.kind == TEXT and not is_nothing(cell):
                try:
                    found.append(days(cell, self.known.today, self._year(name) or self.known.today.year))
                except Unread:
                    continue
        return [read for read in found if not read.serial]

    def _typed(self, row: int, name: str, read: Days) -> dt.datetime:
        """A day that the sheet itself knows as one. A sheet of another country takes 03/02/2026 for the other day and
        leaves 13/02/2026 as text: where a column shows both, nobody knows what its days were."""
        when = read.day_first
        if not self._turned(name) or when.day > 12:
            return when
        other = when.replace(month=when.day, day=when.month)
        said = (
            f"{called(name).capitalize()}: some days of this column are text, some were turned into days, it may be "
            f"the wrong way round. Is {self.table.sheet.place(row, self.columns[name])} {when.day} {when:%B}, or "
            f"{other.day} {other:%B}?"
        )
        choices = (
            ("right", f"{when.day} {when:%B %Y}"),
            ("turned", f"{other.day} {other:%B %Y}: all of them are turned"),
        )
        answer = self.asking.ask(f"turned:{name}", said, choices, self.place(row, name), lasting=False)
        return when if answer == "right" else other

    def _turned(self, name: str) -> bool:
        key = f"turned {name}"
        if key not in self._order:
            texts = self._texts(name)
            one_way = [text for text in texts if (text.day_first is None) != (text.month_first is None)]
            typed = [cell.when for row in self.rows if (cell := self.cell(row, name)).kind == DAY]
            self._order[key] = "yes" if one_way and typed and all(when.day <= 12 for when in typed) else ""
        return bool(self._order[key])

    def left_out(self, answer: str) -> str:
        if answer == LEFT_OUT:
            raise Skip
        return answer


def years_of(table: Table, today: dt.date) -> list[int]:
    """The years that days without one may be of, the likeliest first: what stands over the table or on its sheet's tab
    says, then this one and those before."""
    over = (cell.text for row in table.sheet.rows[: max(table.head_row, 0)] for cell in row if cell.kind != DAY)
    said = [int(year) for text in (*over, table.sheet.name) for year in A_YEAR.findall(text)]
    return list(dict.fromkeys([year for year in said if year <= today.year] + [today.year - ago for ago in range(4)]))


_MARK = {".": "point", ",": "comma"}


def _shows(text: str, found: Marks) -> None:
    """What a text shows of how numbers are written here."""
    for number in _numbers(text):
        points, commas = number.count("."), number.count(",")
        if points and commas:
            last = max(number.rfind("."), number.rfind(","))
            found.decimal.add(number[last])
            found.proved = True
        elif points + commas == 1:
            mark = "." if points else ","
            whole, _, decimals = number.partition(mark)
            if len(decimals) != 3 or whole in {"0", ""}:
                found.decimal.add(mark)


def _numbers(text: str) -> list[str]:
    found, word = [], ""
    for c in [*text, " "]:
        if c.isdigit() or c in ".,":
            word += c
        elif word:
            found.append(word.strip(".,") if word[:1] != "." else word)
            word = ""
    return [number for number in found if any(c.isdigit() for c in number)]


__all__ = ["DAY_FIRST", "MONTH_FIRST", "Pending", "Reader", "Skip"]
