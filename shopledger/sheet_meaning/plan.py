"""A sheet of a kind, as far as it is understood: what it becomes, what is asked, what is wrong with it. Pure."""

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from shopledger.logbook.folder import Folder
from shopledger.sheet_meaning.arriving import Arriving, Deliveries
from shopledger.sheet_meaning.asking import LEFT_OUT, Asking, Pending, Question
from shopledger.sheet_meaning.building import Built
from shopledger.sheet_meaning.heads import LIKELY
from shopledger.sheet_meaning.job_rows import Jobs
from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS, called
from shopledger.sheet_meaning.known import Known
from shopledger.sheet_meaning.mapping import Columns, Mapper
from shopledger.sheet_meaning.others import Counts, People, Units
from shopledger.sheet_meaning.reader import Reader
from shopledger.sheet_meaning.rows import Kept, kept_rows
from shopledger.sheet_meaning.tables import Table, table_under, tables_of
from shopledger.sheet_meaning.words import plain
from shopledger.sheets.grid import Book, Sheet

BUILDERS = {
    "stock": Arriving,
    "deliveries": Deliveries,
    "jobs": Jobs,
    "people": People,
    "units": Units,
    "counts": Counts,
}
MOST_ROWS = 20_000


@dataclass(frozen=True)
class Pointed:
    """What somebody pointed at: blank and None for what the program may find itself. sheet: its name. head, first,
    last: rows, counted from 1 as they are shown. columns: by column (from 0) the field, or LEFT_OUT. heads: the same
    by the words of the head, as a mapping keeps them."""

    sheet: str = ""
    head: int | None = None
    first: int | None = None
    last: int | None = None
    columns: Mapping[int, str] = field(default_factory=dict)
    heads: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Plan:
    """table: None where none was found. faults: (row, column, what is wrong), of the sheet. notes: what was left out
    and taken for granted, in sentences."""

    kind: str
    book: Book
    table: Table | None = None
    columns: Columns = field(default_factory=Columns)
    kept: Kept = field(default_factory=Kept)
    built: Built = field(default_factory=Built)
    asking: Asking = field(default_factory=lambda: Asking({}))
    faults: list[tuple[int, int, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    digests: list[str] = field(default_factory=list)

    @property
    def questions(self) -> list[Question]:
        return self.asking.open

    @property
    def is_whole(self) -> bool:
        """Whether it can be judged: nothing is open and nothing wrong with its cells."""
        return self.table is not None and not self.questions and not self.faults and not self.asking.faults

    @property
    def folder(self) -> Folder:
        """Its rows as those of a log, with a digest of what they say."""
        hashed = hashlib.sha256(f"sheet\0{self.kind}\0".encode())
        for digest in self.digests:
            hashed.update(digest.encode())
        return Folder(self.built.files, hashed.hexdigest())

    def place(self, row: int, column: int) -> str:
        return self.table.sheet.place(row, column)

    def signature(self) -> dict[str, str]:
        """What its columns say, by the words of their heads: what a mapping keeps."""
        by_column = {column: name for name, column in self.columns.columns.items()}
        return {
            plain(head.text): by_column.get(column, LEFT_OUT)
            for column, head in self.columns.heads.items()
            if head.text
        }


def plan_of(book: Book, kind: str, known: Known, answers: Mapping[str, str], pointed: Pointed | None = None) -> Plan:
    """Understand a workbook as a sheet of a kind. answers: by a question's id."""
    pointed = pointed or Pointed()
    plan = Plan(kind, book, asking=Asking(dict(answers)))
    plan.table = _table(plan, pointed)
    if plan.table is None:
        return plan
    given = dict(pointed.columns)
    for column, text in plan.table.heads.items():
        if plain(text) in pointed.heads:
            given.setdefault(column, pointed.heads[plain(text)])
    plan.columns = Mapper(plan.table, kind, plan.asking, given).mapped()
    plan.kept = kept_rows(plan.table, plan.columns.columns, plan.asking)
    rows = _not_again(plan, known)
    if _needs(plan) and rows:
        reader = Reader(plan.table, plan.columns, rows, plan.asking, known)
        builder = BUILDERS[kind](reader, plan.kept.over, plan.asking, known)
        plan.built = builder.build()
        plan.faults += reader.faults
        _first_things(plan.asking)
    elif not rows:
        plan.notes.append("No row is left to bring in.")
    _told(plan)
    return plan


# -- the table -------------------------------------------------------------------------------------


def _table(plan: Plan, pointed: Pointed) -> Table | None:
    sheets = [sheet for sheet in plan.book.sheets if sheet.rows]
    if pointed.sheet:
        sheets = [sheet for sheet in sheets if sheet.name == pointed.sheet]
    if pointed.head is not None or pointed.first is not None:
        return _pointed_at(sheets, pointed)
    if pointed.heads and (known := [one for sheet in sheets if (one := table_under(sheet, set(pointed.heads)))]):
        found = known
    else:
        found = [table for sheet in sheets for table in tables_of(sheet) if table.last >= table.first]
    visible = [table for table in found if not table.sheet.hidden] or found
    fitting = [table for table in visible if table.fits(plan.kind) and table.told_by(plan.kind) >= 2]
    if pointed.heads:
        fitting = visible
    if not fitting:
        best = max((table.told_by(plan.kind) for table in visible), default=0)
        fitting = [table for table in visible if best >= 1 and table.told_by(plan.kind) == best]
    if not fitting:
        return None
    table = fitting[0]
    if len(fitting) > 1:
        choices = [(one.said, f"{one.said}: {', '.join(list(one.heads.values())[:5])[:80]}") for one in fitting]
        said = f"{len(fitting)} tables may be meant. Which one? The others can be brought in after it."
        try:
            answer = plan.asking.ask("table", said, choices, table.said, lasting=False)
            table = next(one for one in fitting if one.said == answer)
        except Pending:
            pass
    others = [one.said for one in found if one is not table]
    if others:
        plan.notes.append(
            f"Other tables were not read: {', '.join(others[:6])}{' and more' if len(others) > 6 else ''}."
        )
    return table


def _pointed_at(sheets: list[Sheet], pointed: Pointed) -> Table | None:
    """The table whose first and last rows, or whose heads, somebody pointed at."""
    if not sheets:
        return None
    sheet = sheets[0]
    end = len(sheet.rows)
    head = (pointed.head or 0) - 1
    first = (pointed.first - 1) if pointed.first else head + 1
    last = min(pointed.last or end, end) - 1
    if not 0 <= first <= last or head >= end:
        return None
    near = [table for table in tables_of(sheet) if table.head_row == head] if pointed.head else []
    columns = tuple(c for c in range(sheet.width) if any(sheet.rows[r][c] for r in range(first, last + 1)))
    heads = {c: sheet.rows[head][c].text for c in range(sheet.width) if head >= 0 and sheet.rows[head][c]}
    units = {}
    if near:
        columns = near[0].columns if len(near) == 1 else columns
        heads, units = {**heads, **near[0].heads}, near[0].units
    heads = {column: text for column, text in heads.items() if column in columns}
    return Table(sheet, head, first, last, columns, heads, units) if columns else None


OF_COLUMNS = ("table", "beside", "column:", "which:")
BESIDE_COLUMNS = (
    *OF_COLUMNS,
    "hidden",
    "struck",
    "again",
    "gas:",
    "same:",
    "who:",
    "order:",
    "serial:",
    "grade:",
    "role:",
)


def _first_things(asking: Asking) -> None:
    """While nobody said what a column is, what the rows seem to lack may stand in it: that is asked after it."""
    if any(question.id.startswith(OF_COLUMNS) for question in asking.open):
        for question in asking.open:
            if not question.id.startswith(BESIDE_COLUMNS):
                del asking.asked[question.id]


def _needs(plan: Plan) -> bool:
    """Whether columns say all that the kind cannot do without; what is missing is a fault at the heads."""
    missing = []
    said = set(plan.columns.columns)
    for of in SHEET_KINDS[plan.kind].needs:
        if not said & set(of) and of[0] not in {"substance", "date", "technician"} and not _in_text(plan, of):
            missing.append(" or ".join(map(called, of)))
    row = max(plan.table.head_row, 0)
    for words in missing:
        text = f"no column says {words}; point at the one that does, or write its head, e.g. {words.split(' or ')[0]}."
        plan.faults.append((row, min(plan.table.columns), text))
    return not missing


def _in_text(plan: Plan, of: tuple[str, ...]) -> bool:
    """How much is in each may stand in the name of what it is: R-134a can 340 g."""
    return "net" in of and "substance" in plan.columns.columns


# -- rows that were brought in before --------------------------------------------------------------


def _digest(plan: Plan, row: int) -> str:
    sheet = plan.table.sheet
    said = "\0".join(f"{name}\0{sheet.rows[row][column].text}" for name, column in sorted(plan.columns.columns.items()))
    return hashlib.sha256(f"{plan.kind}\0{said}".encode("utf-8", "replace")).hexdigest()[:24]


def _not_again(plan: Plan, known: Known) -> list[int]:
    """The rows, without those that a sheet brought in before, where somebody says that they are the same."""
    digests = {row: _digest(plan, row) for row in plan.kept.rows}
    plan.digests = list(digests.values())
    seen, again = Counter(known.seen), []
    for row, digest in digests.items():
        if seen[digest] > 0:
            seen[digest] -= 1
            again.append(row)
    if not again or plan.folder.digest in known.loaded:  # the same sheet, which is refused
        return plan.kept.rows
    answer, left = "", min(plan.table.columns)
    for row in again:
        try:
            answer = plan.asking.ask(
                "again",
                "{n} stand word for word in a sheet that was brought in before. Are they the same?",
                ((LEFT_OUT, "yes, leave them out"), ("yes", "no, they come to these: bring them in too")),
                plan.place(row, left),
                lasting=False,
            )
        except Pending:
            continue
    if answer != LEFT_OUT:
        return plan.kept.rows
    plan.kept.out |= dict.fromkeys(again, "brought in before")
    plan.digests = [digest for row, digest in digests.items() if row not in set(again)]
    return [row for row in plan.kept.rows if row not in set(again)]


# -- what is told ----------------------------------------------------------------------------------


def _told(plan: Plan) -> None:
    by_why: dict[str, list[int]] = {}
    for row, why in sorted({**plan.kept.out, **plan.built.out}.items()):
        by_why.setdefault(why, []).append(row + 1)
    for why, rows in by_why.items():
        shown = ", ".join(map(str, rows[:8])) + (f" and {len(rows) - 8} more" if len(rows) > 8 else "")
        plan.notes.append(f"Left out as {why}: row{'s' if len(rows) > 1 else ''} {shown}.")
    if plan.columns.unused:
        plan.notes.append(f"Columns that are not needed: {', '.join(plan.columns.unused[:12])}.")
    hidden = [c for c in plan.columns.columns.values() if c in plan.table.sheet.hidden_columns]
    if hidden:
        from shopledger.sheets.grid import letters

        plan.notes.append(f"Read although hidden in the sheet: column {', '.join(letters(c) for c in sorted(hidden))}.")


__all__ = ["LIKELY", "MOST_ROWS", "Plan", "Pointed", "plan_of"]
