"""What a sheet can hold that nobody meant, and files made to hurt: each is refused, asked about, or read right."""

import datetime as dt
import io
import random
import time
import zipfile

import openpyxl
import pytest

from inventory.measures.quantity import parse_mass
from inventory.text.refusal import Refused
from shopledger.sheet_meaning.known import Known
from shopledger.sheet_meaning.plan import plan_of
from shopledger.sheet_meaning.values import Unread, days, figure, gas, kind_words
from shopledger.sheets.book import open_book
from shopledger.sheets.grid import cell_of
from tests.sheets.files import Page, ods, xls, xlsx


def lines(text):
    return text.split("\n")


TODAY = dt.date(2026, 11, 30)
FIGURES = lines("""=cmd|'/C calc'!A0
=1+1
+340
-340
@SUM(1)
1e400
1e-400
1E3
NaN
inf
-inf
Infinity
0x154
1/2
½
²
①
٣٤٠
३४०
340
340g
340 g g
340 kg g
g 340
340 gg
340 stone
340 %
340%
~340 g
ca. 340 g
>340 g
<1 kg
340-350 g
340 / 350
340 + 10 g
3 of 5 kg
3 von 5 kg
12 x
x 340 g
12 x 340 x 2
0 x 340 g
1000 x 340 g
12 x -340 g
12 x 340 g + 2
12*340g
12×0,34kg
12 à 340 g
--5
5-
(340)
340.
.340
,5
.5
0.5.5
1.2.3,4
1,2,3
1,23,456
1,234,56
1.234.567
1,234,567.8
1 234,5
1 2 3
12 34
1'234
1’234
1_000
1,250
1.250
1,2500
0,340
0.340
00340
0000000000000000000000000340
9999999999999999999999
999999999 kg
2001 kg
2000 kg
0.0000001 g
0.0004 mg
TRUE
FALSE
#REF!
#DIV/0!
#N/A
null
None
n/a
-
–
?
???
viel
two kg
2 kg (full)
2kg?
2 kg*
‏340 g
340‎ g
3​40 g
340 g
340 g
３４０ g
340 ㎏
340 µg
34O g
l2 kg
I2 kg
１２ kg
1 lb 2 oz
1 lb 17 oz
1.5 lb 2 oz
lb 2 oz
5 oz 1 lb
5 fl oz
5 ml
5 L
5 l
1 gal
1 t
1 ton
\x00340 g
340\x00
\x1b[31m340
<script>alert(1)</script>
'; DROP TABLE container; --
{{ 340 }}
{% now %}
%s %d %n
../../etc/passwd
file:///etc/passwd
http://example.org/x
\\\\server\\share
=HYPERLINK("http://example.org")
=WEBSERVICE("http://example.org")
DDE("cmd";"/C calc";"x")
340 g\t
340\n350
340;350
340|350
"340 g"
'340 g
340 g'
1.250,00 €
$340
340 EUR""")
READ = {  # text -> mg, as somebody of any country reads it; of two readings both
    "340g": {340_000},
    "12*340g": {340_000},
    "12×0,34kg": {340_000},
    "12 à 340 g": {340_000},
    "1 lb 2 oz": {510_291},
    "0.0000001 g": {0},
    "0.0004 mg": {0},
    "2000 kg": {2_000_000_000},
    "340 g": {340_000},
    "‏340 g": {340_000},
    "340‎ g": {340_000},
    "3​40 g": {340_000},
    "340 g\t": {340_000},
}
DAYS = lines("""1899-12-30
1900-02-29
0000-00-00
9999-12-31
2026-02-30
29.02.2025
31/04/2026
2026-13-01
13/13/2026
00/00/0000
1/1/1
1/1/1926
02/03/26
2/3
3.2026
46083
-1
0
60
99999999
46083.5
1e10
Monday
yesterday
=TODAY()
2026-03-02T25:00
2026-03-02 24:00
٠٢/٠٣/٢٠٢٦
2026–03–02
02-Mar-2026
Mär 2026
32. März 2026
2 Foo 2026
March
2026""")
GASES = lines("""R134
R-134b
R134a/R1234yf
134a oder 1234yf
R 1 3 4 a
Ʀ134a
R-134а
air
nitrogen
N2
=R134a
R134a; DROP TABLE
gas
?
R
134
PAG
PAG 9999
oil
R-99999
R404A + PAG 46""")
LONG = ["x" * 10_000, "9" * 10_000, "1" + "0" * 400, "R134a " * 2000, "é" * 30_000]


