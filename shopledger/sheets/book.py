"""Opening a workbook or CSV as a shop keeps it: XLSX, XLS, ODS in a process of its own with limits, CSV here.

A file of a few bytes can unpack to gigabytes, and a cell far to the right can ask a reader for as much. So a ZIP is
measured by unpacking it without keeping anything, and what reads it is ended by limits of memory and time.
"""

import hashlib
import io
import json
import subprocess
import zipfile
import zlib
from pathlib import Path

from inventory.text.child import said_by_child
from inventory.text.refusal import Refused
from shopledger.sheets.csv_text import rows_of_csv
from shopledger.sheets.grid import ERROR, NUMBER, Book, Cell, Sheet, cell_of, squared

MOST_BYTES = 15 * 1024 * 1024  # of the file
MOST_UNPACKED = 60 * 1024 * 1024  # of what a ZIP holds: 5,000 rows are some 5 MB
MOST_CELLS = 600_000
MOST_ROWS, MOST_COLUMNS = 20_000, 200
MOST_MEMBERS = 500
MEMORY = 1400 * 1024 * 1024  # bytes of address space of the reader: 5,000 rows of 15 columns take 200 MB of it
CPU_S, LIFE_S = 60, 120
CHILD = Path(__file__).with_name("child.py")
OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # how XLS begins, and so does an XLSX under a password
ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
LARGE = (
    f"The sheet is larger than {MOST_ROWS:,} rows or {MOST_COLUMNS} columns. Copy the part that is meant into a file "
    "of its own."
)
WHY = {
    "password": (
        "The file is protected by a password, so nobody can read it here. Save it without one, and send it again."
    ),
    "large": LARGE,
    "memory": LARGE,
    "damaged": "The file is damaged or no workbook, whatever its name says. Open it, save it as XLSX, send that.",
    "ended": "Reading the file was ended: it took too much memory or time. Save the sheet alone as CSV, and send that.",
    "empty": "The file holds no cell with anything in it. Choose the one with the rows.",
}


def open_book(body: bytes, name: str = "") -> Book:
    """Read a file's cells. name: as it was sent; of a CSV the sheet is called so. Raises Refused, saying what would be
    right, for what is no sheet, too large, under a password, damaged or empty."""
    return book_of(said_of(body, name))


def said_of(body: bytes, name: str = "") -> dict:
    """What a file says, fit for JSON: so that it is read once, however often it is looked at. Raises Refused."""
    if len(body) > MOST_BYTES:
        raise Refused(f"The file is larger than {MOST_BYTES // 1024 // 1024} MB. {LARGE}", "file")
    if not body.strip(b"\0\r\n\t \xef\xbb\xbf"):
        raise Refused(WHY["empty"], "file")
    kind = _kind_of(body)
    if kind == "csv":
        title = Path(name.replace("\\", "/")).stem[:60] or "Sheet1"
        sheets = [{"name": title, "rows": rows_of_csv(body), "merged": [], "hidden": False}]
    else:
        sheets = _said_by_child(body, kind)
    return {"kind": kind, "sha256": hashlib.sha256(body).hexdigest(), "sheets": sheets}


def book_of(said: dict) -> Book:
    """The cells of what `said_of` answered. Raises Refused for one that is empty or too large."""
    sheets = [_sheet(one) for one in said["sheets"]]
    if not any(sheet.rows for sheet in sheets):
        raise Refused(WHY["empty"], "file")
    for sheet in sheets:
        if len(sheet.rows) > MOST_ROWS or sheet.width > MOST_COLUMNS:
            raise Refused(LARGE, "file")
    return Book(sheets, said["kind"], said["sha256"])


def _kind_of(body: bytes) -> str:
    if body[:8] == OLD:
        if ENCRYPTED in body:
            raise Refused(WHY["password"], "file")
        return "xls"
    if body[:4] == b"PK\x03\x04":
        return _kind_of_zip(body)
    if body[:5] == b"%PDF-" or body[:2] in {b"PK", b"\x1f\x8b", b"MZ", b"\xff\xd8"} or body[:4] == b"\x89PNG":
        raise Refused("This is no spreadsheet, whatever its name says. Send XLSX, XLS, ODS or CSV.", "file")
    return "csv"


def _kind_of_zip(body: bytes) -> str:
    """What a ZIP is, once it was seen that it unpacks to no more than it may."""
    left = MOST_UNPACKED
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                raise Refused(WHY["damaged"], "file")
            names = {member.filename for member in members}
            for member in members:
                if member.flag_bits & 1:
                    raise Refused(WHY["password"], "file")
                with archive.open(member) as source:
                    while chunk := source.read(1 << 16):
                        left -= len(chunk)
                        if left < 0:
                            raise Refused(f"The file unpacks to more than a sheet can be. {LARGE}", "file")
            if "META-INF/manifest.xml" in names and b"encryption-data" in archive.read("META-INF/manifest.xml"):
                raise Refused(WHY["password"], "file")
    except (zipfile.BadZipFile, zlib.error, OSError, RuntimeError, NotImplementedError, EOFError, ValueError):
        raise Refused(WHY["damaged"], "file") from None
    if any(name.startswith("xl/") for name in names):
        return "xlsb" if "xl/workbook.bin" in names else "xlsx"
    if "content.xml" in names:
        return "ods"
    raise Refused("This ZIP is no spreadsheet. Send XLSX, XLS, ODS or CSV.", "file")


def _said_by_child(body: bytes, kind: str) -> list[dict]:
    try:
        told = said_by_child(CHILD, [MEMORY, CPU_S, kind, MOST_CELLS], body, LIFE_S)
        said = {"refused": "ended"} if told is None else json.loads(told.decode("utf-8", "replace"))
    except (subprocess.TimeoutExpired, ValueError, OSError):
        said = {"refused": "ended"}
    if "refused" in said:
        raise Refused(WHY.get(said["refused"], WHY["ended"]), "file")
    return said["sheets"]


def _sheet(said: dict) -> Sheet:
    rows = squared([[cell_of(value) for value in row] for row in said["rows"]])
    merged = tuple(tuple(area) for area in said["merged"])
    for top, left, bottom, _right in merged:
        if bottom > top and top < len(rows) and left < len(rows[top]):
            _fill_down(rows, top, left, min(bottom, len(rows) - 1))
    return Sheet(
        said["name"],
        rows,
        merged,
        said["hidden"],
        frozenset(said.get("hidden_rows", ())),
        frozenset(said.get("hidden_columns", ())),
        frozenset(said.get("struck_rows", ())),
    )


def _fill_down(rows: list[list[Cell]], top: int, left: int, bottom: int) -> None:
    """A cell merged over rows is said of each; not a number, which may be what they come to together."""
    cell = rows[top][left]
    if cell.kind == NUMBER:
        cell = Cell(f"the number {cell.text} stands over {bottom - top + 1} rows at once; write each its own", ERROR)
    for row in range(top, bottom + 1):
        rows[row][left] = cell
