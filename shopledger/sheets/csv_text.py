"""CSV as programs for sheets write it: in whatever letters, parted by whatever mark. Pure."""

import codecs
import csv
import io

from inventory.text.refusal import Refused

MARKS = ";\t,|"
LOOKED_AT = 40  # lines by which the mark is told
MOST_ROWS, MOST_COLUMNS = 20_000, 200


def rows_of_csv(body: bytes) -> list[list[str]]:
    """The cells as text. Raises Refused for what is no text, and for too many rows or columns."""
    text = _text(body)
    if "\0" in text:
        raise Refused("The file is no text and no workbook that is known here. Send XLSX, XLS, ODS or CSV.", "file")
    first, _, rest = text.partition("\n")
    mark = None
    if first.lower().startswith("sep=") and len(first.strip()) == 5:  # told by the program that wrote it
        mark, text = first.strip()[4], "\n" + rest
    rows: list[list[str]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=mark or _mark(text)):
            rows.append(row)
            if len(rows) > MOST_ROWS or len(row) > MOST_COLUMNS:
                raise Refused(f"A sheet has at most {MOST_ROWS:,} rows of {MOST_COLUMNS} columns; send a part.", "file")
    except csv.Error as error:
        said = f"Row {len(rows) + 1} cannot be read as CSV ({error}). Save the sheet as XLSX, and send that."
        raise Refused(said, "file") from None
    return rows


def _text(body: bytes) -> str:
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if body.startswith(mark):
            return body.decode(name, "replace")
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError:
        return body.decode("cp1252", "replace")  # what older programs write where letters have accents


def _mark(text: str) -> str:
    """What parts the cells: the mark that makes most rows equally long, of more than one cell. A comma parts decimals
    where anything else parts cells, so it comes after a semicolon and a tab."""
    lines = text.splitlines()[:LOOKED_AT]
    best, most = ",", 0
    for mark in MARKS:
        try:
            widths = [len(row) for row in csv.reader(lines, delimiter=mark) if any(row)]
        except csv.Error:
            continue
        usual = max(set(widths), key=widths.count, default=1)
        alike = widths.count(usual) * 10 + usual if usual > 1 else 0
        if alike > most:
            best, most = mark, alike
    return best
