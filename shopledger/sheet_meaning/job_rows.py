"""Sheets of jobs: what each took from which container, and gave back. Pure.

A row is a job, or, where several have the same number, what else was done on it.
"""

import re
from dataclasses import dataclass

from inventory.measures.quantity import show
from shopledger.sheet_meaning.asking import LEFT_OUT
from shopledger.sheet_meaning.building import Builder, Line
from shopledger.sheet_meaning.known import bare
from shopledger.sheet_meaning.reader import Skip
from shopledger.sheet_meaning.values import Unread, figure, quantity, said_g
from shopledger.sheets.grid import TEXT, Cell

OIL_BESIDE = re.compile(r"(?<![\w.,])([0-9][0-9.,]*)\s?(ml|cc|ccm|cl|l|fl\.? ?oz|oz)\b", re.IGNORECASE)


@dataclass
class Job:
    """row: of the sheet, in which it stands first."""

    row: int
    number: str
    cells: dict[str, str]
    lines: list[dict[str, str]]
    rows: list[int]


class Jobs(Builder):
    def __init__(self, *args):
        super().__init__(*args)
        self.jobs: dict[str, Job] = {}
        self.made = 0
        self.taken = {bare(number) for number in self.known.jobs}

    def line(self, line: Line) -> None:
        date = self._moment(line)
        technician = self._technician(line)
        substance, oil = self._gas(line)
        if oil:
            line.take("substance", lambda: _refuse(f"{substance} is an oil; the refrigerant of the unit stands here."))
        cells = {
            "date": date,
            "technician": technician,
            "customer": self.named(line, "customer"),
            "unit": self._unit(line),
            "vin": line.text("vin"),
            "substance": substance,
            "charge_min": self._least(line),
            "charge_max": self._most(line),
        }
        lines = [*self._recovered(line, substance), *self._oil(line), *self._charged(line, substance)]
        if not line.whole:
            return
        self._keep(line, cells, lines)

    def _moment(self, line: Line) -> str:
        date = self.day(line)
        if not self.reader.has("time") or not date or "T" in date:
            return date
        cell = self.reader.cell(line.row, "time")
        time = cell.time.strftime("%H:%M") if cell.time else line.text("time").replace(".", ":").replace("h", ":")
        if not time:
            return date
        hour, _, minute = time.partition(":")
        if (
            re.fullmatch("[0-9]{1,2}", hour)
            and re.fullmatch("[0-9]{2}.*", minute)
            and int(hour) < 24
            and int(minute[:2]) < 60
        ):
            return f"{date}T{int(hour):02}:{int(minute[:2]):02}"
        line.take("time", lambda: _refuse(f"{cell.text[:20]!r} is no time of the day; write it as 09:30."))
        return date

    def _technician(self, line: Line) -> str:
        if self.reader.has("technician"):
            return self.person(line, "technician")
        choices = [(username, f"{name} ({username})") for username, name in self.known.people.items()]
        return self.once(line, "technician", "No column says who did the jobs. Who did?", choices=choices)

    def _gas(self, line: Line) -> tuple[str, bool]:
        if self.reader.has("substance"):
            return self.substance(line, needed=False)
        code, oil = self.substance(line)
        return code, oil

    def _unit(self, line: Line) -> str:
        said = line.text("unit")
        if said or line.text("vin"):
            return said
        if not self.reader.has("unit") and not self.reader.has("vin"):
            return ""
        return self.above(line, "unit", "")

    def _least(self, line: Line) -> str:
        return self.mass(line, "charge_min") or self.mass(line, "factory")

    def _most(self, line: Line) -> str:
        return self.mass(line, "charge_max") or self.mass(line, "factory")

    # -- what was done ---------------------------------------------------------------------------

    def _recovered(self, line: Line, gas: str) -> list[dict[str, str]]:
        found = self.amount(line, "recovered")
        if found is None or not found[0]:
            return []
        code = self._from(line, "into", gas, "recovered into which container", recovers=True)
        return [{"action": "recover", "container": code, "quantity": said_g(found[0], oil=False)}]

    def _charged(self, line: Line, gas: str) -> list[dict[str, str]]:
        before, after, charged = (self.amount(line, name) for name in ("before", "after", "charged"))
        if before is not None or after is not None:
            if before is None or after is None:
                missing = "before" if before is None else "after"
                line.take(missing, lambda: _refuse("this weight is missing; both stand here, before and after."))
                return []
            if charged is not None and charged[0] != before[0] - after[0] and line.whole:
                weighed = show(before[0] - after[0], "g")
                text = f"this says {show(charged[0], 'g')}, and the weights before and after {weighed}."
                line.take("charged", lambda: _refuse(text))
            weights = {"before": said_g(before[0], oil=False), "after": said_g(after[0], oil=False)}
            code = self._from(line, "container", gas, "charged from which container")
            return [{"action": "charge", "container": code, "scale": line.text("scale"), **weights}]
        if charged is None or not charged[0]:
            return []
        code = self._from(line, "container", gas, "charged from which container")
        return [{"action": "charge", "container": code, "quantity": said_g(charged[0], oil=False)}]

    def _oil(self, line: Line) -> list[dict[str, str]]:
        found = self.amount(line, "oil_added", oil=True)
        beside = OIL_BESIDE.search(self.reader.cell(line.row, "oil").text)
        if beside and found is None:  # PAG 46 20 mL: which oil and how much in one cell
            said = Cell(f"{beside[1]} {beside[2]}", TEXT)
            found = line.take("oil", lambda: (_volume(said), None))
        if found is None or not found[0]:
            return []
        oil = ""
        if self.reader.has("oil") and line.text("oil") != (beside[0].strip() if beside else ""):
            oil, is_oil = self.substance(line, "oil", needed=True)
            if oil and not is_oil:
                line.take("oil", lambda: _refuse(f"{oil} is no oil."))
        bottles = [code for code, held in self.known.containers.items() if held.is_oil and oil in {"", held.substance}]
        code = self._which(
            line, "oil_added", f"oil:{oil or 'any'}", f"Out of which bottle came {oil or 'the oil'}?", bottles
        )
        return [{"action": "oil-add", "container": code, "quantity": said_g(found[0], oil=True)}]

    def _from(self, line: Line, name: str, gas: str, done: str, *, recovers: bool = False) -> str:
        """The container of a row: as it names it, else asked once for each gas."""
        said = line.text(name)
        if said:
            return self.known.container(said)
        if not gas and (line.text("substance") or not self.reader.has("substance")):
            return ""  # it is asked about already
        held = self.known.containers.items()
        fit = [
            code for code, one in held if not one.is_oil and (one.substance == gas or (recovers and not one.substance))
        ]
        if recovers:
            fit = [code for code in fit if self.known.containers[code].recovers] or fit
        words = f"{gas or 'The refrigerant'} in {{n}}: {done}?"
        return self._which(line, name, f"{name}:{gas or 'any'}", words, fit)

    def _which(self, line: Line, name: str, id: str, text: str, fit: list[str]) -> str:
        choices = [(code, code) for code in fit] + [(LEFT_OUT, "none that is here: leave these rows out")]
        answer = line.take(name, lambda: self.asking.ask(id, text, choices, line.place(name)), "")
        if answer == LEFT_OUT:
            raise Skip
        return answer

    # -- jobs of several rows --------------------------------------------------------------------

    def _keep(self, line: Line, cells: dict[str, str], lines: list[dict[str, str]]) -> None:
        number = line.text("job") or self._number(cells["date"])
        standing = self.jobs.get(number)
        if standing is None:
            self.jobs[number] = Job(line.row, number, cells, lines, [line.row] * len(lines))
            return
        for name, value in cells.items():
            if value and standing.cells[name] and value != standing.cells[name] and name != "date":
                first = f"job {number} has {standing.cells[name]} in row {standing.row + 1}"
                text = f"{first}, and {value} here; make them agree."
                return self.reader.fault(line.row, name, text)
        standing.lines += lines
        standing.rows += [line.row] * len(lines)
        return None

    def _number(self, date: str) -> str:
        """Of a job that has none: by its day, and the first that is free."""
        day = date[:10].replace("-", "")
        count = 1
        while bare(f"{day}-{count}") in self.taken:
            count += 1
        self.taken.add(bare(f"{day}-{count}"))
        return f"{day}-{count}"

    def finish(self) -> None:
        super().finish()
        for job in self.jobs.values():
            self.built.add("jobs.csv", job.row, job=job.number, **job.cells)
            for row, said in zip(job.rows, job.lines, strict=True):
                whole = dict.fromkeys(("container", "scale", "before", "after", "quantity", "note"), "") | said
                self.built.add("job_lines.csv", row, job=job.number, **whole)
            said = "; ".join(_said(one) for one in job.lines) or "nothing charged or recovered"
            who = job.cells["unit"] or job.cells["vin"]
            self.built.says[job.row] = f"job {job.number}, {who}: {said}"
            for row in job.rows:
                self.built.says.setdefault(row, f"more of job {job.number}")


def _said(line: dict[str, str]) -> str:
    words = {"charge": "{} from {}", "recover": "{} recovered into {}", "oil-add": "{} of oil from {}"}
    amount = line.get("quantity") or f"{line['before']} to {line['after']}"
    return words[line["action"]].format(amount, line["container"])


def _volume(cell: Cell) -> int:
    read = figure(cell)
    if not read.is_certain:
        raise Unread(f"{cell.text} can be read in two ways.")
    return quantity(read.readings["."], read.unit, oil=True)


def _refuse(message: str):
    raise Unread(message)
