"""What signing asks of the containers on a job."""

import datetime as dt
from collections.abc import Iterable

from inventory.containers.filling import overdue
from inventory.containers.safe_fill import room_left
from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job, JobLine


def used_since(rows: Iterable[JobLine]) -> dict[str, str]:
    """Containers for which a voucher was recorded after this draft's entry: code to what it was. rows: entries_of."""
    found = {}
    for row in rows:
        voucher = row.container.last_voucher if row.container else None
        entered = row.entered_at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        if voucher and voucher.recorded_at > entered:
            what = f"{voucher.kind} {voucher.document}".strip()
            found[row.container.code] = f"Voucher {voucher.number} ({what})"
    return found


def room_left_in(rows: Iterable[JobLine], job: Job) -> dict[str, int | None]:
    """For each container recovered into: mg of room to its safe fill before this job; None where that is not known:
    without a water capacity or, for a correction, without a weight before. rows: entries_of."""
    found: dict[str, int | None] = {}
    for row in rows:
        container = row.container
        if row.action != "recover" or container is None or container.code in found:
            continue
        held = None if job.corrects_id else container.content
        if row.before is not None and container.tare_mg is not None:
            held = max(0, row.before - container.tare_mg)
        gas = container.substance.code if container.substance else job.substance
        known = container.water_capacity_mg and gas and held is not None
        found[container.code] = room_left(container.water_capacity_mg, gas, held) if known else None
    return found


def overdue_in(rows: Iterable[JobLine], job: Job, rules: Rulebook) -> dict[str, str]:
    """Containers recovered into that may not be filled on the job's day, by their retest: code to why. rows:
    entries_of."""
    into = {row.container.code: row.container for row in rows if row.action == "recover" and row.container}
    said = {code: overdue(container, job.day, rules) for code, container in into.items()}
    return {code: why for code, why in said.items() if why}
