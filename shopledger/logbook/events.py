"""The events of a log, each a row (or rows) that is posted as one voucher, in the order they happened.

A row at fault is an event as well, where it says when: so that what comes after it for its containers is known to lean
on it (`judging.py`).
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import groupby

from inventory.containers.actions import not_before_arrival
from inventory.containers.holdings import Weighed
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.containers.states import GRADES, NO_SCALE, ContainerState
from inventory.ledger.accounts import AccountClass
from inventory.measures.days import FIRST_ENTRY, FIRST_MADE
from inventory.measures.pressure import parse_pressure
from inventory.measures.quantity import parse_water_capacity
from inventory.reference.gas_rules import LABELS
from inventory.reference.kinds import KINDS, is_oil, with_trait
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.logbook.cells import Cells, first_day
from shopledger.logbook.folder import ORDER, Faults, Folder, Row
from shopledger.logbook.further import COMES, Further
from shopledger.logbook.jobs import JobRows
from shopledger.logbook.judging import ARRIVAL, AT_ONCE, CONTENT, GRADE, TARE, Part, Trial, refusing
from shopledger.logbook.names import Names

IDENTITY = ("container", "kind", "substance", "grade")  # without these nobody knows what came
GROUP = 400  # rows of one delivery that share a voucher, at most
NO_CODES: frozenset[str] = frozenset()
FIRST = dt.datetime.combine(FIRST_ENTRY, dt.time.min)  # of what came in on a day that cannot be read


@dataclass
class Event:
    """parts: what its rows say, one each; of a job its lines. act: does to the holdings of a recorder, or of a trial,
    what some of the parts say, and returns what `Recorder.post` is told besides; `then`, where it is among that, gets
    the voucher's number. Raises RowRefused. doubts: by container what is not known of it from here on, though the row
    counts. brings: its containers come with it."""

    when: dt.datetime
    row: Row
    head: EntryHead | None
    parts: list[Part]
    act: Callable[[Recorder | Trial, list[Part]], dict] | None = None
    doubts: dict[str, set[str]] = field(default_factory=dict)
    brings: bool = False

    @property
    def order(self) -> tuple:
        return (self.when, ORDER[self.row.file], self.row.number)

    def run(self, recorder: Recorder, parts: list[Part]) -> None:
        """Post what these parts of it say. Raises RowRefused."""
        codes = NO_CODES if self.brings else NO_CODES.union(*(part.codes for part in parts))
        recorder.load(codes)
        for part in () if self.brings else parts:
            with refusing(self.row, part, sure=True):
                not_before_arrival(recorder, part.codes, self.head.day)
        with refusing(self.row):
            recorder.open(self.head, codes)
        said = self.act(recorder, parts)
        then = said.pop("then", None)
        with refusing(self.row):
            number = recorder.post(self.head, **said)
        if then:
            then(number)


@dataclass(frozen=True)
class Does:
    """What a row of a file of single rows does. codes: the containers it names. said: what its voucher says of itself.
    run: gets the recorder, and answers with the voucher's detail, where it has one. needs: the columns without which it
    cannot be run. spoils: as `Part` has it."""

    codes: set[str]
    said: dict[str, str]
    run: Callable[[Recorder | Trial], dict | None]
    needs: tuple[str, ...]
    spoils: str = CONTENT


class Events:
    """Reads the rows of all files. leaning: those that lean on a row at fault and can be no part of an event. unheard:
    containers that came in with a row that cannot be read, as far as others name them."""

    def __init__(self, folder: Folder, names: Names, faults: Faults, today: dt.date, known: dict[str, bool]):
        self.folder, self.names, self.faults, self.today = folder, names, faults, today
        self.leaning: set[tuple[str, int]] = set()
        self.unheard: set[str] = set()
        self.oils: dict[str, bool | None] = dict(known)  # code: whether it is for oil, None where nobody knows
        shop = Shop.current()
        self.zone, self.currency = shop.zone, shop.currency
        self._announce()
        self.jobs, self.further = JobRows(self), Further(self)
        self.found = sorted(self._all(), key=lambda event: event.order)

    def _announce(self) -> None:
        """Every container that the log brings in, so that a row naming another is a fault wherever it stands."""
        files = ("opening.csv", "receipts.csv", "apart.csv")
        for name in files:
            for row in self.folder.of(name):
                if name == "apart.csv" and row["act"] not in COMES:
                    continue
                kind, code = row["kind"], row["container"]
                for word in row.words:
                    self.oils.setdefault(word, None)
                if code:
                    self.oils.setdefault(code, is_oil(kind) if kind in KINDS else None)
        self.all_announced = all(self.folder.tells_all(name, "container") for name in files)

    def cells(self, row: Row) -> Cells:
        return Cells(row, self.faults, self.today)

    def container(self, cells: Cells, column: str = "container", *, needed: bool = True) -> str:
        code = cells.text(column, needed=needed, most=60)
        if code and not self.is_announced(code):
            said = f"{code[:60]!r} came in with no row of opening.csv or receipts.csv; mend the code."
            cells.fault(column, said)
        return code

    def is_announced(self, code: str) -> bool:
        if code in self.oils:
            return True
        if not self.all_announced:
            self.unheard.add(code)
        return not self.all_announced

    def unreadable(self, row: Row) -> Event:
        """Of a row whose cells stand under no column for sure: it may have done anything to what it names."""
        codes = frozenset(word for word in row.words if word in self.oils)
        at = next(filter(None, map(first_day, row.words)), AT_ONCE)
        return self.spoiling(row, at, codes)

    def spoiling(self, row: Row, when: dt.datetime | None, codes: frozenset[str]) -> Event:
        """Of a row that cannot be run: from its day on, nobody knows how its containers stand."""
        parts = [Part(row, codes, False, spoils) for spoils in (CONTENT, GRADE)]
        return Event(when or AT_ONCE, row, None, parts)

    def _all(self) -> Iterator[Event]:
        yield from self._arrivals("opening.csv")
        yield from self._arrivals("receipts.csv")
        yield from self._simple("moves.csv", self._move)
        yield from self._simple("decants.csv", self._decant)
        yield from self.jobs.events()
        yield from self._simple("regrades.csv", self._regrade)
        yield from self._simple("counts.csv", self._count)
        yield from self.further.shipments()
        yield from self._simple("losses.csv", self.further.lose)
        yield from self._simple("tares.csv", self.further.tare)
        yield from self.further.apart()
        yield from self._simple("retirements.csv", self._retire)

    # -- arrivals --------------------------------------------------------------------------------

    def _arrivals(self, name: str) -> Iterator[Event]:
        read = [(cells, self._arrival(cells)) for cells in map(self.cells, self.folder.of(name))]
        coming = []
        for cells, arrival in read:
            if cells.known("date", *IDENTITY):
                coming.append((cells, *arrival))
            else:
                yield self._faulty_arrival(cells, arrival)
        coming.sort(key=lambda item: (item[1], item[0].row.number))

        def same(item) -> tuple:
            row, when = item[0].row, item[1]
            alone = row.number if name == "receipts.csv" and not (row["document"] or row["entry"]) else None
            return when, row["document"], row["supplier"], row["received_by"], row["entry"], row["note"], alone

        for _, group in groupby(coming, key=same):
            rows = list(group)
            for start in range(0, len(rows), GROUP):
                yield self._arrival_event(name, rows[start : start + GROUP])

    def _arrival(self, cells: Cells) -> tuple[dt.datetime | None, ContainerState, int, dict]:
        when = cells.when()
        code = cells.text("container", needed=True, most=60)
        kind = cells.one_of("kind", KINDS)
        substance, oil = cells.substance()
        grade = cells.one_of("grade", GRADES, needed=False)
        measure = oil or is_oil(kind) if substance or kind else None
        net = 0 if cells.is_nothing("net") else cells.quantity("net", oil=measure) or 0
        location, tare = cells.text("location", most=100), cells.quantity("tare")
        held = ContainerState(code, kind, substance, oil, grade, "" if "location" in cells.bad else location, tare)
        extra = {
            "water_capacity_mg": cells.parsed("water_capacity", parse_water_capacity),
            "retest_due": cells.day("retest_due", first=FIRST_MADE),
            "supplier_number": cells.text("supplier_number", most=60),
            **self._marks(cells),
        }
        if cells.row.file == "receipts.csv":
            extra["price_minor"] = cells.price(self.currency)
            cells.text("document", most=200)
            self.names.party(cells, "supplier", "supplier")
            self.names.person(cells, "received_by")
        if not substance and (net or kind not in with_trait("refillable")) and cells.known("substance", "kind", "net"):
            cells.fault("substance", "name what is in the container, e.g. R-134a or PAG 46.")
        if is_oil(kind):
            held.tare = None  # an oil is counted by volume: its bottle's weight says nothing
        return when, held, net, extra

    def _marks(self, cells: Cells) -> dict[str, object]:
        """What is stamped on a container or stands on its label, and its deposit; only what is said."""
        found = {
            "test_pressure_kpa": cells.parsed("test_pressure", parse_pressure),
            "stamped_most_mg": cells.quantity("stamped_most"),
            "deposit_minor": cells.price(self.currency, "deposit"),
            "label_says": cells.one_of("label_says", LABELS, needed=False),
            "batch": cells.text("batch", most=60),
            "facility": cells.text("facility", most=200),
            "label_statement": cells.one_of("label_statement", ["yes"], needed=False) == "yes",
        }
        return {name: value for name, value in found.items() if value not in (None, "", False)}

    def _faulty_arrival(self, cells: Cells, arrival: tuple[dt.datetime | None, ContainerState, int, dict]) -> Event:
        """Of a row at fault. Its container is here all the same, as far as it can be read what came; else nothing that
        is done to it can be judged."""
        when, held, net, extra = arrival
        if not cells.known(*IDENTITY):
            codes = [held.code] if cells.known("container") else [word for word in cells.row.words if word in self.oils]
            return Event(AT_ONCE, cells.row, None, [Part(cells.row, frozenset(codes) - {""}, False, ARRIVAL)])
        return self._arrival_event(cells.row.file, [(cells, when or FIRST, held, net, extra)])

    def _arrival_event(self, name: str, rows: list) -> Event:
        first, when = rows[0][0], rows[0][1]
        source = AccountClass.OPENING if name == "opening.csv" else AccountClass.SUPPLIER
        kind = "opening" if name == "opening.csv" else "receipt"
        supplier = self.names.party_code(first.said("supplier"), "supplier")  # the same in all rows of a delivery
        coming = {cells.row.number: (held, net, besides) for cells, _, held, net, besides in rows}

        def act(recorder: Recorder | Trial, parts: list[Part]) -> dict:
            here = {}
            for part in parts:
                held, net, here[held.code] = coming[part.row.number]
                with refusing(part.row):
                    recorder.holdings.arrive(held, net, source, supplier)
            return {"besides": here, "detail": {"supplier": supplier} if supplier else {}}

        said = {"by": first.said("received_by"), "document": first.said("document"), "note": first.said("note")}
        head = self.head(kind, when, **said)
        parts = [Part(cells.row, frozenset([held.code]), True, ARRIVAL) for cells, _, held, _, _ in rows]
        doubts = {held.code: _unknown(cells) for cells, _, held, _, _ in rows if cells.bad}
        return Event(when, first.row, head, parts, act, doubts, brings=True)

    # -- events of one row -----------------------------------------------------------------------

    def _simple(self, name: str, read: Callable[[Cells], Does]) -> Iterator[Event]:
        for row in self.folder.of(name):
            if row.words:
                yield self.unreadable(row)
                continue
            cells = self.cells(row)
            when, does = cells.when(), read(cells)
            codes, able = frozenset(does.codes - {""}), when is not None and cells.known(*does.needs)
            if able:
                head = self.head(when=when, **{**_besides(cells), **does.said})
                yield Event(when, row, head, [Part(row, codes, True, does.spoils)], self._acting(row, does.run))
            elif does.spoils:
                yield self.spoiling(row, when, codes)

    def _acting(
        self, row: Row, run: Callable[[Recorder | Trial], dict | None]
    ) -> Callable[[Recorder | Trial, list[Part]], dict]:
        def act(recorder: Recorder | Trial, _parts: list[Part]) -> dict:
            with refusing(row):
                return {"detail": run(recorder)}

        return act

    def head(self, kind: str, when: dt.datetime, *, by: str = "", document: str = "", note: str = "") -> EntryHead:
        """What the voucher of an event says of itself. A date alone counts as 00:00."""
        at = when.replace(tzinfo=self.zone)
        return EntryHead(kind, when.date(), "load_log", done_by=by, document=document, note=note, at=at)

    def _move(self, cells: Cells) -> Does:
        code, to = self.container(cells), cells.text("to_location", needed=True, most=100)
        self.names.person(cells, "by")

        def run(recorder: Recorder | Trial) -> None:
            recorder.holdings.move(code, to)

        said = {"kind": "move", "by": cells.said("by")}
        return Does({code}, said, run, ("container", "to_location"), spoils="")

    def weights(self, cells: Cells, *, oil: bool | None = False) -> dict[str, int | None]:
        return {name: cells.quantity(name, oil=oil) for name in ("before", "after", "quantity")}

    def _decant(self, cells: Cells) -> Does:
        source, into = self.container(cells, "from"), self.container(cells, "to")
        scale, given = self.names.scale(cells), self.weights(cells)
        self.names.person(cells, "by")
        weighed = given["before"] is not None or given["after"] is not None
        if cells.known(*given) and weighed == (given["quantity"] is not None):
            cells.fault("quantity", "give the weights before and after of the container it left, or the quantity.")
        if cells.known(*given) and weighed and None in (given["before"], given["after"]):
            missing = "before" if given["before"] is None else "after"
            cells.fault(missing, "this weight is missing; give both, before and after.")

        def run(recorder: Recorder | Trial) -> None:
            recorder.holdings.decant(source, into, Weighed(**given, scale=recorder.scale(scale)))

        said = {"kind": "decant", "by": cells.said("by")}
        return Does({source, into}, said, run, ("from", "to", *given))

    def _regrade(self, cells: Cells) -> Does:
        code, grade = self.container(cells), cells.one_of("grade", GRADES)
        cells.text("note", most=2000)
        self.names.person(cells, "by")

        by_machine = {name: cells.text(name, most=300) for name in ("machine", "standard")}

        def run(recorder: Recorder | Trial) -> dict | None:
            recorder.holdings.regrade(code, grade, again=True)  # moves nothing where it has it, as a move
            return {name: value for name, value in by_machine.items() if value} or None

        said = {"kind": "regrade", "by": cells.said("by"), "note": cells.said("note")}
        return Does({code}, said, run, ("container", "grade"), spoils=GRADE)

    def _count(self, cells: Cells) -> Does:
        code, scale = self.container(cells), self.names.scale(cells)
        oil = self.oils.get(code)
        gross = cells.quantity("gross", oil=oil, needed=True)
        cells.text("note", most=2000)
        self.names.person(cells, "by")

        def run(recorder: Recorder | Trial) -> None:
            recorder.holdings.count(code, gross, NO_SCALE if oil else recorder.scale(scale))

        said = {"kind": "count", "by": cells.said("by"), "note": cells.said("note")}
        return Does({code}, said, run, ("container", "gross"))

    def _retire(self, cells: Cells) -> Does:
        code, residue = self.container(cells), cells.text("residue", most=60)
        into = residue if residue != "lost" else ""
        if into and not self.is_announced(into):
            cells.fault("residue", f"{into[:60]!r} is no container of this log; write lost, or the code that took it.")
        self.names.person(cells, "by")
        taker = self.names.party(cells, "taken_by", "") if cells.said("taken_by") else ""
        proof = {"taken_by": taker} if taker else {}
        proof |= {"statement": True} if cells.one_of("statement", ["yes"], needed=False) else {}

        def run(recorder: Recorder | Trial) -> dict:
            held = recorder.holdings.containers.get(code)
            if not residue and held is not None and held.balance:
                raise Refused(
                    f"{code} still holds {held.said(held.balance)}; write lost, or the code of what took it.",
                    "residue",
                )
            left = recorder.holdings.retire(code, into)
            return {"containers": {code: left}, "into": into, **proof}

        said = {"kind": "retirement", "by": cells.said("by")}
        return Does({code, into}, said, run, ("container", "residue"))


def _besides(cells: Cells) -> dict[str, str]:
    """What any voucher may say of itself."""
    return {name: cells.said(name) for name in ("document", "note")}


def _unknown(cells: Cells) -> set[str]:
    """What is not known of a container whose arrival is at fault."""
    return {what for column, what in (("net", CONTENT), ("tare", TARE)) if column in cells.bad}
