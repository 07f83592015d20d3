"""The work of a job as the rulebook is asked about it: which work, on what, by whom. Pure: no Django here."""

from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import Protocol

from inventory.reference.rule import System
from jobs.units.systems import NO, YES, Described, system_of

WORKS = {"recover": "recovering", "charge": "charging", "leak-check": "checking for leaks"}  # in the order of a job
HANDLED = {"charge", "recover"}  # entries in which refrigerant goes through a container
DISPOSAL = "disposal"


class Done(Protocol):
    """A job, as far as these questions go."""

    unit: Described
    substance: str
    charge_max_mg: int | None
    unpaid: bool
    recover_why: str


def worked_on(job: Done, full_charge_mg: int | None = None) -> System:
    """What a job worked on. full_charge_mg: as it was found, where it is known better than from the job's label."""
    marks = {"paid": NO if job.unpaid else YES, "disposal": YES if job.recover_why == DISPOSAL else NO}
    charge = job.charge_max_mg if full_charge_mg is None else full_charge_mg
    return system_of(job.unit, substance=job.substance, charge_mg=charge, marks=marks)


def designed_for(unit: Described) -> str:
    """What a unit was designed for: what is said of it, else what is in it; blank where neither is."""
    return unit.designed_for or unit.refrigerant


def works_of(actions: Iterable[str], leak_checked: bool) -> list[str]:
    """The work that was done, in the order of WORKS."""
    done = {*actions} | ({"leak-check"} if leak_checked else set())
    return [work for work in WORKS if work in done]


def handled_in(work: str) -> set[str]:
    """The entries that tell how a work was done; a check for leaks is done with whatever else was."""
    return {work} & HANDLED or HANDLED


def done_with(system: System, by_machine: Collection[bool]) -> System:
    """The system, and whether the work on it was done with an automated station. by_machine: of each container that
    was charged from or recovered into, whether it is a service machine's own; none: nobody has said it."""
    if not by_machine:
        return replace(system, undecided=system.undecided | {"by-station"})
    return replace(system, traits=system.traits | {"by-station"}) if all(by_machine) else system
