"""What signing asks of the containers on a job."""

from collections.abc import Iterable, Mapping, Sequence

from inventory.containers.entries import moment
from inventory.containers.filled import Fill
from inventory.containers.filling import unfit
from inventory.containers.states import ContainerState
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.retested import retested
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job, JobLine
from jobs.drafts.practised import is_practice
from jobs.drafts.queries import moments_of


def used_since(rows: Sequence[JobLine], job: Job) -> dict[str, str]:
    """Containers for which a voucher was recorded after this draft's entry on the day of the job: code to what it was.
    rows: entries_of. Of practice none: its containers are invented anew each time, and nobody else has them."""
    found = {}
    if is_practice(job):
        return found
    for row, at in zip(rows, moments_of(job, rows), strict=True):
        voucher = row.container.last_voucher if row.container and at else None
        if voucher and voucher.recorded_at > moment(at):
            what = f"{voucher.kind} {voucher.document}".strip()
            found[row.container.code] = f"Voucher {voucher.number} ({what})"
    return found


def fills_in(rows: Iterable[JobLine], job: Job, held: Mapping[str, ContainerState], rules: Rulebook) -> dict[str, Fill]:
    """For each container recovered into what was in it before this job, beside what may be. rows: entries_of. held:
    the containers as they stood then."""
    found: dict[str, Fill] = {}
    for row in rows:
        container = row.container
        if row.action != "recover" or container is None or container.code in found:
            continue
        state = held[container.code]
        weighed = row.before is not None and state.tare is not None
        content = max(0, row.before - state.tare) if weighed else state.balance
        gas = state.substance or job.substance
        if gas:
            found[container.code] = Fill(container.cylinder, gas, content, rules.safe_fill(container.kind, job.day))
    return found


def overdue_in(rows: Iterable[JobLine], job: Job, rules: Rulebook) -> dict[str, str]:
    """Containers recovered into that may not be filled on the job's day, by their retest or their test pressure: code
    to why. rows: entries_of."""
    into = {row.container.code: row.container for row in rows if row.action == "recover" and row.container}
    said = {code: unfit(one, job.substance, job.day, rules) for code, one in into.items()}
    return {code: why for code, why in said.items() if why}


def retests_in(rows: Iterable[JobLine], job: Job, rules: Rulebook) -> dict[str, Verdict]:
    """Of containers recovered into, those whose retest keeps them from being filled on the job's day. rows:
    entries_of."""
    into = {row.container.code: row.container for row in rows if row.action == "recover" and row.container}
    said = {code: retested(rules, one.kind, one.retest_due, job.day) for code, one in into.items()}
    return {code: verdict for code, verdict in said.items() if verdict.is_refused}