def test_there_are_two_hundred_of_them():
    assert len(FIGURES) + len(DAYS) + len(GASES) + len(LONG) >= 200


@pytest.mark.parametrize("text", [*FIGURES, *LONG])
def test_a_figure_is_read_right_asked_about_or_refused(text):
    """In a column of kilograms: what loads is what the cell says in every reading, else it is asked or at fault."""
    from shopledger.sheet_meaning.values import quantity

    try:
        read = figure(cell_of(text))
        amounts = {quantity(value, read.unit or "kg", oil=False) for value in read.readings.values()}
    except Unread as unread:
        assert 10 < len(str(unread)) < 400
        return
    if read.doubted:
        assert len(set(read.readings.values())) == 2
        return
    assert len(amounts) == 1
    mine = text.strip("​‎‏ \t").replace("​", "").replace("‎", "")
    expected = READ.get(text)
    if expected is None:
        plain = mine.replace(" ", " ").replace(" ", " ").lstrip("+").rstrip(".")
        plain = plain.replace("’", "'")
        expected = {parse_mass(plain if plain[-1].isalpha() else f"{plain} kg")}
    assert amounts == expected, (text, amounts)


@pytest.mark.parametrize("text", [*DAYS, *LONG])
def test_a_day_is_one_of_the_calendar_or_none(text):
    try:
        read = days(cell_of(text), TODAY)
    except Unread as unread:
        assert 10 < len(str(unread)) < 400
        return
    assert read.day_first or read.month_first
    assert read.is_certain == (not read.serial and read.day_first == read.month_first)


@pytest.mark.parametrize("text", [*GASES, *LONG])
def test_no_gas_is_guessed(text):
    found = gas(text)
    assert found is None or (found[0] == "R-134a" and set(text.replace(" ", "")) <= set("R134a;DROPTABLE="))
    kind_words(text)


@pytest.mark.parametrize("value", [float("inf"), float("nan"), 1e308, -1e308, 1e30, -0.0, 2**70, True, False])
def test_numbers_of_any_size_break_nothing(value):
    from shopledger.sheet_meaning.values import quantity
    from shopledger.sheets.child import said

    cell = cell_of(said(value))
    try:
        read = figure(cell)
        amount = quantity(read.readings["."], "kg", oil=False)
    except Unread:
        return
    assert amount == 0 and value == 0


def stock_of(cells, kind="xlsx", heads=("Code", "Gas", "Type", "Net (kg)", "Date")):
    page = Page("Store")
    for column, head in enumerate(heads):
        page.put(0, column, head)
    for row, texts in enumerate(cells, 1):
        for column, text in enumerate(texts):
            page.put(row, column, text)
    return {"xlsx": xlsx, "xls": xls, "ods": ods}[kind]([page])


@pytest.mark.parametrize("seed", range(6))
def test_whole_sheets_of_them_break_nothing(seed):
    luck = random.Random(seed)
    fit = [text for text in (*FIGURES, *DAYS, *GASES) if not any(c < " " for c in text)]
    rows = [
        [luck.choice(fit) if luck.random() < 0.5 else good for good in ("C", "R134a", "can", 1, "2026-01-05")]
        for _ in range(60)
    ]
    plan = plan_of(open_book(stock_of(rows, ["xlsx", "ods"][seed % 2]), "x"), "stock", Known(TODAY), {})
    assert plan.table is not None and (plan.questions or plan.faults)
    for row in plan.built.files.get("opening.csv", ()):
        parse_mass(row["net"])


