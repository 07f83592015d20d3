"""Which column says what: by what stands over it and under it; asked where neither tells. Pure."""

import contextlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from shopledger.sheet_meaning.asking import LEFT_OUT, Asking, Pending
from shopledger.sheet_meaning.heads import AMOUNT, LIKELY, NEEDED_BY_NONE, SURE, WEIGHT, Head, fields_said
from shopledger.sheet_meaning.heads import unit_said as unit_of
from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS, called
from shopledger.sheet_meaning.tables import Table, head_at
from shopledger.sheet_meaning.values import Unread, figure, gas, is_nothing, kind_words
from shopledger.sheet_meaning.words import plain
from shopledger.sheets.grid import ERROR, TEXT, Cell, letters

WEIGHTS = {
    "stock": ("net", "gross", "tare"),
    "deliveries": ("net", "gross", "tare"),
    "jobs": ("charged", "recovered", "before", "after", "factory"),
    "counts": ("gross",),
    "units": ("factory",),
}
AMOUNTS = {"stock": ("count", "net"), "deliveries": ("count", "net"), "jobs": ("charged", "recovered", "oil_added")}
LOOKED_AT = 200  # rows by which what stands in a column is told
FIGURES = frozenset(
    {"count", "net", "gross", "tare", "charged", "recovered", "before", "after", "oil_added", "factory"}
)
FEWEST_TOLD = 3  # cells by which a head is belied; fewer are faults of their own
NUMBERS = frozenset({"no", "nr", "n", "item no", "pos"})  # heads of what counts the rows, or names what stands in them
CODE = re.compile(r"(?=.*[0-9])(?=.*[^\W\d_])[^\s]{2,24}|[^\W\d_]{1,4} [0-9]{1,6}")
MOST_COUNT = 200  # of equal containers in a row, that a column of whole numbers may say
LITTLE = frozenset({"note", "measure"})  # for which alone no column is asked about


@dataclass
class Columns:
    """columns: by field the column. heads: by column. unused: columns that say nothing needed, as they are called."""

    columns: dict[str, int] = field(default_factory=dict)
    heads: dict[int, Head] = field(default_factory=dict)
    unused: list[str] = field(default_factory=list)


