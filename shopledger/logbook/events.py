"""The events of a log, each a row (or rows) that is posted as one voucher, in the order they happened."""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import groupby

from inventory.containers.actions import not_before_arrival
from inventory.containers.holdings import PURPOSES, Weighed
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.containers.states import GRADES, NO_SCALE, ContainerState
from inventory.ledger.accounts import AccountClass
from inventory.measures.quantity import parse_water_capacity
from inventory.reference.kinds import KINDS, is_oil, with_trait
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.logbook.cells import Cells
from shopledger.logbook.folder import ORDER, Faults, Folder, Row
from shopledger.logbook.jobs import JobRows
from shopledger.logbook.names import PARTY_ROLES, Names

GROUP = 400  # rows of one delivery that share a voucher, at most


class RowRefused(Exception):
    """A refusal, with the row it belongs to and the column."""

    def __init__(self, row: Row, column: str, message: str):
        super().__init__(message)
        self.row, self.column, self.message = row, column, message


@dataclass
class Event:
    """run: does it, and raises RowRefused. codes: the containers it touches. whole: its cells could be read."""

    when: dt.datetime
    row: Row
    codes: set[str]
    run: Callable[[Recorder], None] | None
    more: list[Row] = field(default_factory=list)

    @property
    def order(self) -> tuple:
        return (self.when, ORDER[self.row.file], self.row.number)


