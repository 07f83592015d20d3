"""Which refrigerant was charged in a period, out of what and into what, as rules are asked about it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from inventory.containers.models import Container
from inventory.ledger.accounts import HOLDING
from inventory.ledger.models import Movement
from inventory.reference.rule import Gas, System
from jobs.drafts.models import Job
from jobs.signing.origins import USED, origins_of
from jobs.units.queries import full_charges
from jobs.units.systems import system_of
from shopledger.reporting.report import Period


@dataclass(frozen=True)
class Charged:
    """What a job charged out of a container, called by its code."""

    job: Job
    container: str
    system: System
    gas: Gas


def charged(period: Period) -> Iterator[Charged]:
    """What was charged in a period, by jobs in their order. A label counts as it is on record now. A constant number of
    questions."""
    found = Movement.objects.filter(
        day__gte=period.first,
        day__lte=period.last,
        source_class__in=HOLDING,
        target_class=4,
        reversal=False,
        substance__is_oil=False,
        voucher__kind="job",
    )
    rows = set(found.values_list("voucher_id", "source__name", "substance__code", "source__grade"))
    jobs = {
        job.voucher_id: job
        for job in Job.objects.filter(state="signed", voucher__in={row[0] for row in rows}).select_related("unit")
    }
    rows = {row for row in rows if row[0] in jobs}
    origins = origins_of({code for _, code, _, grade in rows if grade in USED})
    containers = Container.objects.in_bulk({row[1] for row in rows}, field_name="code")
    charges = full_charges([job.unit for job in jobs.values()], period.last)
    for voucher, code, substance, grade in sorted(rows):
        job = jobs[voucher]
        system = system_of(job.unit, substance=substance, charge_mg=full_charge_of(job, charges))
        labelled = code in containers and containers[code].says_of(grade)
        yield Charged(job, code, system, origins.gas(job.unit, code, grade, labelled))


def full_charge_of(job: Job, charges: Mapping[int, tuple[int, str]]) -> int | None:
    """The full charge of a job's unit, mg: as somebody entered it, else the most on the label. charges: of
    `full_charges`."""
    mg, how = charges.get(job.unit_id, (None, ""))
    return job.charge_max_mg or job.unit.charge_most_mg or mg if how in {"", "label"} else mg
