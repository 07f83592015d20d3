"""What the records of jobs and units say, in the rulebooks' words (`record_rules.FIELDS`)."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.containers.models import Container, ContainerEntry
from inventory.reference.rule import System
from inventory.shop.models import Shop
from jobs.drafts.models import Job
from jobs.people.models import Certificate
from jobs.people.queries import certificates_by_person
from jobs.units.models import Unit
from jobs.units.queries import full_charges
from jobs.units.systems import system_of

FROM_ELSEWHERE = {"reclaimed", "recycled"}  # grades of which a facility is named
ALWAYS = {"unit", "type", "day", "person", "substance", "added", "recovered", "container", "grade"}
# A log of jobs and the reports of the ledger say these of all disposals together.
IN_REPORTS = {"monthly-total", "sent"}


@dataclass(frozen=True)
class Kept:
    """A job with all that its record says. grades: of what was charged. address: where the unit stands, if known."""

    job: Job
    system: System
    grades: frozenset[str]
    said: frozenset[str]
    address: str


def of_jobs(jobs: Iterable[Job], shop: Shop) -> list[Kept]:
    """What each job's record says. Needs unit with customer and premises, technician, and lines with their containers
    loaded. The same few questions, however many jobs there are."""
    found = list(jobs)
    charges = full_charges({job.unit for job in found}, max((job.day for job in found), default=dt.date.min))
    certificates = certificates_by_person()
    here = _recycled_here(found)
    return [_of_job(job, charges, certificates[job.technician_id], here, shop) for job in found]


def _of_job(
    job: Job, charges: Mapping[int, tuple[int, str]], certificates: Sequence[Certificate], here: set[str], shop: Shop
) -> Kept:
    charge, _ = charges.get(job.unit_id, (None, ""))
    used = _charged_from(job)
    address = _address(job.unit)
    worked = bool(job.repairs.strip())
    certified = bool(job.certificate) or any(one.valid_on(job.day) for one in certificates)
    known = {
        "owner": job.unit.customer_id is not None,
        "address": bool(address),
        "parts": bool(job.parts) or worked or not job.system_opened,
        "part-work": worked or not (job.parts or job.system_opened),
        "repair": worked or job.leak_result != "found and repaired",
        "result": job.leak_checked,
        "full-charge": charge is not None,
        "company": bool(shop.name.strip()),
        "certificate": certified,
        "certificate-number": certified,
        "facility": all(one.facility or one.code in here for one in used if one.grade in FROM_ELSEWHERE),
    }
    said = ALWAYS | IN_REPORTS | {name for name, is_said in known.items() if is_said}
    system = system_of(job.unit, substance=job.substance, charge_mg=charge)
    return Kept(job, system, frozenset(one.grade for one in used), frozenset(said), address)


def _charged_from(job: Job) -> list[Container]:
    lines = [line for line in job.lines.all() if line.action == "charge" and line.container is not None]
    return [line.container for line in lines if not line.container.is_oil]


def _recycled_here(jobs: Iterable[Job]) -> set[str]:
    """The codes of those containers charged from whose content was recycled in the shop itself: in a machine, or by one
    that a change of grade speaks of."""
    used = {one.code: one for job in jobs for one in _charged_from(job) if one.grade == "recycled"}
    regraded = ContainerEntry.objects.filter(container__code__in=list(used), ops__contains='"regrade"')
    machines = {code for code, one in used.items() if one.traits.recycles}
    return machines | set(regraded.values_list("container__code", flat=True))


def _address(unit: Unit) -> str:
    """Where it stands: its premises, or whose it is."""
    premises = unit.premises.address if unit.premises else ""
    return premises.strip() or (unit.customer.address.strip() if unit.customer else "")


def of_units(units: Iterable[Unit], day: dt.date) -> list[tuple[Unit, System, frozenset[str]]]:
    """What is known of each unit itself. Needs customer and premises loaded."""
    found = list(units)
    charges = full_charges(found, day)
    new = Job.objects.filter(unit__in=found, state="signed", charge_why="installation").values_list(
        "unit_id", flat=True
    )
    installed_here = set(new)
    answers = []
    for unit in found:
        charge, how = charges.get(unit.pk, (None, ""))
        known = {
            "substance": unit.refrigerant,
            "type": True,
            "owner": unit.customer_id,
            "address": _address(unit),
            "full-charge": charge,
            "charge-how": how,
            "charge-range": charge,  # kept with a charge that was found so, and asked of no other
            "charge-revisions": charge,  # each is kept with its day
            "installed-on": unit.installed_on,
            "added-at-installation": unit.sealed or unit.pk in installed_here,
        }
        said = frozenset(name for name, value in known.items() if value)
        answers.append((unit, system_of(unit, charge_mg=charge), said))
    return answers
