"""What the rows of a sheet become: rows of the log's files, each with the cells that it comes from. Pure."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from rapidfuzz import fuzz, process

from inventory.reference.kinds import KINDS, with_trait
from inventory.reference.lookup import near
from shopledger.logbook.folder import Row
from shopledger.sheet_meaning.asking import LEFT_OUT, Asking, Pending
from shopledger.sheet_meaning.kinds_of_sheet import called
from shopledger.sheet_meaning.known import Known
from shopledger.sheet_meaning.naming import bare_name, same_names
from shopledger.sheet_meaning.reader import Reader, Skip
from shopledger.sheet_meaning.values import Unread, gas, gases, kind_words, said_g
from shopledger.sheet_meaning.words import GRADES, plain

NEW = "new"
OIL_KIND = with_trait("is_oil")[0]
GAS_KINDS = [(kind.code, kind.label) for kind in KINDS.values() if not kind.is_oil]
GROUPED = ("supplier", "customer", "location")


@dataclass
class Built:
    """files: rows by the log's file. origins: by file and line the row of the sheet. says: by row of the sheet what it
    becomes, in words. out: by row why nothing."""

    files: dict[str, list[Row]] = field(default_factory=dict)
    origins: dict[tuple[str, int], int] = field(default_factory=dict)
    says: dict[int, str] = field(default_factory=dict)
    out: dict[int, str] = field(default_factory=dict)

    def add(self, file: str, origin: int, **cells: str) -> None:
        rows = self.files.setdefault(file, [])
        rows.append(Row(file, len(rows) + 1, len(rows), {name: cells.get(name, "") for name in cells}))
        self.origins[file, len(rows)] = origin


class Line:
    """One row of the sheet while it is read. What cannot be read is noted, and the rest is still read, so that all
    that is wrong with it is known at once. whole: whether everything could be."""

    def __init__(self, reader: Reader, row: int):
        self.reader, self.row, self.whole = reader, row, True

    def take(self, name: str, read: Callable, default: object = None) -> object:
        try:
            return read()
        except Unread as unread:
            self.reader.fault(self.row, name, str(unread))
        except Pending:
            pass
        self.whole = False
        return default

    def text(self, name: str) -> str:
        return self.take(name, lambda: self.reader.text(self.row, name), "")

    def place(self, name: str) -> str:
        return self.reader.place(self.row, name)


class Builder:
    """What all kinds of sheet share."""

    def __init__(self, reader: Reader, over: dict[int, str], asking: Asking, known: Known):
        self.reader, self.over, self.asking, self.known = reader, over, asking, known
        self.built = Built()
        self.new_people: dict[str, str] = {}  # name by username
        self._last: dict[str, str] = {}
        self._names = {name: self._grouped(name) for name in GROUPED if reader.has(name)}

    def build(self) -> Built:
        for row in self.reader.rows:
            line = Line(self.reader, row)
            try:
                self.line(line)
            except Skip:
                self.built.out[row] = "left out, as was answered"
        self.finish()
        return self.built

    def line(self, line: Line) -> None:
        raise NotImplementedError

    def finish(self) -> None:
        for username, name in self.new_people.items():
            self.built.add("people.csv", self.reader.rows[0], username=username, name=name, role="technician")

    # -- names -----------------------------------------------------------------------------------

    def _grouped(self, name: str) -> dict[str, str]:
        counted, places = self.reader.counted(name), {}
        for row in self.reader.rows:
            cell = self.reader.cell(row, name)
            places.setdefault(" ".join(cell.text.split()), self.reader.place(row, name))
        return same_names(name, counted, self.known.names.get(name, ()), places, self.asking)

    def named(self, line: Line, name: str) -> str:
        said = line.text(name)
        return self._names.get(name, {}).get(said, said)

    def above(self, line: Line, name: str, said: str) -> str:
        """What a row says under a head that it cannot do without: itself, or what stands above, where somebody said
        that blanks mean that."""
        if said:
            self._last[name] = said
            return said
        choices = [(LEFT_OUT, "leave these rows out")]
        if name in self._last:
            choices.insert(0, ("above", "the same as in the row above"))
        text = f"In {{n}} nothing stands under {called(name)}. What is meant?"
        answer = line.take(name, lambda: self.asking.ask(f"blank:{name}", text, choices, line.place(name)), "")
        if answer == LEFT_OUT:
            raise Skip
        if answer == "above" and name not in self._last:
            self.reader.fault(line.row, name, "this is blank, and nothing stands above it.")
            line.whole = False
        return self._last.get(name, "")

    def once(self, line: Line, name: str, said: str, **more: object) -> str:
        """What no column says: asked once for the whole sheet."""
        return line.take(name, lambda: self.asking.ask(name, said, place=line.place(name), **more), "")

    def day(self, line: Line, name: str = "date") -> str:
        """As a log has it, with the time where one stands there."""
        if not self.reader.has(name):
            said = "No column says the day. Which day is it, for all rows?"
            return self.once(line, name, said, is_day=True, lasting=False)
        unread = object()
        when = line.take(name, lambda: self.reader.day(line.row, name), unread)
        if when is unread:
            self._last.setdefault(name, "")  # something stands there: what is under it may be the same
            return ""
        text = "" if when is None else _moment(when)
        return self.above(line, name, text)

    def falls_due(self, line: Line, name: str) -> str:
        when = line.take(name, lambda: self.reader.day(line.row, name))
        return "" if when is None else when.date().isoformat()

    def person(self, line: Line, name: str) -> str:
        """The user name of whoever a cell names."""
        said = self.above(line, name, line.text(name)) if name == "technician" else line.text(name)
        if not said:
            return ""
        people = self.known.people
        bare = bare_name(said)
        for username, full in people.items():
            if bare in {bare_name(username), bare_name(full)}:
                return username
        firsts = [username for username, full in people.items() if bare == bare_name(full.split()[0] if full else "")]
        if len(firsts) == 1:
            return firsts[0]
        answer = line.take(name, lambda: self._who(line, name, said, bare), "")
        if answer == LEFT_OUT:
            raise Skip
        if answer == NEW:
            return self._newcomer(said, bare)
        return answer

    def _who(self, line: Line, name: str, said: str, bare: str) -> str:
        def choices() -> list[tuple[str, str]]:
            listed = [(username, f"{full} ({username})") for username, full in self.known.people.items()]
            return [*listed, (NEW, f"somebody new: {said}"), (LEFT_OUT, "leave these rows out")]

        likely = process.extractOne(
            said.casefold(), {u: f.casefold() for u, f in self.known.people.items()}, scorer=fuzz.WRatio
        )
        suggested = likely[2] if likely and likely[1] >= 85 else ""
        text = f"Who is {said}?"
        return self.asking.ask(f"who:{bare}", text, choices, line.place(name), suggested=suggested)

    def _newcomer(self, said: str, bare: str) -> str:
        username = re.sub(r"[^a-z0-9]+", ".", plain(said)).strip(".")[:60] or bare[:60]
        while username in self.known.people:
            username += "2"
        self.new_people[username] = said
        return username

    # -- what it is ------------------------------------------------------------------------------

    def substance(self, line: Line, name: str = "substance", *, needed: bool = True) -> tuple[str, bool]:
        """Code, and whether it is an oil; blank where nothing is known."""
        said = line.text(name) or (self.over.get(line.row, "") if not self.reader.has(name) else "")
        found = gas(said) if said else None
        if found:
            self._last[name] = said
            return found
        if not said and not needed:
            return "", False
        if not self.reader.has(name):
            code = self.once(
                line,
                name,
                "No column says which refrigerant or oil it is. Which one, for all rows?",
                choices=_all_gases,
            )
        elif not said:
            code = self.above(line, name, "")
        else:
            self._last[name] = said
            code = line.take(name, lambda: self._which_gas(line, name, said), "")
            if code == LEFT_OUT:
                raise Skip
        return (gas(code) or ("", False)) if code else ("", False)

    def _which_gas(self, line: Line, name: str, said: str) -> str:
        def choices() -> Iterator[tuple[str, str]]:
            likely = near(said, gases())
            listed = dict.fromkeys([*likely, *gases()])
            yield from ((code, code) for code in listed)
            yield LEFT_OUT, "leave these rows out"

        likely = near(said, gases(), most=1)
        text = f"{said[:40]} in {{n}}: which refrigerant or oil is it?"
        suggested = likely[0] if likely else ""
        return self.asking.ask(f"gas:{plain(said)[:60]}", text, choices, line.place(name), suggested=suggested)

    def kind(self, line: Line, substance: str, *, oil: bool, size: int) -> str:
        """The kind of container. size: mg or uL of one."""
        if oil:
            return OIL_KIND
        said = line.text("kind")
        found = kind_words(said) if said else kind_words(self.reader.cell(line.row, "substance").text)
        if found and found != OIL_KIND:
            return found
        if not said and not found:
            small = size <= 1_500_000
            id, about = ("kind:small", "up to 1.5 kg each") if small else ("kind:large", "over 1.5 kg each")
            text = f"Nothing says what kind of container the {{n}} with {about} are. What are they?"
        else:
            said = said or self.reader.cell(line.row, "substance").text
            id, text = f"kind:{plain(said)[:60]}", f"What kind of container is {said[:40]} ({{n}})?"
        choices = [*GAS_KINDS, (LEFT_OUT, "leave these rows out")]
        answer = line.take("kind", lambda: self.asking.ask(id, text, choices, line.place("kind")), "")
        if answer == LEFT_OUT:
            raise Skip
        return answer

    def grade(self, line: Line, *, oil: bool) -> str:
        said = line.text("grade")
        if not said or oil:
            return ""
        words = plain(said)
        found = GRADES.get(words) or (words if words in GRADES.values() else "")
        if found:
            return found
        choices = [(grade, grade) for grade in dict.fromkeys(GRADES.values())] + [("usual", "as usual for its kind")]
        text = f"Which grade is {said[:40]} ({{n}})?"
        answer = line.take(
            "grade", lambda: self.asking.ask(f"grade:{words[:60]}", text, choices, line.place("grade")), ""
        )
        return "" if answer == "usual" else answer

    def amount(self, line: Line, name: str, *, oil: bool = False) -> tuple[int, int | None] | None:
        return line.take(name, lambda: self.reader.amount(line.row, name, oil=oil))

    def mass(self, line: Line, name: str) -> str:
        """A mass as a log has it, blank where nothing stands there."""
        found = self.amount(line, name)
        return "" if found is None else said_g(found[0], oil=False)


def _all_gases() -> list[tuple[str, str]]:
    return [(code, code) for code in gases()]


def _moment(when) -> str:
    text = when.isoformat(timespec="minutes")
    return text.removesuffix("T00:00")


def repeated(counted: Counter) -> set[str]:
    return {text for text, count in counted.items() if count > 1}
