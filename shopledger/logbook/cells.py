"""What single cells of a log say: days, quantities, prices, choices. Pure: no Django here."""

import datetime as dt
import re
from collections.abc import Callable, Iterable

from inventory.measures.days import FIRST_ENTRY, objection
from inventory.measures.money import parse_money
from inventory.measures.numbers import read_number
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.reference.substances import UnknownSubstance, substance
from inventory.text.refusal import Refused
from shopledger.logbook.folder import Faults, Row

WHEN = re.compile(r"(\d{4}-\d{2}-\d{2})(?:T(\d{2}:\d{2})(?::(\d{2}(?:\.\d{1,6})?))?)?", re.ASCII)
CONTROL = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f]")  # as `inventory.text.clean` refuses them; a cell has no halves
AHEAD = dt.timedelta(366)  # a machine whose clock is behind loads a log all the same


def first_day(text: str) -> dt.datetime | None:
    """The day that stands in a cell, where it is one."""
    match = WHEN.fullmatch(text)
    try:
        return dt.datetime.combine(dt.date.fromisoformat(match[1]), dt.time.min) if match else None
    except ValueError:
        return None


class Cells:
    """Reads the cells of one row; what cannot be read is noted, and its column is then among the `bad`."""

    def __init__(self, row: Row, faults: Faults, today: dt.date):
        self.row, self.faults, self.today = row, faults, today
        self.bad = row.bad

    @property
    def whole(self) -> bool:
        return not self.bad

    def fault(self, column: str, message: str) -> None:
        if column not in self.row.bad:  # of which a fault is noted already
            self.bad |= {column}
            self.faults.add(self.row.file, self.row.line, column, message)

    def known(self, *names: str) -> bool:
        """Whether all of these could be read."""
        return not self.bad or self.bad.isdisjoint(names)

    def said(self, column: str) -> str:
        """A cell as it stands, blank where it cannot be read."""
        return "" if column in self.bad else self.row[column]

    def text(self, column: str, *, needed: bool = False, most: int = 300) -> str:
        value = self.row[column]
        if needed and not value:
            self.fault(column, "this is blank; it is needed.")
        if len(value) > most:
            self.fault(column, f"this is {len(value)} characters long; {most} are the most.")
        control = CONTROL.search(value)
        if control:
            self.fault(column, f"this holds the control character U+{ord(control[0]):04X}; type it anew.")
        return value

    def one_of(self, column: str, choices: Iterable[str], *, needed: bool = True) -> str:
        value, choices = self.text(column), list(choices)
        if column in self.bad:
            return ""
        if value in choices or (not value and not needed):
            return value
        self.fault(column, f"{value[:60]!r} is none of {', '.join(choices)}; write one of these.")
        return ""

    def when(self, column: str = "date") -> dt.datetime | None:
        """A moment at the shop; a date alone is 00:00."""
        value = self.row[column]
        match = WHEN.fullmatch(value)
        try:
            if not match:
                raise ValueError
            day = dt.date.fromisoformat(match[1])
            time = dt.time.fromisoformat(f"{match[2] or '00:00'}:{match[3] or '00'}")
        except ValueError:
            said = f"{value[:40]!r} is no day of the calendar" if value else "this is blank"
            self.fault(column, f"{said}; write it as 2026-03-02 or 2026-03-02T09:30.")
            return None
        said = objection(day, FIRST_ENTRY, self.today)
        if not said and day > self.today + AHEAD:
            said = f"{day} is more than a year from today; a log tells what has been."
        if said:
            self.fault(column, said)
            return None
        return dt.datetime.combine(day, time)

    def day(self, column: str, *, first: dt.date = FIRST_ENTRY) -> dt.date | None:
        """The day of a paper or of what falls due, or None where the cell is blank. first: the earliest there is."""
        value = self.row[column]
        if not value:
            return None
        try:
            if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value, re.ASCII):
                raise ValueError
            day = dt.date.fromisoformat(value)
        except ValueError:
            self.fault(column, f"{value[:40]!r} is no day of the calendar; write it as 2026-03-02.")
            return None
        said = objection(day, first, self.today, due=True)
        if said:
            self.fault(column, said)
            return None
        return day

    def quantity(self, column: str, *, oil: bool | None = False, needed: bool = False) -> int | None:
        """mg, or uL for an oil; None where the cell is blank. oil None: nobody knows, and either will do."""
        if oil is None and self._is_volume(column):
            oil = True
        return self.parsed(column, parse_volume if oil else parse_mass, needed=needed)

    def _is_volume(self, column: str) -> bool:
        try:
            parse_volume(self.row[column])
        except Refused:
            return False
        return True

    def parsed(self, column: str, parse: Callable[[str], int], *, needed: bool = False) -> int | None:
        value = self.row[column]
        if not value:
            if needed:
                self.fault(column, "this is blank; type a quantity with its unit, e.g. 412 g.")
            return None
        try:
            return parse(value)
        except Refused as refused:
            self.fault(column, refused.message)
            return None

    def is_nothing(self, column: str) -> bool:
        """Whether it says 0, which needs no unit."""
        try:
            return read_number(self.row[column]) == 0
        except Refused:
            return False

    def substance(self, column: str = "substance") -> tuple[str, bool]:
        """Code and whether it is an oil; blank stays blank."""
        value = self.row[column]
        if not value:
            return "", False
        try:
            return substance(value)
        except UnknownSubstance as unknown:
            self.fault(column, str(unknown))
            return "", False

    def price(self, currency: str, column: str = "price") -> int | None:
        """Minor units of the currency; None where the cell is blank."""
        return self.parsed(column, lambda said: parse_money(said, currency))