class Events:
    """Reads the rows of all files. `doubtful`: containers whose state is not known, since a row was at fault."""

    def __init__(self, folder: Folder, names: Names, faults: Faults, today: dt.date, known: dict[str, bool]):
        self.folder, self.names, self.faults, self.today = folder, names, faults, today
        self.doubtful: set[str] = set()
        self.oils = dict(known)  # code: whether it is for oil
        shop = Shop.current()
        self.zone, self.currency = shop.zone, shop.currency
        self._announce()
        self.jobs = JobRows(self)
        self.found = sorted(self._all(), key=lambda event: event.order)

    def _announce(self) -> None:
        """Every container that the log brings in, so that a row naming another is a fault wherever it stands."""
        for name in ("opening.csv", "receipts.csv"):
            for row in self.folder.of(name):
                self.oils.setdefault(row["container"], is_oil(row["kind"]))

    def cells(self, row: Row) -> Cells:
        return Cells(row, self.faults, self.today)

    def container(self, cells: Cells, column: str = "container", *, needed: bool = True) -> str:
        code = cells.text(column, needed=needed, most=60)
        if code and code not in self.oils:
            cells.fault(column, f"{code[:60]!r} came in with no row of opening.csv or receipts.csv; mend the code.")
        return code

    def _all(self) -> Iterator[Event]:
        yield from self._arrivals("opening.csv")
        yield from self._arrivals("receipts.csv")
        yield from self._simple("moves.csv", self._move)
        yield from self._simple("decants.csv", self._decant)
        yield from self.jobs.events()
        yield from self._simple("regrades.csv", self._regrade)
        yield from self._simple("counts.csv", self._count)
        yield from self._simple("shipments.csv", self._ship)
        yield from self._simple("retirements.csv", self._retire)

    # -- arrivals --------------------------------------------------------------------------------

    def _arrivals(self, name: str) -> Iterator[Event]:
        read = [(cells, self._arrival(cells)) for cells in map(self.cells, self.folder.of(name))]
        whole = []
        for cells, arrival in read:
            if cells.whole:
                whole.append((cells, *arrival))
            else:
                self.doubtful.add(cells.row["container"])
        whole.sort(key=lambda item: (item[1], item[0].row.number))

        def same(item) -> tuple:
            row, when = item[0].row, item[1]
            alone = row.number if name == "receipts.csv" and not row["document"] else None
            return when, row["document"], row["supplier"], row["received_by"], alone

        for _, group in groupby(whole, key=same):
            rows = list(group)
            for start in range(0, len(rows), GROUP):
                yield self._arrival_event(name, rows[start : start + GROUP])

    def _arrival(self, cells: Cells) -> tuple[dt.datetime, ContainerState, int, dict] | None:
        when = cells.when()
        code = cells.text("container", needed=True, most=60)
        kind = cells.one_of("kind", KINDS)
        substance, oil = cells.substance()
        grade = cells.one_of("grade", GRADES, needed=False)
        net = 0 if cells.is_nothing("net") else cells.quantity("net", oil=oil or is_oil(kind)) or 0
        held = ContainerState(
            code,
            kind,
            substance,
            oil,
            grade,
            cells.text("location", most=100),
            cells.quantity("tare"),
        )
        extra = {
            "water_capacity_mg": cells.parsed("water_capacity", parse_water_capacity),
            "retest_due": cells.day("retest_due"),
        }
        if cells.row.file == "receipts.csv":
            extra["price_minor"] = cells.price(self.currency)
            cells.text("document", most=200)
            self.names.party(cells, "supplier", "supplier")
            self.names.person(cells, "received_by")
        if not substance and (net or kind not in with_trait("refillable")) and cells.whole:
            cells.fault("substance", "name what is in the container, e.g. R-134a or PAG 46.")
        if is_oil(kind) and held.tare and cells.whole:
            held.tare = None  # an oil is counted by volume: its bottle's weight says nothing
        return (when, held, net, extra) if cells.whole else None

    def _arrival_event(self, name: str, rows: list) -> Event:
        first, when = rows[0][0].row, rows[0][1]
        source = AccountClass.OPENING if name == "opening.csv" else AccountClass.SUPPLIER
        kind = "opening" if name == "opening.csv" else "receipt"
        supplier = self.names.party_code(first["supplier"], "supplier")  # the same in all rows of a delivery

        def run(recorder: Recorder) -> None:
            head = self.head(kind, when, by=first["received_by"], document=first["document"])
            recorder.open(head, ())
            for cells, _, held, net, _ in rows:
                with refusing(cells.row):
                    recorder.holdings.arrive(held, net, source, supplier)
            with refusing(first):
                recorder.post(head, besides={held.code: besides for _, _, held, _, besides in rows})

        return Event(when, first, {held.code for _, _, held, _, _ in rows}, run, [r[0].row for r in rows[1:]])

    # -- events of one row -----------------------------------------------------------------------

    def _simple(self, name: str, read: Callable[[Cells], tuple[set[str], dict, Callable]]) -> Iterator[Event]:
        """read: from a row's cells the containers that it names, what its voucher says of itself, and what it does;
        that answers with the voucher's detail, where it has one."""
        for row in self.folder.of(name):
            cells = self.cells(row)
            when = cells.when()
            codes, said, run = read(cells)
            codes -= {""}
            if cells.whole:
                yield Event(when, row, codes, self._running(row, codes, self.head(when=when, **said), run))
            else:
                self.doubtful |= codes

    def _running(
        self, row: Row, codes: set[str], head: EntryHead, run: Callable[[Recorder], dict | None]
    ) -> Callable[[Recorder], None]:
        def all_of_it(recorder: Recorder) -> None:
            with refusing(row):
                recorder.load(codes)
                not_before_arrival(recorder, codes, head.day)
                recorder.open(head, codes)
                recorder.post(head, run(recorder))

        return all_of_it

    def head(self, kind: str, when: dt.datetime, *, by: str = "", document: str = "", note: str = "") -> EntryHead:
        """What the voucher of an event says of itself. A date alone counts as 00:00."""
        at = when.replace(tzinfo=self.zone)
        return EntryHead(kind, when.date(), "load_log", done_by=by, document=document, note=note, at=at)

    def _move(self, cells: Cells) -> tuple:
        code, to = self.container(cells), cells.text("to_location", needed=True, most=100)
        self.names.person(cells, "by")

        def run(recorder: Recorder) -> None:
            recorder.holdings.move(code, to)

        return {code}, {"kind": "move", "by": cells.row["by"]}, run

    def weights(self, cells: Cells, *, oil: bool = False) -> dict[str, int | None]:
        return {name: cells.quantity(name, oil=oil) for name in ("before", "after", "quantity")}

    def _decant(self, cells: Cells) -> tuple:
        source, into = self.container(cells, "from"), self.container(cells, "to")
        scale, given = self.names.scale(cells), self.weights(cells)
        self.names.person(cells, "by")
        weighed = given["before"] is not None or given["after"] is not None
        if cells.whole and weighed == (given["quantity"] is not None):
            cells.fault("quantity", "give the weights before and after of the container it left, or the quantity.")
        if cells.whole and weighed and None in (given["before"], given["after"]):
            missing = "before" if given["before"] is None else "after"
            cells.fault(missing, "this weight is missing; give both, before and after.")

        def run(recorder: Recorder) -> None:
            recorder.holdings.decant(source, into, Weighed(**given, scale=recorder.scale(scale)))

        return {source, into}, {"kind": "decant", "by": cells.row["by"]}, run

    def _regrade(self, cells: Cells) -> tuple:
        code, grade = self.container(cells), cells.one_of("grade", GRADES)
        note = cells.text("note", most=2000)
        self.names.person(cells, "by")

        def run(recorder: Recorder) -> None:
            recorder.holdings.regrade(code, grade)

        return {code}, {"kind": "regrade", "by": cells.row["by"], "note": note}, run

    def _count(self, cells: Cells) -> tuple:
        code, scale = self.container(cells), self.names.scale(cells)
        oil = self.oils.get(code, False)
        gross, note = cells.quantity("gross", oil=oil, needed=True), cells.text("note", most=2000)
        self.names.person(cells, "by")

        def run(recorder: Recorder) -> None:
            recorder.holdings.count(code, gross, NO_SCALE if oil else recorder.scale(scale))

        return {code}, {"kind": "count", "by": cells.row["by"], "note": note}, run

    def _ship(self, cells: Cells) -> tuple:
        code, purpose = self.container(cells), cells.one_of("purpose", PURPOSES)
        party = self.names.party(cells, "party", PARTY_ROLES.get(purpose, ""))
        quantity = cells.quantity("quantity", oil=self.oils.get(code, False))
        document = cells.text("document", most=200)

        def run(recorder: Recorder) -> dict:
            sent = recorder.holdings.ship(code, purpose, party, quantity)
            return {"party": party, "purpose": purpose, "containers": {code: sent}}

        return {code}, {"kind": "shipment", "document": document}, run

    def _retire(self, cells: Cells) -> tuple:
        code, residue = self.container(cells), cells.text("residue", most=60)
        into = residue if residue != "lost" else ""
        if into and into not in self.oils:
            cells.fault("residue", f"{into[:60]!r} is no container of this log; write lost, or the code that took it.")
        self.names.person(cells, "by")

        def run(recorder: Recorder) -> dict:
            held = recorder.holdings.containers.get(code)
            if not residue and held is not None and held.balance:
                raise Refused(
                    f"{code} still holds {held.said(held.balance)}; write lost, or the code of what took it.",
                    "residue",
                )
            left = recorder.holdings.retire(code, into)
            return {"containers": {code: left}, "into": into}

        return {code, into}, {"kind": "retirement", "by": cells.row["by"]}, run


class refusing:  # noqa: N801 (read as a word in a with statement)
    """Turns a refusal into one that names the row."""

    COLUMNS = {"day": "date"}

    def __init__(self, row: Row):
        self.row = row

    def __enter__(self) -> None:
        return None

    def __exit__(self, _kind, error, _trace) -> None:
        if isinstance(error, Refused):
            column = self.COLUMNS.get(error.field, error.field)
            if column not in self.row.cells:
                column = next((c for c in ("container", "from", "job", "date") if c in self.row.cells), "date")
            raise RowRefused(self.row, column, error.message) from None
