"""Machines that are not approved for what they were used on, and machines of which the authority was not told."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.machines.models import Machine
from inventory.machines.queries import Run, runs_of, said_of, with_copy
from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.verdicts.machine import MachineUsed, machine_approved, machine_stated
from inventory.verdicts.verdict import Verdict
from jobs.units.models import Unit
from shopledger.findings.finding import Finding
from shopledger.reporting.report import Period


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    if rules.sections["machine"]:
        yield from _approved(period, rules)
    if rules.sections["machine_statement"]:
        yield from _stated(period, rules)


def _approved(period: Period, rules: Rulebook) -> Iterator[Finding]:
    """One finding for each machine, work and refrigerant: the latest voucher by which it did that."""
    runs = runs_of(period.first, period.last)
    units = Unit.objects.filter(code__in={run.unit for run in runs} - {""})
    equipment = {unit.code: unit.equipment for unit in units}
    found: dict[tuple, tuple[Run, Verdict]] = {}
    for run in runs:
        where = equipment.get(run.unit) if run.unit else _usual(run.machine)
        if where == "":
            continue
        why = machine_approved(rules, MachineUsed(run.machine.met, run.does, where, run.substance), run.day)
        if why.is_breach or why.is_open:
            found[run.machine.pk, run.does, run.substance] = run, why
    for run, why in found.values():
        yield _finding("medium" if why.is_breach else "low", "machine", run.machine, why, f"voucher {run.voucher}: ")


def _usual(machine: Machine) -> str | None:
    """The equipment that a machine is for, where a run does not name a unit: blank for none that rules ask of."""
    used_on = machine.equipment
    return None if used_on is None else next(iter(used_on), "")


def _stated(period: Period, rules: Rulebook) -> Iterator[Finding]:
    machines = list(Machine.objects.filter(retired_on=None).select_related("container"))
    shop, copies = Shop.current(), with_copy(machines)
    for one in machines:
        why = machine_stated(rules, one.equipment, said_of(one, shop, one.pk in copies), period.last)
        if why is not None and (why.is_breach or why.is_open):
            yield _finding("medium" if why.is_breach else "low", "machine statement", one, why, "")


def _finding(severity: str, rule: str, machine: Machine, why: Verdict, before: str) -> Finding:
    what = f"{machine}, {before}{why.said}" if before else f"{machine}: {why.said}"
    return Finding(severity, rule, why.cited, what, reverse("machine", args=[machine.pk]), verdict=why)
