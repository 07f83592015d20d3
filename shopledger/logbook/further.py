"""What leaves, what is kept apart and what is put right: rows of a log that say more than one thing of a container."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import groupby
from typing import TYPE_CHECKING

from inventory.containers.holdings import PURPOSES, Weighed
from inventory.containers.recorder import Recorder
from inventory.containers.states import GRADES, NO_SCALE, ContainerState
from inventory.ledger.accounts import AccountClass
from inventory.measures.days import FIRST_MADE
from inventory.measures.quantity import parse_water_capacity
from inventory.reference.kinds import KINDS
from inventory.releases.causes import ALL, ESTIMATED, OTHER, WEIGHED, cause_called
from inventory.text.refusal import Refused
from shopledger.logbook.cells import Cells
from shopledger.logbook.judging import ARRIVAL, AT_ONCE, Part, Trial, refusing
from shopledger.logbook.names import PARTY_ROLES

if TYPE_CHECKING:
    from shopledger.logbook.events import Does, Event, Events

ACTS = ("taken in", "found", "set apart", "given back", "identified")
COMES = {"taken in": "taking-in", "found": "found"}
KINDS_OF = {**COMES, "set apart": "setting-apart", "given back": "giving-back", "identified": "identification"}
SALE = ("sale_end", "sale_equipment", "sale_use", "sale_seen")


class Further:
    """Reads these rows for `Events`."""

    def __init__(self, reader: Events):
        self.reader, self.names = reader, reader.names

    # -- what is sent away ---------------------------------------------------------------------------

    def shipments(self) -> Iterator[Event]:
        """Rows of one entry are one voucher; a row without is one of its own."""
        read = []
        for row in self.reader.folder.of("shipments.csv"):
            if row.words:
                yield self.reader.unreadable(row)
                continue
            cells = self.reader.cells(row)
            when, does = cells.when(), self._ship(cells)
            if when is not None and cells.known(*does.needs):
                read.append((when, does, row))
            else:
                yield self.reader.spoiling(row, when, frozenset(does.codes - {""}))
        read.sort(key=lambda item: (item[0], item[2].number))
        for _, group in groupby(read, key=lambda item: (item[0], item[2]["entry"] or item[2].number)):
            yield self._shipment(list(group))

    def _shipment(self, rows: list[tuple[dt.datetime, Does, object]]) -> Event:
        from shopledger.logbook.events import Event

        when, first, row = rows[0]
        doing = {one.number: does for _, does, one in rows}

        def act(recorder: Recorder | Trial, parts: list[Part]) -> dict:
            said: dict = {}
            for part in parts:
                with refusing(part.row):
                    more = doing[part.row.number].run(recorder)
                more["containers"] = {**said.get("containers", {}), **more["containers"]}
                said |= more
            return {"detail": said}

        head = self.reader.head(when=when, **first.said)
        return Event(when, row, head, [Part(one, frozenset(does.codes - {""})) for _, does, one in rows], act)

    def _ship(self, cells: Cells) -> Does:
        from shopledger.logbook.events import Does

        code, purpose = self.reader.container(cells), cells.one_of("purpose", PURPOSES)
        party = self.names.party(cells, "party", PARTY_ROLES.get(purpose, ""))
        quantity = cells.quantity("quantity", oil=self.reader.oils.get(code))
        goes = cells.one_of("goes", ["yes"], needed=False) == "yes"
        cells.text("document", most=200)
        cells.text("note", most=2000)
        self.names.person(cells, "by")
        sale = {name.removeprefix("sale_"): cells.said(name) for name in SALE if cells.said(name)}
        if "seen" in sale:
            sale["seen"] = sale["seen"].split()

        def run(recorder: Recorder | Trial) -> dict:
            sent = recorder.holdings.ship(code, purpose, party, quantity)
            if goes:
                recorder.holdings.retire(code)
                if isinstance(recorder, Recorder):  # its deposit is given back, as by the page
                    recorder.rows.by_code[code].deposit_back_on = recorder.holdings.on
            more = {"sale": sale} if sale else {}
            return {"party": party, "purpose": purpose, "containers": {code: sent}, **more}

        said = {"kind": "shipment", "document": cells.said("document"), "note": cells.said("note")}
        return Does({code}, said | {"by": cells.said("by")}, run, ("container", "purpose", "quantity"))

    # -- what got out, and what a container weighs empty ---------------------------------------------

    def lose(self, cells: Cells) -> Does:
        from shopledger.logbook.events import Does

        code, cause = self.reader.container(cells), cells.text("cause", needed=True)
        oil = self.reader.oils.get(code)
        scale, given = self.names.scale(cells), self.reader.weights(cells, oil=oil)
        if cells.known("before", "after") and given["before"] is not None and given["after"] is None:
            cells.fault("after", "the weight before alone does not tell how much got out; give the one after as well.")
        cells.text("note", most=2000)
        self.names.person(cells, "by")
        known = cause_called(cause)

        def run(recorder: Recorder | Trial) -> dict:
            holdings, quantity = recorder.holdings, given["quantity"]
            seen = None if given["after"] is None else recorder.scale(scale)
            if seen and quantity is not None:
                lost = holdings.lose(code, Weighed(quantity=quantity))
                holdings.count(code, given["after"], seen)
            elif quantity == 0 and not seen:
                lost, quantity = holdings.lose_nothing(code), None
            else:
                lost = holdings.lose(code, Weighed(**given, scale=seen))
            how = WEIGHED if seen else ALL if quantity is None else ESTIMATED
            return {"cause": known or OTHER, "how": how, "containers": {code: lost}}

        note = " ".join(filter(None, ["" if known else cells.said("cause"), cells.said("note")]))
        said = {"kind": "release", "by": cells.said("by"), "note": note}
        return Does({code}, said, run, ("container", *given))

    def tare(self, cells: Cells) -> Does:
        from shopledger.logbook.events import Does

        code, tare = self.reader.container(cells), cells.quantity("tare", needed=True)
        cells.text("note", most=300)
        self.names.person(cells, "by")

        def run(recorder: Recorder | Trial) -> dict:
            held = recorder.holdings.containers.get(code)
            old = held.tare if held else None
            with refusing(cells.row):
                _of_column(lambda: recorder.holdings.set_tare(code, tare), {"code": "container", "tare_mg": "tare"})
            return {"tare": {"container": code, "old_mg": old, "new_mg": tare}}

        said = {"kind": "tare", "by": cells.said("by"), "note": cells.said("note")}
        return Does({code}, said, run, ("container", "tare"))

    # -- what is kept apart --------------------------------------------------------------------------

    def apart(self) -> Iterator[Event]:
        from shopledger.logbook.events import Event

        for row in self.reader.folder.of("apart.csv"):
            if row.words:
                yield self.reader.unreadable(row)
                continue
            cells = self.reader.cells(row)
            when, act, code = cells.when(), cells.one_of("act", ACTS), self.reader.container(cells)
            run = self._acts(cells, act, code)
            brings = act in COMES
            if when is None or not cells.whole:
                spoils = [Part(row, frozenset({code}) - {""}, False, ARRIVAL)]
                yield Event(AT_ONCE, row, None, spoils) if brings else self.reader.spoiling(row, when, spoils[0].codes)
                continue
            said = {"by": cells.said("by"), "note": cells.said("note")}
            head = self.reader.head(KINDS_OF[act], when, **said)
            parts = [Part(row, frozenset({code}), True, ARRIVAL if brings else "content")]
            yield Event(when, row, head, parts, self._acting(row, run), brings=brings)

    def _acting(self, row, run):
        def act(recorder: Recorder | Trial, _parts: list[Part]) -> dict:
            with refusing(row):
                return run(recorder)

        return act

    def _acts(self, cells: Cells, act: str, code: str):
        """What a row does. Its cells are read whatever it is, so that all faults are found."""
        gross, tare, scale = cells.quantity("gross"), cells.quantity("tare"), self.names.scale(cells)
        substance, _ = cells.substance()
        grade = cells.one_of("grade", GRADES, needed=False)
        kind = cells.one_of("kind", KINDS, needed=act in COMES)
        owner = self.names.customer_code(cells)
        place = cells.text("location", most=100)
        besides = {
            "water_capacity_mg": cells.parsed("water_capacity", parse_water_capacity),
            "retest_due": cells.day("retest_due", first=FIRST_MADE),
        }
        stays = cells.one_of("stays", ["yes"], needed=False) == "yes"
        cells.text("note", most=2000)
        self.names.person(cells, "by")
        if act in COMES and gross is None:
            cells.fault("gross", "the weight of the cylinder as it came is needed.")

        def run(recorder: Recorder | Trial) -> dict:
            holdings, seen = recorder.holdings, NO_SCALE if gross is None else recorder.scale(scale)
            if act == "taken in":
                held = ContainerState(code, kind, substance, False, grade, place, tare)
                holdings.arrive(held, max(0, gross - (tare or 0)), AccountClass.CUSTOMER, owner)
                holdings.count(code, gross, seen)
                return {"besides": {code: besides}, "detail": {"customer": owner}}
            if act == "found":
                holdings.find(ContainerState(code, kind, "", False, "", place, None), gross, seen)
                return {"besides": {code: besides}, "detail": {"gross_mg": gross}}
            if act == "set apart":
                holdings.keep_for(code, owner, again=True)
                return {"detail": {"customer": owner} if owner else {"ended": True}}
            if act == "given back":
                holdings.give_back(code, stays)
                return {"detail": {"customer": owner}}
            weighed = None if gross is None else (gross, seen)
            if tare is None:
                raise Refused("Say what it weighs empty; only so its weight tells what is in it.", "tare")
            holdings.identify(code, substance, grade or "recovered", tare, weighed)
            more = {name: cells.said(name) for name in ("identified_by", "purity_percent", "tare_was")}
            return {"detail": {name: value for name, value in more.items() if value}}

        return run


def _of_column(act, columns: dict[str, str]) -> None:
    """Do something; a refusal of a field names the column."""
    try:
        act()
    except Refused as refused:
        refused.field = columns.get(refused.field, refused.field)
        raise
