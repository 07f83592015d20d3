"""What the records of jobs and units say, in the rulebooks' words (`record_rules.FIELDS`)."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.containers.models import Container, ContainerEntry
from inventory.reference.rule import System
from inventory.shop.models import Shop
from jobs.drafts.models import Job
from jobs.people.queries import certificates_by_person
from jobs.units.models import Unit
from jobs.units.queries import full_charges
from jobs.units.systems import system_of

FROM_ELSEWHERE = {"reclaimed", "recycled"}  # grades of which a facility is named
# What every record of a job says, since nobody can sign it otherwise.
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


def of_jobs(jobs: Iterable[Job], shop: Shop, by_grade: bool = True) -> list[Kept]:
    """What each job's record says. Needs unit with customer and premises, technician, and lines with their containers
    loaded; not the lines where by_grade is false: no grades are said then. The same few questions, however many jobs
    there are."""
    found = list(jobs)
    charges = full_charges({job.unit for job in found}, max((job.day for job in found), default=dt.date.min))
    certificates = certificates_by_person() if any(not job.certificate for job in found) else defaultdict(list)
    used = {job.pk: _charged_from(job) if by_grade else [] for job in found}
    here = _recycled_here(one for containers in used.values() for one in containers)
    answers = []
    for job in found:
        charge, _ = charges.get(job.unit_id, (None, ""))
        certified = bool(job.certificate) or any(one.valid_on(job.day) for one in certificates[job.technician_id])
        elsewhere = [one for one in used[job.pk] if one.grade in FROM_ELSEWHERE]
        known = {
            **_of_work(job),
            "full-charge": charge is not None,
            "company": bool(shop.name.strip()),
            "certificate": certified,
            "certificate-number": certified,
            "facility": all(one.facility or one.code in here for one in elsewhere),
        }
        said = ALWAYS | IN_REPORTS | {name for name, is_said in known.items() if is_said}
        system = system_of(job.unit, substance=job.substance, charge_mg=charge)
        answers.append(Kept(job, system, frozenset(one.grade for one in used[job.pk]), said, _address(job.unit)))
    return answers


def _of_work(job: Job) -> dict[str, bool]:
    """What a job says itself, or has nothing to say about."""
    worked = bool(job.repairs.strip())
    return {
        "owner": job.unit.customer_id is not None,
        "address": bool(_address(job.unit)),
        "parts": bool(job.parts) or worked or not job.system_opened,
        "part-work": worked or not (job.parts or job.system_opened),
        "repair": worked or job.leak_result != "found and repaired",
        "result": job.leak_checked,
    }


def _charged_from(job: Job) -> list[Container]:
    lines = [line for line in job.lines.all() if line.action == "charge" and line.container is not None]
    return [line.container for line in lines if not line.container.is_oil]


def _recycled_here(used: Iterable[Container]) -> set[str]:
    """The codes of those containers whose content was recycled in the shop itself: in a machine, or by one that a
    change of grade speaks of."""
    recycled = {one.code: one for one in used if one.grade == "recycled"}
    regraded = ContainerEntry.objects.filter(container__code__in=list(recycled), ops__contains='"regrade"')
    machines = {code for code, one in recycled.items() if one.traits.recycles}
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
