"""What is to be known before a step is done, rather than after: what would stand in the way of its signature, and what
is dangerous about the gas at hand."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.measures.quantity import show
from inventory.reference.refrigerants import refrigerants
from jobs.drafts.models import Job
from jobs.pages.quick import Into
from jobs.signing.objections import Objection


@dataclass(frozen=True)
class Warning:
    """level: error or warning; citation: where it is written, blank for what only sense says."""

    sentence: str
    level: str = "warning"
    citation: str = ""


WORK_OF = {"recover": "recover", "charge": "charge", "repair": "leak-check"}  # of a step, as certificates name it
FLAMES = "No flame, spark or hot surface near: {gas} burns ({safety})."
FLAMMABLE_IN = {"recover", "repair", "evacuate", "oil", "charge"}


def ahead(
    job: Job, standing: Iterable[Objection], foreseen: dict[str, Objection], into: Into | None, unit: str
) -> dict[str, list[Warning]]:
    """By step. standing: what stands in the way as the draft is; foreseen: what will, once a work is done; into: the
    container that is recovered into next; unit: what its reader is shown masses in."""
    found: dict[str, list[Warning]] = {}
    for step, work in WORK_OF.items():
        one = foreseen.get(work)
        if one is not None:
            found.setdefault(step, []).append(Warning(one.message, _level(one), one.citation))
    for one in standing:
        if one.line is None and one.step in {"recover", "charge"} and one.key not in {"under", "over", "no-range"}:
            found.setdefault(one.step, []).append(Warning(one.message, _level(one), one.citation))
    for warning in _flames(job):
        for step in FLAMMABLE_IN:
            found.setdefault(step, []).append(warning)
    if into is not None and into.room is not None and not into.full and into.room < (job.charge_max_mg or 0):
        found.setdefault("recover", []).append(
            Warning(
                f"{into.code} has room for {show(into.room, unit)}, and the unit holds up to "
                f"{show(job.charge_max_mg, unit)} by its label. Have another cylinder ready."
            )
        )
    if into is not None and into.full:
        found.setdefault("recover", []).append(
            Warning(
                f"{into.code} is full: {show(-into.room, unit)} over its safe fill. Take another cylinder.", "error"
            )
        )
    return found


def _level(one: Objection) -> str:
    return "error" if one.refuses else "warning"


def _flames(job: Job) -> list[Warning]:
    """ISO 817 and ASHRAE 34 name the classes: 1 does not burn, 2L, 2 and 3 do."""
    gas = refrigerants().get(job.substance)
    if gas is None or gas.safety_class is None or gas.safety_class[1:] == "1":
        return []
    return [Warning(FLAMES.format(gas=job.substance, safety=gas.safety_class), "error")]