class Mapper:
    """given: by column what a person said of it: a field, or LEFT_OUT."""

    def __init__(self, table: Table, kind: str, asking: Asking, given: Mapping[int, str] | None = None):
        self.table, self.kind, self.asking, self.given = table, kind, asking, dict(given or {})
        self.found = Columns()
        self.claims: dict[str, list[int]] = {}
        self.fields = SHEET_KINDS[kind].fields
        self.open: set[int] = set()  # columns that are being asked about

    def mapped(self) -> Columns:
        self._beside()
        open_heads = []
        for column in self.table.columns:
            head = self.found.heads[column] = head_at(self.table, column, self.kind)
            if column in self.given:
                self._claim(self.given[column], column)
            elif not any(self.cells(column)):
                continue
            elif (head.field in {WEIGHT, AMOUNT} and head.is_known) or self._belied(head, column):
                open_heads.append(column)
            elif head.sure >= SURE:
                self._claim(self._by_content(head, column), column)
            elif head.sure >= LIKELY:
                self._asked(column, head.field)
            else:
                open_heads.append(column)
        for column in open_heads:
            self._open(column)
        for name, columns in self.claims.items():
            self._choose(name, columns)
        used = set(self.found.columns.values()) | self.open
        self.found.unused = [self.shown(column) for column in self.table.columns if column not in used]
        return self.found

    def _beside(self) -> None:
        """Columns after an empty one: asked whether they go on with the same rows, where they say anything needed."""
        doubtful = [column for column in self.table.beside if column not in self.given]
        said = {head_at(self.table, column, self.kind).field for column in doubtful} & set(self.fields)
        if not said:
            return
        first, last = letters(min(doubtful)), letters(max(doubtful))
        yes = (("yes", "yes, they say more of the same rows"), (LEFT_OUT, "no, they are a table of their own"))
        question = f"Do columns {first} to {last} belong to the rows at their left?"
        answer = LEFT_OUT
        with contextlib.suppress(Pending):
            answer = self.asking.ask("beside", question, yes, self.place(min(doubtful)), lasting=False)
        if answer == LEFT_OUT:
            self.given |= dict.fromkeys(doubtful, LEFT_OUT)

    def cells(self, column: int) -> Iterator[Cell]:
        rows = self.table.sheet.rows[self.table.first : self.table.last + 1][:LOOKED_AT]
        return (row[column] for row in rows)

    def filled(self, column: int) -> list[Cell]:
        return [cell for cell in self.cells(column) if cell]

    def shown(self, column: int) -> str:
        text = self.found.heads[column].text if column in self.found.heads else ""
        return f"{letters(column)} {text}".strip()

    def place(self, column: int) -> str:
        return self.table.sheet.place(max(self.table.head_row, 0), column)

    def _claim(self, name: str, column: int) -> None:
        if name in self.fields:
            self.claims.setdefault(name, []).append(column)

    def _by_content(self, head: Head, column: int) -> str:
        """The field of a head that several may have, by what stands under it."""
        if head.field == "certificate" and not any(c.isdigit() for cell in self.filled(column) for c in cell.text):
            return "scheme"  # no number is written in letters alone
        said = fields_said(head.text, self.kind)
        if len(said) < 2 and head.field != "kind":
            return head.field
        cells = self.filled(column)
        if "measure" in said and _most(cells, lambda cell: bool(unit_of(cell.text))):
            return "measure"
        if "count" in said and _most(cells, _is_count):
            return "count"
        if "kind" in said and "net" in self.fields and _most(cells, lambda cell: bool(unit_of_cell(cell))):
            return "net"  # a pack of 12 x 340 g
        if {"kind", "substance"} & said:
            if "substance" in said and _most(cells, lambda cell: gas(cell.text) is not None):
                return "substance"
            if "kind" in said and _most(cells, lambda cell: kind_words(cell.text) is not None):
                return "kind"
        return head.field

    def _belied(self, head: Head, column: int) -> bool:
        """Whether what stands below is not what the head says: no figures, or codes and gases over which stands a
        word that nobody needs (No.)."""
        if head.sure < SURE:
            return False
        cells = [cell for cell in self.filled(column) if cell.kind != ERROR and not is_nothing(cell)]
        if head.field in FIGURES:
            return len(cells) >= FEWEST_TOLD and _most(cells, lambda cell: cell.kind == TEXT and not _is_number(cell))
        if head.field != NEEDED_BY_NONE:
            return False
        if "substance" in self.fields and self._told_below(cells) == "substance":
            return True
        return plain(head.text) in NUMBERS and _most(cells, lambda cell: bool(CODE.fullmatch(cell.text)))

    def _open(self, column: int) -> None:
        """A head that says a weight or an amount and not which, or nothing that is known."""
        head, cells = self.found.heads[column], self.filled(column)
        told = head.is_known or bool(head.unit)  # what only resembles the word, and has no unit, may be anything
        if told and head.field == WEIGHT:
            free = [name for name in WEIGHTS.get(self.kind, ()) if name not in self.claims]
            if (
                len(free) == 1 and len(WEIGHTS[self.kind]) == 3
            ):  # the other two are known: weights that disagree are asked
                self._claim(free[0], column)
            elif free:
                self._asked(column, "", free)
            return
        if told and head.field == AMOUNT:
            free = [name for name in AMOUNTS.get(self.kind, ()) if name not in self.claims]
            whole = _most(cells, _is_count)
            has_unit = bool(head.unit) or any(unit_of_cell(cell) for cell in cells)
            if free == ["count"] and whole and not has_unit:
                self._claim("count", column)
            elif has_unit and "net" in free:
                self._claim("net", column)
            elif free:
                self._asked(column, "", free)
            return
        likely = self._told_below(cells)
        if likely or any(name not in self.claims for name in self.fields if name not in LITTLE):
            self._asked(column, likely)

    def _told_below(self, cells: list[Cell]) -> str:
        if (
            "substance" in self.fields
            and "substance" not in self.claims
            and _most(cells, lambda c: gas(c.text) is not None)
        ):
            return "substance"
        if "kind" in self.fields and "kind" not in self.claims and _most(cells, lambda c: bool(kind_words(c.text))):
            return "kind"
        texts = [cell.text for cell in cells]
        code = "certificate" if "certificate" in self.fields else "container"
        if code in self.fields and code not in self.claims and len(set(texts)) == len(texts) > 1:
            return code if _most(cells, lambda cell: bool(CODE.fullmatch(cell.text))) else ""
        return ""

    def _asked(self, column: int, likely: str, among: list[str] | None = None) -> None:
        """Ask what a column is. The question is the same next month: it goes by the head's words."""
        head = self.found.heads[column]
        text = head.text or f"column {letters(column)}"
        among = among or [likely, *(name for name in self.fields if name != likely and name not in self.claims)]
        choices = [(name, called(name)) for name in among if name] + [(LEFT_OUT, "none of these: leave it out")]
        examples = ", ".join(dict.fromkeys(cell.text[:24] for cell in self.filled(column)[:3]))
        try:
            answer = self.asking.ask(
                f"column:{plain(text) or letters(column)}",
                f"What does {text} say, e.g. {examples}?",
                choices,
                self.place(column),
                suggested=likely,
            )
        except Pending:
            answer = likely
            self.open.add(column)
        self._claim(answer, column)

    def _choose(self, name: str, columns: list[int]) -> None:
        if len(columns) > 1:
            exact = [column for column in columns if self.given.get(column) == name]
            columns = exact or columns
        if len(columns) == 1:
            self.found.columns[name] = columns[0]
            return
        texts = [self.shown(column) for column in columns]
        choices = [(letters(column), text) for column, text in zip(columns, texts, strict=True)]
        said = f"{len(columns)} columns may say {called(name)}. Which one counts?"
        answer = letters(columns[0])
        with contextlib.suppress(Pending):
            answer = self.asking.ask(f"which:{name}", said, choices, self.place(columns[0]), lasting=False)
        self.found.columns[name] = columns[[letters(column) for column in columns].index(answer)]


def _most(cells: list[Cell], is_so) -> bool:
    cells = cells[:60]
    return bool(cells) and sum(map(is_so, cells)) * 10 >= len(cells) * 7


def _is_number(cell: Cell) -> bool:
    try:
        figure(cell)
    except Unread:
        return False
    return True


def _is_count(cell: Cell) -> bool:
    try:
        read = figure(cell)
    except Unread:
        return False
    value = read.readings["."]
    return not read.unit and read.is_certain and read.count is None and value == int(value) and 0 <= value <= MOST_COUNT


def unit_of_cell(cell: Cell) -> str:
    """The unit that a cell shows beside its number; blank for none."""
    try:
        return figure(cell).unit
    except Unread:
        return ""
