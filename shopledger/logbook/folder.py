"""Reading the folder of CSV files that a shop's log is. Pure: no Django here.

`read` answers rows with the line that each begins on, and keeps every fault that it meets. A fault of one line or one
column hides no other: what can be read of the file is read, and each row knows which of its cells cannot be.
"""

import csv
import hashlib
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from shopledger.logbook.wider import COLUMNS, EVENTS, REGISTER

# file -> its columns; those with * must be in the header. The order is that of events of the same moment.
BY_HAND: dict[str, tuple[str, ...]] = {
    "shop.csv": ("name*", "address", "timezone", "rulebook", "readability*", "capacity"),
    "people.csv": ("username*", "name", "role", "scheme", "certificate", "issuer", "issued", "expires"),
    "parties.csv": ("name*", "role*", "address", "registration"),
    "scales.csv": ("code*", "capacity", "readability*", "checked_until"),
    "opening.csv": (
        "date*",
        "container*",
        "kind*",
        "substance*",
        "grade",
        "net",
        "tare",
        "water_capacity",
        "retest_due",
        "location",
        "supplier_number",
    ),
    "receipts.csv": (
        "date*",
        "document",
        "supplier*",
        "container*",
        "kind*",
        "substance*",
        "grade",
        "net",
        "tare",
        "water_capacity",
        "retest_due",
        "location",
        "price",
        "received_by",
        "supplier_number",
    ),
    "moves.csv": ("date*", "container*", "to_location*", "by"),
    "decants.csv": ("date*", "from*", "to*", "scale", "before", "after", "quantity", "by"),
    "jobs.csv": (
        "job*",
        "date*",
        "technician*",
        "customer",
        "unit*",
        "vin",
        "substance",
        "charge_min",
        "charge_max",
    ),
    "job_lines.csv": ("job*", "action*", "container", "scale", "before", "after", "quantity", "note"),
    "regrades.csv": ("date*", "container*", "grade*", "by", "note"),
    "counts.csv": ("date*", "container*", "scale", "gross*", "by", "note"),
    "shipments.csv": ("date*", "document", "party*", "purpose*", "container*", "quantity"),
    "losses.csv": ("date*", "container*", "quantity", "cause*", "by", "note"),
    "retirements.csv": ("date*", "container*", "residue", "by"),
}
# With all that a shop which was exported says besides.
FILES: dict[str, tuple[str, ...]] = {
    **{name: (*those, *COLUMNS.get(name, ())) for name, those in BY_HAND.items()},
    **EVENTS,
    **REGISTER,
}
ORDER = {name: place for place, name in enumerate(FILES)}
ANSWERS, LEFT = "answers.json", "not-carried.txt"  # beside the files: answers to questions; what these do not hold
CELL_LIMIT = 10_000  # characters: more is a fault of the file, not a note
MOST_UNREADABLE = 100  # lines of a file that are no CSV or no text, each named; after that the file is another thing
NOTHING: frozenset[str] = frozenset()


def columns(name: str) -> list[str]:
    """All that a file may have."""
    return [column.rstrip("*") for column in FILES[name]]


def usual_columns(name: str) -> list[str]:
    """Those that a shop writes by hand, of files that it does."""
    return [column.rstrip("*") for column in BY_HAND.get(name, FILES[name])]


@dataclass(frozen=True, order=True)
class Fault:
    """Where something is wrong, and what would be right."""

    place: int
    line: int
    file: str
    column: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.column}: {self.message}"


@dataclass
class Faults:
    found: set[Fault] = field(default_factory=set)

    def add(self, file: str, line: int, column: str, message: str) -> None:
        message = " ".join(str(message).split())
        self.found.add(Fault(ORDER.get(file, len(ORDER)), line, file, column, message))

    def __bool__(self) -> bool:
        return bool(self.found)

    def listed(self) -> list[str]:
        return [str(fault) for fault in sorted(self.found)]


