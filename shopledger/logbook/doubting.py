"""What a log says that can be and hardly is: it is asked about, and loaded after one yes, which is kept with the log.

The same is known of each figure as on the pages (inventory/plausible). A log tells what has been, often long ago and by
habits of its own: so a weight that differs from the book is asked about only where another reading explains it, or
where it differs by half of what the container ever held. What no container holds is a fault.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.containers.events import Op
from inventory.containers.holdings import Holdings
from inventory.containers.models import Location, Scale
from inventory.containers.recorder import Recorder
from inventory.containers.states import ContainerState, Reading
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.measures.quantity import parse_mass
from inventory.parties.models import Party
from inventory.plausible.expected import Known
from inventory.plausible.judging import CANNOT, Answer, judge, read
from inventory.plausible.masses import CHARGE, IN, OUT, RECOVER, Amount, Net, Tare, Weight
from inventory.plausible.names import plain_name
from inventory.plausible.typed import Typed
from inventory.plausible.vessels import KG, Vessel, sizes_of
from inventory.reference.kinds import KINDS
from inventory.text.refusal import Refused
from jobs.units.models import Customer
from shopledger.logbook.folder import ANSWERS, Fault, Faults, Folder, Row

if TYPE_CHECKING:
    from shopledger.logbook.events import Event

FAULTY, ODD, SLIP = "faulty", "odd", "slip"
YES = "yes"
ALL = "all"
EXPORTED = "exported"  # the digest of files as a shop wrote them: what stood in its ledger was asked about there
AS_WRITTEN = "as it was written"  # of a name: those stay outside the ledger
LEAST_ODD = KG // 2  # a difference smaller than that is never asked about by its size alone: common practice
USUAL_LEAST, TIMES = 2 * KG, 6  # over its label many a unit was filled, not by six times: common practice, no source
MOVE = {"charge", "recover", "oil-add"}
CAME = {"opening.csv", "receipts.csv"}
USUAL_MOST = 40 * KG  # of what one unit takes or gives: as MOST_WITHOUT_LABEL of inventory/plausible


@dataclass(frozen=True)
class Answers:
    """What was said to questions. yes: the places that are right as they stand; mark: of a list that was seen, all of
    which is right; exported: the digest of files that are right as they stand. before: tells what was asked and
    answered before the rows became those of a log."""

    yes: frozenset[str] = frozenset()
    mark: str = ""
    exported: str = ""
    before: Callable[[Fault], bool] = lambda fault: False

    @classmethod
    def read(cls, text: str) -> Answers:
        """From JSON: `{"receipts.csv:3: net": "yes"}`, `{"all": "the mark of the list"}`, or as `export_log` writes it,
        `{"exported": "the digest of its files"}`. Raises ValueError."""
        said = json.loads(text)
        if not isinstance(said, dict) or not all(isinstance(one, str) for one in said.values()):
            raise ValueError("answers are an object of places and words")
        others = {place for place, answer in said.items() if place not in {ALL, EXPORTED} and answer != YES}
        if others:
            raise ValueError(f"the answer to {min(others)} is not {YES}; where it is not right, mend the file")
        return cls(frozenset(said.keys() - {ALL, EXPORTED}), said.get(ALL, ""), said.get(EXPORTED, ""))

    def beside(self, path: Path, faults: Faults) -> Answers:
        """With those that lie in the folder itself. A file that holds none is a fault."""
        try:
            lying = Answers.read((path / ANSWERS).read_text(encoding="utf-8"))
        except FileNotFoundError:
            return self
        except ValueError as error:
            faults.add(ANSWERS, 1, "file", f"it holds no answers: {error}; mend it, or take it out.")
            return self
        return replace(lying, yes=lying.yes | self.yes, mark=self.mark or lying.mark)

    def are_of(self, digest: str) -> Answers:
        """Whether they were exported with these files, all is answered by them."""
        return replace(self, before=lambda _question: True) if self.exported == digest else self


def place_of(question: Fault) -> str:
    return f"{question.file}:{question.line}: {question.column}"


def mark_of(questions: Iterable[Fault]) -> str:
    """Stands for a list of questions, as it was seen."""
    whole = "\n".join(str(one) for one in sorted(questions))
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


@dataclass
class Doubts:
    """questions: not answered yet. confirmed: what was asked and is right, (place, as it was typed) each."""

    faults: Faults
    answers: Answers
    asked: Faults = field(default_factory=Faults)
    typed: dict[str, str] = field(default_factory=dict)

    @property
    def questions(self) -> list[Fault]:
        left = sorted(one for one in self.asked.found if place_of(one) not in self.answers.yes)
        left = [one for one in left if not self.answers.before(one)]
        return [] if left and self.answers.mark == mark_of(left) else left

    @property
    def confirmed(self) -> list[list[str]]:
        return [[place_of(one), self.typed[place_of(one)]] for one in sorted(self.asked.found)]

    def ask(self, row: Row, column: str, said: str, typed: str = AS_WRITTEN) -> None:
        self.asked.add(row.file, row.line, column, said)
        self.typed[f"{row.file}:{row.line}: {column}"] = typed

    # -- names ---------------------------------------------------------------------------------------

    def names(self, folder: Folder) -> None:
        """A name that differs from another one only in how it is written."""
        customers = () if folder.has("customers.csv") else (("jobs.csv", "customer"),)
        places = (("opening.csv", "location"), ("receipts.csv", "location"), ("moves.csv", "to_location"))
        parties = (("parties.csv", "name"), ("receipts.csv", "supplier"), ("shipments.csv", "party"))
        for what, known, columns in (
            ("customer", Customer.objects.values_list("name", flat=True), customers),
            ("place", Location.objects.values_list("name", flat=True), places),
            ("partner", Party.objects.values_list("name", flat=True), parties),
        ):
            self._alike(folder, what, known, columns)

    def _alike(self, folder: Folder, what: str, known: Iterable[str], columns: Iterable[tuple[str, str]]) -> None:
        seen: dict[str, str] = {}
        told = set()
        for file, column in columns:
            for row in folder.of(file):
                name = row[column]
                if not name or name in told:
                    continue
                told.add(name)
                first = seen.setdefault(plain_name(name) or name, name)
                if first != name:
                    why = f"the {what} {first} is named too, and this differs only in how it is written."
                    self.ask(row, column, f"Is {name[:60]} right? {why[0].upper()}{why[1:]}")
        # Against what stands already: those that this log made are among it by now.
        for name in known:
            first = seen.get(plain_name(name))
            if first and name != first and name not in told:
                row, column = next(
                    (row, column) for file, column in columns for row in folder.of(file) if row[column] == first
                )
                why = f"The {what} {name} is known; this differs only in how it is written."
                self.ask(row, column, f"Is {first[:60]} right? {why}")

    # -- what came -----------------------------------------------------------------------------------

    def papers(self, folder: Folder) -> None:
        """A delivery that stands in the ledger already, under the same number of the same supplier."""
        rows: dict[tuple[str, str], Row] = {}
        for row in folder.of("receipts.csv"):
            if row["document"]:
                rows.setdefault((row["document"], row["supplier"]), row)
        found = Voucher.objects.standing().filter(kind="receipt").exclude(document="") if rows else ()
        parties = dict(Party.objects.values_list("code", "name")) if rows else {}
        for voucher in found:
            supplier = parties.get(json.loads(voucher.detail).get("supplier", ""), "")
            row = rows.get((voucher.document, supplier))
            if row is not None:
                stands = f"stands as voucher {voucher.number} of {said_day(voucher.day)}"
                said = f"{voucher.document} of {supplier} {stands} already. Is this another delivery under that number?"
                self.ask(row, "document", said, voucher.document)

    def _came(self, event: Event, holdings: Holdings) -> None:
        """Net and tare of containers that came, or were here."""
        rows = {part.row["container"]: part.row for part in event.parts}
        for op in holdings.ops:
            if op.verb == "arrive" and op.code in rows and not op.is_oil and rows[op.code].file in CAME:
                self._arrived(rows[op.code], op.kind, op.quantity, op.tare)

    def _arrived(self, row: Row, kind: str, net: int, tare: int | None) -> None:
        bought = row.file == "receipts.csv"  # what was here before may be half empty
        least, most = sizes_of(KINDS[kind]).likely
        if net and (net > most or (bought and net < least)):
            self._judge(row, "net", Net(kind), net)
        if tare:
            self._judge(row, "tare", Tare(Vessel(kind, "", net, net if bought else 0, net)), tare)

    # -- what was done -------------------------------------------------------------------------------

    def event(self, event: Event, recorder: Recorder) -> None:
        """Figures of an act that was posted, beside the containers as it found them."""
        holdings, scales = recorder.holdings, recorder.rows.scales
        if event.brings:
            self._came(event, holdings)
            return
        if event.row.file in {"regrades.csv", "apart.csv"}:
            self._changed(event.row, holdings)
        if not (holdings.postings.readings or event.row.file == "jobs.csv"):
            return
        rows: dict[tuple[str, str], list[Row]] = defaultdict(list)
        for part in event.parts:
            code = part.row["container"] or part.row["from"]
            for role, column in (("count", "gross"), ("before", "before")):
                if part.row[column]:
                    rows[code, role].append(part.row)
        for one in holdings.postings.readings:
            if one.role in {"count", "before"} and rows[one.code, one.role]:
                self._weighed(rows[one.code, one.role].pop(0), one, holdings.containers[one.code], scales)
        if event.row.file == "jobs.csv":
            said = (op for op in holdings.ops if op.verb in {"draw", "fill"})  # one of each line that moves something
            for part in event.parts:
                if part.row["action"] in MOVE:
                    self._moved(event.row, part.row, next(said), holdings)

    def _changed(self, row: Row, holdings: Holdings) -> None:
        """What changes nothing by now: an earlier one said so already, or another container is meant."""
        for op in holdings.ops:
            held = holdings.found(op.code)
            if held and op.verb == "regrade" and held.grade == op.grade:
                self.ask(row, "grade", f"{op.code} is graded {op.grade} already. Is this right?", op.grade)
            if held and op.verb == "keep" and held.owner == op.owner:
                whose = f"kept for {op.owner}" if op.owner else "the shop's"
                self.ask(row, "container", f"{op.code} is {whose} already. Is this right?", op.code)

    def _weighed(self, row: Row, one: Reading, held: ContainerState, scales: Mapping[str, Scale]) -> None:
        if held.is_oil or not (one.outcome.startswith("unexplained") or one.outcome == "tare taken"):
            return
        known_tare = None if one.outcome == "tare taken" else one.tare
        largest = max(held.nominal, one.book)
        vessel = Vessel(held.kind, held.substance, one.book, held.nominal, largest, known_tare)
        scale = scales.get(one.scale)
        known = Weight(vessel, one.readability, scale.capacity_mg if scale else None)
        odd = known_tare is None or abs(one.difference) >= max(LEAST_ODD, largest // 2)
        self._judge(row, "gross" if one.role == "count" else "before", known, one.gross, ODD if odd else SLIP)

    def _moved(self, job: Row, row: Row, op: Op, holdings: Holdings) -> None:
        """What a job's line took out of a container or put into it, beside what its unit's label says."""
        before, after, quantity = op.what[:3]
        moved = quantity if quantity is not None else abs((before or 0) - (after or 0))
        if moved <= USUAL_LEAST or row["action"] == "oil-add":
            return
        out = row["action"] == "charge"
        label = _mass(job["charge_max"])
        most = USUAL_MOST if label is None else max(USUAL_LEAST, TIMES * label)
        held = holdings.containers.get(op.code)
        if moved <= most or held is None or held.is_oil:
            return
        vessel = Vessel(held.kind, held.substance, held.balance, held.nominal, held.most, held.tare)
        if quantity is not None:
            known: Known = Amount(CHARGE if out else RECOVER, None, label, label)
            self._judge(row, "quantity", known, quantity, ODD)
        else:
            known = Weight(vessel, 1000, None, before, OUT if out else IN, label, label)
            self._judge(row, "after", known, after, ODD)

    def _judge(self, row: Row, column: str, known: Known, value: int, sort: str = FAULTY) -> None:
        """sort: FAULTY, what cannot be is a fault; ODD, it is asked about; SLIP, it is where another reading is
        known."""
        text = row[column]
        answer = judge(_typed(text, known, value), known)
        if answer.fits or (sort == SLIP and not _explained(answer)):
            return
        if sort == FAULTY and answer.answer == CANNOT:
            self.faults.add(row.file, row.line, column, answer.said)
        else:
            self.ask(row, column, answer.said, text)


def _explained(answer: Answer) -> bool:
    """Whether another reading than the one that was typed may be meant."""
    return any(one.slip for one in answer.readings)


def _typed(text: str, known: Known, value: int) -> Typed:
    try:
        return read(text, known)
    except Refused:  # pounds and ounces together
        return Typed.quantity(value, "oz")


def _mass(text: str) -> int | None:
    try:
        return parse_mass(text) if text else None
    except Refused:
        return None
