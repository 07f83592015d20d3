"""Whom and what a log tells more of than a name: customers, premises, units, how their leak rates are worked out; and
once the events are loaded, machines, checks of scales, machines and containers, what happened about leaks, why
weighings differed."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import TYPE_CHECKING

from inventory.containers.entries import moment
from inventory.containers.leak_checks import check_for_leaks
from inventory.containers.models import Container, Scale, Weighing
from inventory.counting.actions import explain
from inventory.counting.models import REASONS
from inventory.machines.actions import CheckMade as MachineCheckMade
from inventory.machines.actions import check_machine
from inventory.machines.models import Machine
from inventory.measures.days import FIRST_MADE
from inventory.scales.actions import CheckMade, check_scale
from inventory.scales.models import ScaleCheck
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.leaks.actions import add_leak_event
from jobs.leaks.models import LeakEvent
from jobs.units.actions import add_customer, add_unit
from jobs.units.models import Customer, FullCharge, LeakRateMethod, Premises, Unit
from jobs.units.premises import ChargeFound, add_premises, set_full_charge, set_method
from shopledger.logbook.cells import Cells
from shopledger.logbook.plain_fields import read_fields
from shopledger.logbook.wider import FULL_CHARGE, LEAK_EVENT, MACHINE, SCALE_CHECK, UNIT

if TYPE_CHECKING:
    from shopledger.logbook.names import Names

YES_NO = {"passed", "all_leaks", "evacuated"}  # of leak events: what was not asked is another thing than no


class Register:
    """Reads these rows; each is told to the action that a page would call."""

    def __init__(self, names: Names):
        self.names, self.folder = names, names.folder
        self.customers: dict[str, Customer] = {}
        self.premises: dict[str, Premises] = {}
        self.machines: dict[str, Machine] = {}  # by serial number

    def before(self) -> None:
        """What events name."""
        self._each("customers.csv", self._customer)
        self._each("premises.csv", self._premises)
        self._each("methods.csv", self._method)
        self._each("units.csv", self._unit)
        self._each("full_charges.csv", self._full_charge)

    def after(self, zone) -> None:
        """What names events, once they are written."""
        self.zone = zone
        until = dict(Scale.objects.values_list("code", "checked_until"))
        self._each("scale_checks.csv", self._scale_check)
        for row in {row["scale"] for row in self.folder.of("scale_checks.csv")}:
            scale = Scale.objects.filter(code=row).first()
            if scale is not None and scale.checked_until != until.get(row):
                scale.checked_until = until.get(row)
                scale.save(update_fields=["checked_until"])
        self._each("machines.csv", self._machine)
        self._each("machine_checks.csv", self._machine_check)
        self._each("container_checks.csv", self._container_check)
        self._each("leak_events.csv", self._leak_event)
        self._each("reasons.csv", self._reason)

    def _each(self, name: str, do: Callable[[Cells], None]) -> None:
        for row in self.folder.of(name):
            cells = Cells(row, self.names.faults, self.names.today)
            if row.words:
                continue
            try:
                do(cells)
            except Refused as refused:
                column = refused.field if refused.field in row.cells else next(iter(row.cells), "file")
                cells.fault(column, refused.message)

    def _known(self, cells: Cells, column: str, known: dict, what: str) -> object | None:
        key = cells.text(column, needed=True, most=150)
        if key in known:
            return known[key]
        if cells.known(column):
            cells.fault(column, f"{key[:60]!r} is not in {what}; add a row, or mend it.")
        return None

    def _new(self, cells: Cells, column: str, known: dict) -> str:
        key = cells.text(column, needed=True, most=150)
        if key in known:
            cells.fault(column, f"{key[:60]} stands above already; each has one row.")
        return key

    # -- before the events ---------------------------------------------------------------------------

    def _customer(self, cells: Cells) -> None:
        key = self._new(cells, "customer", self.customers)
        said = {name: cells.text(name, most=10_000) for name in ("phone", "address", "note")}
        name = cells.text("name", needed=True, most=150)
        if cells.whole:
            self.customers[key] = add_customer(by=None, name=name, **said)
            self.names.called(key, self.customers[key])

    def _premises(self, cells: Cells) -> None:
        key = self._new(cells, "premises", self.premises)
        customer = self._known(cells, "customer", self.customers, "customers.csv")
        said = {name: cells.text(name, most=10_000) for name in ("name", "address", "note")}
        if cells.whole:
            self.premises[key] = add_premises(customer, by=None, **said)

    def _method(self, cells: Cells) -> None:
        premises = self._known(cells, "premises", self.premises, "premises.csv")
        said = read_fields(cells, LeakRateMethod, ("method", "from_day", "reason"))
        if cells.whole:
            set_method(premises, by=None, **said)

    def _unit(self, cells: Cells) -> None:
        key = self._new(cells, "unit", self.names.registered)
        customer = self._known(cells, "customer", self.customers, "customers.csv") if cells.said("customer") else None
        place = self._known(cells, "premises", self.premises, "premises.csv") if cells.said("premises") else None
        said = read_fields(cells, Unit, UNIT)
        if cells.whole:
            self.names.registered[key] = add_unit(by=None, customer=customer, premises=place, **said)

    def _full_charge(self, cells: Cells) -> None:
        unit = self._known(cells, "unit", self.names.registered, "units.csv")
        said = read_fields(cells, FullCharge, FULL_CHARGE)
        if cells.whole:
            ends = {name: said.get(name) for name in ("range_least_mg", "range_most_mg")}
            mg = None if said.get("how") == "range" else said.get("mg")
            found = ChargeFound(said.get("how", ""), mg, **ends)
            set_full_charge(unit, by=None, found=found, from_day=said["from_day"], reason=said.get("reason", ""))

    # -- after them ----------------------------------------------------------------------------------

    def _scale_check(self, cells: Cells) -> None:
        scale = Scale.objects.filter(code=cells.text("scale", needed=True, most=40)).first()
        if scale is None:
            cells.fault("scale", "this scale is not in scales.csv; add a row, or mend the code.")
        said = read_fields(cells, ScaleCheck, ("day", *SCALE_CHECK))
        if cells.whole:
            by = said.pop("by", "")
            check_scale(scale=scale, check=CheckMade(**said), by=by, key=uuid.uuid4())

    def _machine(self, cells: Cells) -> None:
        serial = self._new(cells, "serial", self.machines)
        for name in ("made_on", "statement_sent_on", "retired_on"):
            cells.day(name, first=FIRST_MADE)
        for name in ("make", "model"):
            cells.text(name, needed=True, most=60)
        said = read_fields(cells, Machine, MACHINE)
        code = cells.text("container", most=60)
        tank = Container.objects.filter(code=code, void=False).first() if code else None
        if code and (tank is None or not tank.traits.recycles):
            cells.fault("container", f"{code[:60]!r} is no machine's tank in this log; mend it, or leave it blank.")
        elif tank and Machine.objects.filter(container=tank).exists():
            cells.fault("container", f"{code} is the tank of another machine already; mend one of the two.")
        if cells.known("serial") and Machine.objects.filter(serial=serial).exists():
            cells.fault("serial", f"a machine with the serial number {serial} is known already; take the row out.")
        if cells.whole:
            self.machines[serial] = Machine.objects.create(container=tank, **said)

    def _machine_check(self, cells: Cells) -> None:
        machine = self._known(cells, "serial", self.machines, "machines.csv")
        day, next_due = cells.day("day"), cells.day("next_due")
        passed, who = cells.one_of("passed", ["yes", "no"]) == "yes", cells.text("by", most=150)
        note = cells.text("note", most=300)
        if day is None and cells.known("day"):
            cells.fault("day", "this is blank; write the day of the check as 2026-03-02.")
        if cells.whole:
            check_machine(
                machine=machine, check=MachineCheckMade(day, passed, next_due, note), by=who, key=uuid.uuid4()
            )

    def _container_check(self, cells: Cells) -> None:
        code, day = cells.text("container", needed=True, most=60), cells.day("day")
        leaks, who = cells.one_of("leaks", ["yes", "no"]) == "yes", cells.text("by", most=150)
        note = cells.text("note", most=300)
        if day is None and cells.known("day"):
            cells.fault("day", "this is blank; write the day of the check as 2026-03-02.")
        if cells.whole:
            check_for_leaks(codes=[code], day=day, leaks=leaks, note=note, by=who, key=uuid.uuid4())

    def _leak_event(self, cells: Cells) -> None:
        unit = self._known(cells, "unit", self.names.registered, "units.csv")
        said = read_fields(cells, LeakEvent, [name for name in LEAK_EVENT if name not in YES_NO])
        for name in YES_NO:
            answer = cells.one_of(name, ["yes", "no"], needed=False)
            said |= {name: answer == "yes"} if answer else {}
        number = cells.text("job", most=60)
        said["job"] = Job.objects.filter(number=number, state="signed").first() if number else None
        said["person"] = self.names.person(cells, "person")
        if cells.whole:
            add_leak_event(unit, by=None, **said)

    def _reason(self, cells: Cells) -> None:
        when, code = cells.when(), cells.text("container", needed=True, most=60)
        role, reason = cells.text("role", needed=True, most=8), cells.one_of("reason", REASONS)
        note, by = cells.text("note", most=300), cells.text("by", most=150)
        if not cells.whole:
            return
        at = moment(when.replace(tzinfo=self.zone))
        found = Weighing.objects.filter(container__code=code, role=role, restates=None, position__contains=f" {at} ")
        weighing = found.order_by("id").first()
        if weighing is None:
            cells.fault(
                "date", f"no weighing of {code} at that moment is in this log; mend the date, or the container."
            )
            return
        explain(weighing_id=weighing.pk, reason=reason, note=note, by=by)