@dataclass(frozen=True)
class Row:
    """One row: where it begins and its cells, trimmed, by column. bad: the columns whose cell nobody can know, of which
    a fault is noted already. words: of a row whose cells stand under no column for sure, all of them."""

    file: str
    line: int
    number: int
    cells: dict[str, str]
    bad: frozenset[str] = NOTHING
    words: tuple[str, ...] = ()

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True)
class Folder:
    """rows: per file that is there. digest: SHA-256 over names and contents. unread: the files of which a part, or all,
    could not be read as rows."""

    rows: dict[str, list[Row]]
    digest: str
    unread: frozenset[str] = NOTHING

    def has(self, name: str) -> bool:
        return name in self.rows

    def of(self, name: str) -> list[Row]:
        return self.rows.get(name, [])

    def tells_all(self, name: str, column: str) -> bool:
        """Whether every row's cell of that column is known: then a name that stands in none of them is a fault."""
        return name not in self.unread and not any(column in row.bad for row in self.of(name))


def read(path: Path, faults: Faults) -> Folder:
    """Read every file. Raises OSError where the folder cannot be read."""
    rows: dict[str, list[Row]] = {}
    unread = set()
    contents = []
    for file in sorted(path.iterdir()):
        if file.suffix.lower() == ".csv" and file.name not in FILES:
            faults.add(file.name, 1, "file", f"no file of a log has this name; the files are {', '.join(FILES)}.")
    for name in FILES:
        file = path / name
        if not file.exists():
            continue
        content = file.read_bytes()
        contents.append((name, content))
        found = _rows(name, content, faults)
        rows[name] = found or []
        if found is None:
            unread.add(name)
    if "shop.csv" not in rows:
        faults.add("shop.csv", 1, "file", "the file is missing; every log has one, with one row about the shop.")
    return Folder(rows, digest_of(contents), frozenset(unread))


def digest_of(contents: Iterable[tuple[str, bytes]]) -> str:
    """SHA-256 over names and contents of files, in the order of FILES."""
    hashed = hashlib.sha256()
    for name, content in contents:
        hashed.update(f"{name}\0{len(content)}\0".encode())
        hashed.update(content)
    return hashed.hexdigest()


def _rows(name: str, content: bytes, faults: Faults) -> list[Row] | None:
    """None where the file cannot be read at all, or only up to some line."""
    text = _text(name, content, faults)
    if text is None:
        return None
    header: Header | None = None
    found: list[Row] = []
    for line, cells in _records(name, text, faults):
        if cells is None or (header is None and cells[-1:] == [UNREADABLE]):
            return None
        if not any(cells):
            continue
        if header is None:
            header = _header(name, line, cells, faults)
            if not any(header.columns):
                return None
            continue
        found.append(_row(header, line, len(found), cells, faults))
    if header is None:
        faults.add(
            name, 1, "file", f"the file is empty; its first row names the columns: {', '.join(usual_columns(name))}."
        )
        return None
    return found


