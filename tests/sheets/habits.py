"""A seeded generator of the habits by which shops keep sheets, which knows the truth of what it wrote.

`made(seed)` answers a file and what its rows mean; `Made.answer` answers a question as somebody would who knows the
shop: by where the question points, never by what the program makes of it. Its words are its own.
"""

import datetime as dt
import random
import re
from dataclasses import dataclass, field
from fractions import Fraction

from tests.sheets.files import Formula, Page, Shown, csv_of, ods, xls, xlsx
from tests.sheets.habit_words import GASES, HEADS, KIND_WORDS, NOTES, OILS, SPELLED, TITLES, TOTAL_WORDS

MG = {"g": Fraction(1000), "kg": Fraction(10**6), "oz": Fraction(45359237, 1600), "lb": Fraction(45359237, 100)}
UL = {"mL": Fraction(1000), "L": Fraction(10**6)}
PEOPLE = {"tara": "Tara Quill", "timo": "Timo Brandt", "tess": "Tess Orlov"}
PLACES = ["Main store", "Van 1", "Back room", "Bay 3"]
CUSTOMERS = ["Harbour Bakery", "Ada Lindqvist", "Fjordview Hotel", "Kestrel Couriers", "Moritz Blum", "Olive Terrace"]
SUPPLIERS = ["Northwind Gas Supply", "Example Cooling Trade", "Bluebell Refrigerants"]
START = dt.date(2026, 1, 5)


def whole(value):
    """Half to even, as the ledger rounds."""
    return round(value)


@dataclass
class Made:
    """rows: by (sheet, row from 0) the truth of it. columns: by (sheet, column) the field. of: answers that hold for
    all of the sheet, by what is asked. names: canonical by spelling without marks."""

    seed: int
    kind: str
    name: str = ""
    body: bytes = b""
    rows: dict = field(default_factory=dict)
    columns: dict = field(default_factory=dict)
    of: dict = field(default_factory=dict)
    names: dict = field(default_factory=dict)
    gases: dict = field(default_factory=dict)
    habits: list = field(default_factory=list)
    table: str = ""

    @property
    def truth(self):
        return [record for record in self.rows.values() if not record.get("hidden_out")]

    def answer(self, question):
        """None where an honest person has no answer among the choices."""
        word, _, rest = question.id.partition(":")
        at = [place_of(place) for place in question.places]
        records = [self.rows[sheet, row] for sheet, row, _ in at if (sheet, row) in self.rows]
        answer = self._of_rows(word, rest, records) if records else None
        if answer is None:
            answer = self._of_sheet(word, rest, question, at)
        choices = [choice for choice, _ in question.choices]
        return answer if answer is not None and (not choices or answer in choices) else None

    def _of_rows(self, word, rest, records):
        if word == "gas":
            said = {record["substance"] for record in records}
        elif word == "kind":
            said = {record["kind"] for record in records}
        elif word in {"container", "into", "oil"}:
            said = {record.get({"container": "from"}.get(word, word)) for record in records}
        elif word == "who":
            said = {record["technician"] for record in records}
        elif word == "blank":
            return self.of.get(f"blank:{rest}")
        else:
            return None
        return said.pop() if len(said) == 1 else None

    def _of_sheet(self, word, rest, question, at):
        column = self.columns.get((at[0][0], at[0][2])) if at else None
        if word == "column":
            return column or "-"
        if word == "which":
            sheet = at[0][0]
            return next((letters(c) for (s, c), name in self.columns.items() if s == sheet and name == rest), None)
        if word == "unit":
            return self.of.get(f"unit:{rest}") or self.of.get("unit")
        if word == "mark":
            _, mark = rest.split(":")
            return "decimal" if mark == self.of["decimal"] else "thousands"
        if word == "same":
            one, two = (self.names.get(bare) for bare in rest.split(":")[1:])
            return "yes" if one == two else "no"
        if word == "table":
            return next((choice for choice, _ in question.choices if choice.startswith(self.table)), None)
        return self.of.get(word)


