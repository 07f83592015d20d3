"""The register of machines, their checks, and recycling by one of them."""

import datetime as dt
import uuid
from dataclasses import dataclass

from django.utils import timezone

from inventory.containers.actions import record
from inventory.containers.placing import EntryHead
from inventory.containers.rows import LABEL
from inventory.ledger.actions import stated
from inventory.machines.models import Machine, MachineCheck
from inventory.shop.days import happened, may_be_due
from inventory.shop.once import made_by
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@dataclass(frozen=True)
class CheckMade:
    """A check of a machine: its day, how it ended, the day of the next one."""

    day: dt.date
    passed: bool
    next_due: dt.date | None = None
    note: str = ""


@stated
def check_machine(*, machine: Machine, check: CheckMade, by: str, key: uuid.UUID) -> MachineCheck:
    """Keep a check; the next due day is that of a check that passed. The same key checks once."""
    happened(check.day)
    if (known := made_by(MachineCheck, key)) is not None:
        return known
    may_be_due(check.next_due, "next_due")
    if check.next_due is not None and check.next_due <= check.day:
        raise Refused("The next check comes after this one.", "next_due")
    made = MachineCheck.objects.create(
        machine=machine,
        day=check.day,
        passed=check.passed,
        note=clean(check.note, "note", 300),
        by=by,
        at=timezone.now(),
        key=key,
    )
    latest = machine.checks.filter(passed=True).order_by("-day", "-id").first()
    if latest == made:
        machine.check_due = check.next_due
        machine.save(update_fields=["check_due"])
    return made


def recycle(*, code: str, machine: Machine, standard: str, labelled: bool = False, **head: object) -> int:
    """What a container holds was recycled by a machine: from recovered to recycled, one voucher that names machine
    and standard. labelled: the container says so now. Refused for mixed refrigerant, which no machine makes one
    again. head: as in `containers/actions.py`."""
    standard = clean(standard, "standard", 60)
    if not standard:
        raise Refused("Name the standard that the machine recycles to, e.g. the one on its plate.", "standard")
    entry = EntryHead("regrade", **head)
    if machine.does != "recycle" or (machine.retired_on and machine.retired_on < entry.day):
        raise Refused(f"{machine} does not recycle, or is out of use; choose another machine.", "machine")

    def run(recorder) -> dict:
        held = recorder.holdings.containers.get(code)
        if held is not None and held.grade == "mixed":
            raise Refused(
                f"{code} holds mixed refrigerant, which is not recycled; send it to a reclaimer or to destruction.",
                "container",
            )
        if held is not None and held.grade != "recovered":
            raise Refused(f"{code} holds {held.grade} refrigerant; only what was recovered is recycled.", "container")
        recorder.holdings.regrade(code, "recycled")
        if labelled:
            for name, value in {**LABEL, "label_says": "recycled"}.items():
                setattr(recorder.rows.by_code[code], name, value)
        return {"detail": {"machine": str(machine), "standard": standard}}

    return record(entry, run, [code])