def _text(name: str, content: bytes, faults: Faults) -> str | None:
    """The file as text. What is none stands as U+FFFD in it, and each line that holds such is a fault; None where all
    of the file is something else."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if b"\0" in content:  # text of two bytes a character, or none at all
            line = content[: error.start].count(b"\n") + 1
            faults.add(name, line, "file", "this is not UTF-8 text; save the file as CSV in UTF-8.")
            return None
        wrong = (at for at, line in enumerate(content.split(b"\n"), 1) if not _is_text(line))
        _lines_at_fault(name, wrong, "this is not UTF-8 text; save the file as CSV in UTF-8.", faults)
        return content.decode("utf-8-sig", errors="replace")
    if "\0" in text:
        wrong = (at for at, line in enumerate(text.split("\n"), 1) if "\0" in line)
        said = "this holds a NUL character, which no text has; save the file as CSV anew."
        _lines_at_fault(name, wrong, said, faults)
        return text.replace("\0", "\ufffd")
    return text


def _is_text(line: bytes) -> bool:
    try:
        line.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _lines_at_fault(name: str, lines: Iterable[int], said: str, faults: Faults) -> None:
    for count, line in enumerate(lines):
        if count == MOST_UNREADABLE:
            faults.add(name, line, "file", f"{said} So do other lines from here on, which are not listed.")
            return
        faults.add(name, line, "file", said)


def _records(name: str, text: str, faults: Faults) -> Iterator[tuple[int, list[str] | None]]:
    """The lines on which rows begin, and their cells. A row that is no CSV is read as if it had no quotation marks, and
    the next line begins another one; None where too many are none."""
    source: Iterable[str] = io.StringIO(text, newline="")
    lines: list[str] = []
    at = 0  # lines before those that the reader reads
    for _ in range(MOST_UNREADABLE):
        reader, begins = csv.reader(source, strict=True), at + 1
        try:
            for cells in reader:
                yield begins, [cell.strip() for cell in cells]
                begins = at + reader.line_num + 1
            return
        except csv.Error as error:
            said = f"the line cannot be read as CSV ({error}); check its quotation marks."
            faults.add(name, begins, "file", said)
            lines = lines or list(io.StringIO(text, newline=""))
            yield begins, [*(cell.strip(' "\r\n') for cell in lines[begins - 1].split(",")), UNREADABLE]
            source, at = iter(lines[begins:]), begins
    faults.add(name, at + 1, "file", "too many lines cannot be read as CSV; the rest of this file was not read.")
    yield at + 1, None


UNREADABLE = "\0"  # the last cell of a row that is no CSV; no text holds it here


class Header(NamedTuple):
    """columns: as they stand, blank for what is none. bad: those that are not there for sure."""

    file: str
    columns: list[str]
    bad: frozenset[str]


def _header(name: str, line: int, cells: list[str], faults: Faults) -> Header:
    known, found, bad = columns(name), [], set()
    cells = [cell.lower() for cell in cells]
    for cell in cells:
        if cell not in known:
            faults.add(
                name,
                line,
                cell or "header",
                f"{name} has no such column; its columns are {', '.join(usual_columns(name))}.",
            )
        elif cells.count(cell) > 1:
            faults.add(name, line, cell, "the column stands there twice; keep one of them.")
            bad.add(cell)
        found.append(cell if cell in known else "")
    for column in FILES[name]:
        if column.endswith("*") and column.rstrip("*") not in cells:
            faults.add(name, line, column.rstrip("*"), "the column is missing; add it to the header row.")
            bad.add(column.rstrip("*"))
    if "" in found:  # one of those that are not there may stand under a wrong name
        bad |= set(usual_columns(name)) - set(cells)
    return Header(name, found, frozenset(bad))


def _row(header: Header, line: int, number: int, cells: list[str], faults: Faults) -> Row:
    name, names = header.file, header.columns
    if cells[-1:] == [UNREADABLE]:
        return Row(name, line, number, {}, frozenset(columns(name)), tuple(cells[:-1]))
    if len(cells) > len(names) and any(cells[len(names) :]):
        said = (
            f"the row has {len(cells)} cells and the header {len(names)}; put quotation marks around a cell that "
            "holds a comma."
        )
        faults.add(name, line, names[-1] or "header", said)
        return Row(name, line, number, {}, frozenset(columns(name)), tuple(cells))
    held = dict(zip(names, cells, strict=False))
    held.pop("", None)
    long = [column for column, cell in held.items() if len(cell) > CELL_LIMIT]
    for column in long:
        said = f"the cell is {len(held[column])} characters long; {CELL_LIMIT} are the most."
        faults.add(name, line, column, said)
        held[column] = ""
    return Row(name, line, number, held, header.bad | set(long) if long else header.bad)