def place_of(place):
    """(sheet, row, column) from 0 of `Store!C14`."""
    sheet, _, cell = place.rpartition("!")
    match = re.fullmatch(r"([A-Z]+)(\d+)", cell)
    column = 0
    for letter in match[1]:
        column = column * 26 + ord(letter) - 64
    return sheet, int(match[2]) - 1, column - 1


def letters(column):
    return letters(column // 26 - 1) + chr(65 + column % 26) if column > 25 else chr(65 + column)


class Writer:
    """One sheet of one seed."""

    def __init__(self, seed, kind=None):
        self.luck = random.Random(f"habits {seed}")
        self.made = Made(seed, kind or self.luck.choice(["stock"] * 5 + ["deliveries"] * 3 + ["jobs"] * 4 + ["counts"]))
        self.language = self.luck.choice(["en", "de", "fr", "es"])
        self.format = self.luck.choice(["xlsx"] * 5 + ["xls", "ods", "csv", "csv"])
        self.comma = self.language != "en"
        self.typed = self.format in {"xlsx", "xls", "ods"} and self.luck.random() < 0.65  # numbers are numbers
        self.unit = self.luck.choice(["g", "kg"] if self.language != "en" else ["g", "kg", "oz", "lb"])
        self.unit_at = self.luck.choice(["head", "head", "cell", "column", "row", "nowhere", "format"])
        if self.unit_at == "format" and (self.format != "xlsx" or not self.typed):
            self.unit_at = "head"
        self.days = self.luck.choice(["typed", "text", "iso", "words", "serial"])
        if self.format == "csv" and self.days in {"typed", "serial"}:
            self.days = "text"
        self.month_first = self.language == "en" and self.luck.random() < 0.3
        self.page = Page(self.luck.choice(["Sheet1", "Store", "Lager 2026", "Liste", "Feuil1"]))
        self.made.of = {
            "decimal": "," if self.comma else ".",
            "order": "month" if self.month_first else "day",
            "turned": "right",
            "serial": "yes",
            "unit": self.unit,
            "codes": "new",
            "hidden": "yes",
            "beside": "-",
            "again": "yes",
            "size": "size",
            "sure": "yes",
        }
        self.thousands = self.luck.random() < 0.35
        self.as_above = self.luck.choice(["said", "said", "blank", "ditto"])  # a day that is that of the row above
        self.habit(self.language, self.format, self.unit_at, self.days)
        self.at, self.last_day = 0, None

    def habit(self, *words):
        self.made.habits += words

    def chance(self, share, word):
        if self.luck.random() < share:
            self.habit(word)
            return True
        return False

    # -- words and figures -----------------------------------------------------------------------

    def head(self, name):
        text = self.luck.choice(HEADS[self.language][name])
        if len(text) > 7 and self.luck.random() < 0.06:
            at = self.luck.randrange(2, len(text) - 2)
            text = text[:at] + text[at + 1 :]
            self.habit("misspelt head")
        return text

    def number(self, value, decimals):
        """A value as this sheet writes it: typed, or as text."""
        if self.typed:
            return int(value) if value == int(value) else float(round(value, decimals))
        text = f"{float(value):.{decimals}f}"
        if self.thousands and value >= 1000 and not decimals:
            self.habit("thousands parted")
            return f"{int(value):,}".replace(",", "." if self.comma else ",")
        if self.luck.random() < 0.5 and "." in text:
            text = text.rstrip("0").rstrip(".")
        return text.replace(".", ",") if self.comma else text

    def amount(self, grams_of, unit=None):
        """Some mass that this unit writes exactly: (what stands in the cell, mg). grams_of: least and most, in g."""
        unit = unit or self.unit
        decimals = {"g": 0, "kg": self.luck.choice([1, 2, 3]), "oz": 1, "lb": 2}[unit]
        step = Fraction(1, 10**decimals)
        low, high = (Fraction(g) * 1000 / MG[unit] for g in grams_of)
        value = max(step, step * self.luck.randint(int(low / step), max(int(low / step), int(high / step))))
        return self.cell(value, decimals, unit), whole(value * MG[unit])

    def cell(self, value, decimals, unit):
        number = self.number(value, decimals)
        if self.unit_at == "format" and not isinstance(number, str):
            return Shown(number, f'0.###" {unit}"')
        if self.format == "xlsx" and not isinstance(number, str) and self.luck.random() < 0.04:
            self.habit("formula")
            return Formula(f"={number!r}*1", number)
        if self.unit_at == "cell":
            text = number if isinstance(number, str) else f"{float(value):.{decimals}f}"
            text = text.replace(".", ",") if self.comma else text
            return f"{text} {unit}" if self.luck.random() < 0.8 else f"{text}{unit}"
        return number

    def day(self, day):
        if self.days == "typed":
            return dt.datetime.combine(day, dt.time.min) if self.luck.random() < 0.5 else day
        if self.days == "serial":
            return (day - dt.date(1899, 12, 30)).days
        if self.days == "iso":
            return day.isoformat()
        if self.days == "words":
            return f"{day.day} {MONTH_WORDS[self.language][day.month - 1]} {day.year}"
        if self.month_first:
            return day.strftime("%m/%d/%Y")
        if self.language == "de":
            return f"{day.day}.{day.month}.{day.year}" if self.luck.random() < 0.5 else day.strftime("%d.%m.%y")
        return day.strftime("%d/%m/%Y")

    def gas(self, code):
        """A gas as this shop writes it; some words of it nobody else can know."""
        if code in OILS:
            return self.luck.choice([code, code.replace(" ", ""), code.replace(" ", "-")])
        text = self.luck.choice(
            [code, code.replace("-", ""), code.replace("-", " "), code.lower(), code.replace("-", "").upper()]
        )
        short = SPELLED.get(code)
        if short and self.made.gases.setdefault(code, self.luck.random() < 0.25):
            self.habit("open gas")
            return short
        return text

    def spelled(self, name):
        """A name as somebody in a hurry writes it."""
        roll = self.luck.random()
        text = name
        if roll < 0.12:
            text = name.lower()
        elif roll < 0.2:
            text = name.replace(" ", "  ") + " "
        elif roll < 0.27 and len(name) > 7 and not any(c.isdigit() for c in name):
            at = self.luck.randrange(3, len(name) - 2)
            text = name[:at] + name[at + 1 :]
            self.habit("misspelt name")
        self.made.names["".join(c for c in text.casefold() if c.isalnum())] = name
        return text

    # -- what stands around ----------------------------------------------------------------------

    def titles(self, width):
        for _ in range(self.luck.choice([0, 0, 1, 2, 3])):
            self.page.put(self.at, 0, self.luck.choice(TITLES[self.language]))
            if self.chance(0.4, "merged title") and self.format != "csv":
                self.page.merged.append((self.at, 0, self.at, width - 1))
            self.at += 1
        if self.at and self.luck.random() < 0.6:
            self.at += 1

    def heads(self, fields, start=0, units=()):
        """fields: in their order; None: a column that is empty. Returns the columns by field."""
        columns = {}
        under = {}
        wide = [at for at, name in enumerate(fields[:-1]) if name == "net" and fields[at + 1] in {"tare", "measure"}]
        if wide and self.format in {"xlsx", "xls"} and self.chance(0.5, "heads in two rows"):
            self.page.put(self.at, start + wide[0], GROUP_WORDS[self.language])
            self.page.merged.append((self.at, start + wide[0], self.at, start + wide[0] + 1))
            self.page.put(self.at, start, "2026") if wide[0] else None
            self.at += 1
        for column, name in enumerate(fields, start):
            if name is None:
                continue
            text = self.head(name)
            if name in units and self.unit_at == "head":
                text += self.luck.choice([f" ({self.unit})", f" [{self.unit}]", f" {self.unit}", f" in {self.unit}"])
            if name in units and self.unit_at == "row":
                under[column] = self.luck.choice([self.unit, f"({self.unit})"])
            self.page.put(self.at, column, text)
            columns[name] = column
            self.made.columns[self.page.name, column] = name
        self.head_row, self.head_texts = self.at, {c: self.page.cells[self.at, c] for c in columns.values()}
        self.made.table = f"{self.page.name}!{letters(start)}{self.at + 1}"
        self.at += 1
        if under:
            for column, text in under.items():
                self.page.put(self.at, column, text)
            self.at += 1
        return columns

    def heads_again(self):
        """As at the top of a printed page."""
        self.habit("heads again")
        for column, text in self.head_texts.items():
            self.page.put(self.at, column, text)
        self.at += 1

    def foot(self, columns, summed, first):
        """A total under the rows, and notes under that."""
        if self.chance(0.6, "total") and summed in columns:
            column = columns[summed]
            if self.luck.random() < 0.3:
                self.at += 1
            self.page.put(self.at, min(columns.values()), self.luck.choice(TOTAL_WORDS[self.language]))
            values = [self.page.cells.get((row, column)) for row in range(first, self.at)]
            numbers = [getattr(v, "value", v) for v in values]
            if numbers and all(isinstance(v, int | float) for v in numbers if v is not None) and column:
                total = round(sum(v for v in numbers if v is not None), 6)
                formula = Formula(f"=SUM({letters(column)}{first + 1}:{letters(column)}{self.at})", total)
                self.page.put(self.at, column, formula if self.format == "xlsx" else total)
            self.at += 1
        if self.chance(0.4, "note under it"):
            self.page.put(self.at + 1, 0, self.luck.choice(NOTES[self.language]))
            self.at += 2

    def second_table(self, width):
        """Another table: below, beside, or on a sheet of its own."""
        if not self.chance(0.35, "second table"):
            return [self.page]
        where = self.luck.choice(["below", "beside", "sheet"])
        page, row, column = self.page, self.at + 2, 0
        if where == "beside":
            row, column = self.head_row, width + 1
        elif where == "sheet":
            page, row = Page("Other"), 0
        for at, name in enumerate(["name", "phone", "note"]):
            page.put(row, column + at, HEADS[self.language][name][0])
        for line in range(1, 4):
            page.put(row + line, column, self.luck.choice(SUPPLIERS))
            page.put(row + line, column + 1, f"+00 {self.luck.randint(1000, 9999)}")
        self.habit(f"table {where}")
        return [self.page] if page is self.page else self.luck.choice([[self.page, page], [page, self.page]])

    def write(self, pages):
        made = self.made
        made.name = f"sheet.{self.format}"
        if self.format == "csv":
            made.name = f"{self.page.name}.csv"
            mark = "," if not self.comma and self.luck.random() < 0.7 else self.luck.choice([";", "\t"])
            letters_ = self.luck.choice(["utf-8", "utf-8-sig", "cp1252", "utf-16"])
            made.body = csv_of(self.page, mark, letters_, "," if self.comma else ".")
        else:
            made.body = {"xlsx": xlsx, "xls": xls, "ods": ods}[self.format](pages)
        return made


GROUP_WORDS = {"en": "Weights", "de": "Gewichte", "fr": "Poids", "es": "Pesos"}
MONTH_WORDS = {
    language: words.split(",")
    for language, words in {
        "en": "January,February,March,April,May,June,July,August,September,October,November,December",
        "de": "Januar,Februar,März,April,Mai,Juni,Juli,August,September,Oktober,November,Dezember",
        "fr": "janvier,février,mars,avril,mai,juin,juillet,août,septembre,octobre,novembre,décembre",
        "es": "enero,febrero,marzo,abril,mayo,junio,julio,agosto,septiembre,octubre,noviembre,diciembre",
    }.items()
}

__all__ = ["GASES", "KIND_WORDS", "Made", "Writer", "place_of"]