def test_an_error_of_a_formula_is_no_blank():
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ["Code", "Gas", "Type", "Net (kg)"],
        ["C-1", "R134a", "can", "#REF!"],
        ["C-2", "R134a", "can", "=B9*2"],
    ):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    plan = plan_of(open_book(out.getvalue()), "stock", Known(TODAY), {"date": "2026-01-05"})
    said = [message for _, _, message in plan.faults]
    assert len(said) == 2 and "#REF!" in said[0] and "formula" in said[1]


# -- files -----------------------------------------------------------------------------------------


def workbook_with(**parts):
    """A sound workbook in which some parts are others."""
    source, out = zipfile.ZipFile(io.BytesIO(stock_of([["C-1", "R134a", "can", 1, "2026-01-05"]]))), io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            target.writestr(name, parts.get(name.rpartition("/")[2].partition(".")[0], source.read(name)))
    return out.getvalue()


SHEET = (
    '<?xml version="1.0"?>{}<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    '<row r="1"><c r="A1" t="inlineStr"><is><t>{}</t></is></c></row></sheetData></worksheet>'
)


def test_xml_of_a_workbook_reaches_nothing_outside(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("the words of another file")
    outside = f'<!DOCTYPE x [<!ENTITY e SYSTEM "{secret.as_uri()}">]>'
    try:
        book = open_book(workbook_with(sheet1=SHEET.format(outside, "&e;")))
    except Refused:
        return
    assert "another file" not in str(book)


def test_entities_that_grow_end_at_a_limit():
    grow = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 12))
    began = time.monotonic()
    with pytest.raises(Refused):
        open_book(workbook_with(sheet1=SHEET.format(f'<!DOCTYPE x [<!ENTITY e0 "lol">{grow}]>', "&e11;")))
    assert time.monotonic() - began < 60


def test_a_file_that_unpacks_to_gigabytes_is_refused_before_it_does():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"<x/>")
        with archive.open("xl/worksheets/sheet1.xml", "w") as member:
            for _ in range(200):
                member.write(b" " * (1 << 20))
    assert len(out.getvalue()) < 1 << 20
    with pytest.raises(Refused, match="unpacks to more than a sheet can be"):
        open_book(out.getvalue())


def test_a_cell_far_away_takes_no_memory_with_it():
    book = openpyxl.Workbook()
    book.active["A1"], book.active["XFD1048576"] = "here", "far"
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(Refused):
        open_book(out.getvalue())


def test_what_is_under_a_password_is_said_to_be():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("content.xml", b"<x/>")
        archive.writestr("META-INF/manifest.xml", b"<manifest:encryption-data/>")
    for body in (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"), out.getvalue()):
        with pytest.raises(Refused, match="protected by a password"):
            open_book(body)


@pytest.mark.parametrize("seed", range(30))
def test_a_damaged_file_is_refused_or_read(seed):
    luck, body = (
        random.Random(seed),
        bytearray(stock_of([["C-1", "R134a", "can", 1, "2026-01-05"]], ["xlsx", "xls", "ods"][seed % 3])),
    )
    for _ in range(luck.choice([1, 5, 50])):
        body[luck.randrange(len(body))] = luck.randrange(256)
    if luck.random() < 0.4:
        body = body[: luck.randrange(8, len(body))]
    try:
        plan_of(open_book(bytes(body), "x"), "stock", Known(TODAY), {})
    except Refused as refused:
        assert refused.message


def test_five_thousand_rows_are_read():
    rows = [[f"C-{n}", "R134a", "can", 0.34, dt.date(2026, 1, 5)] for n in range(5000)]
    plan = plan_of(open_book(stock_of(rows)), "stock", Known(TODAY), {"column:code": "container"})
    assert not plan.questions and not plan.faults and len(plan.built.files["opening.csv"]) == 5000
    assert {row["net"] for row in plan.built.files["opening.csv"]} == {"340 g"}
