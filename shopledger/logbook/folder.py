"""Reading the folder of CSV files that a shop's log is. Pure: no Django here.

`read` answers rows with the line that each begins on, and keeps every fault that it meets.
"""

import csv
import hashlib
import io
from dataclasses import dataclass, field
from pathlib import Path

# file -> its columns; those with * must be in the header. The order is that of events of the same moment.
FILES: dict[str, tuple[str, ...]] = {
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
    "retirements.csv": ("date*", "container*", "residue", "by"),
}
ORDER = {name: place for place, name in enumerate(FILES)}
CELL_LIMIT = 10_000  # characters: more is a fault of the file, not a note


def columns(name: str) -> list[str]:
    return [column.rstrip("*") for column in FILES[name]]


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
    """One row: where it begins and its cells, trimmed, by column."""

    file: str
    line: int
    number: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True)
class Folder:
    """rows: per file that is there. digest: SHA-256 over names and contents."""

    rows: dict[str, list[Row]]
    digest: str

    def has(self, name: str) -> bool:
        return name in self.rows

    def of(self, name: str) -> list[Row]:
        return self.rows.get(name, [])


def read(path: Path, faults: Faults) -> Folder:
    """Read every file. Raises OSError where the folder cannot be read."""
    rows: dict[str, list[Row]] = {}
    hashed = hashlib.sha256()
    for file in sorted(path.iterdir()):
        if file.suffix.lower() == ".csv" and file.name not in FILES:
            faults.add(file.name, 1, "file", f"no file of a log has this name; the files are {', '.join(FILES)}.")
    for name in FILES:
        file = path / name
        if not file.exists():
            continue
        content = file.read_bytes()
        hashed.update(f"{name}\0{len(content)}\0".encode())
        hashed.update(content)
        rows[name] = _rows(name, content, faults)
    if "shop.csv" not in rows:
        faults.add("shop.csv", 1, "file", "the file is missing; every log has one, with one row about the shop.")
    return Folder(rows, hashed.hexdigest())


def _rows(name: str, content: bytes, faults: Faults) -> list[Row]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        faults.add(name, line, "file", "this is not UTF-8 text; save the file as CSV in UTF-8.")
        return []
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        faults.add(name, line, "file", "this holds a NUL character, which no text has; save the file as CSV anew.")
        return []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] | None = None
    found: list[Row] = []
    begins = 1
    try:
        for cells in reader:
            line, begins = begins, reader.line_num + 1
            cells = [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if header is None:
                header = _header(name, line, cells, faults)
                if header is None:
                    return []
                continue
            row = _row(name, line, len(found), header, cells, faults)
            if row:
                found.append(row)
    except csv.Error as error:
        faults.add(name, begins, "file", f"the line cannot be read as CSV ({error}); check its quotation marks.")
    if header is None:
        faults.add(name, 1, "file", f"the file is empty; its first row names the columns: {', '.join(columns(name))}.")
    return found


def _header(name: str, line: int, cells: list[str], faults: Faults) -> list[str] | None:
    known, before = columns(name), len(faults.found)
    cells = [cell.lower() for cell in cells]
    for cell in cells:
        if cell not in known:
            faults.add(name, line, cell or "header", f"{name} has no such column; its columns are {', '.join(known)}.")
        elif cells.count(cell) > 1:
            faults.add(name, line, cell, "the column stands there twice; keep one of them.")
    for column in FILES[name]:
        if column.endswith("*") and column.rstrip("*") not in cells:
            faults.add(name, line, column.rstrip("*"), "the column is missing; add it to the header row.")
    return cells if len(faults.found) == before else None


def _row(name: str, line: int, number: int, header: list[str], cells: list[str], faults: Faults) -> Row | None:
    if len(cells) > len(header) and any(cells[len(header) :]):
        faults.add(
            name,
            line,
            header[-1],
            f"the row has {len(cells)} cells and the header {len(header)}; put quotation marks around a cell that "
            "holds a comma.",
        )
        return None
    for column, cell in zip(header, cells, strict=False):
        if len(cell) > CELL_LIMIT:
            faults.add(name, line, column, f"the cell is {len(cell)} characters long; {CELL_LIMIT} are the most.")
            return None
    return Row(name, line, number, dict(zip(header, cells, strict=False)))
