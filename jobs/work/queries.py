"""The questions about jobs."""

import datetime as dt
import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import connection
from django.db.models import F, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from inventory.attachments.models import Attachment
from inventory.containers.actions import overdue
from inventory.containers.amending import balance_before
from inventory.containers.book import Held, ScaleSeen
from inventory.containers.models import Container, Scale, Weighing
from inventory.containers.safe_fill import room_left
from inventory.ledger.accounts import AccountClass
from inventory.reference.rulebook import Rulebook
from jobs.people.models import Certificate, Person
from jobs.units.leak_rate import History, Service, history
from jobs.units.models import Unit
from jobs.work.charge_plan import WORTH_TAKING_MG
from jobs.work.models import Job, JobLine
from jobs.work.posting import Line


def lines_of(rows: Sequence[JobLine], usual: Scale | None) -> list[Line]:
    """Stored lines as the rules read them. usual: the scale of a weight that names none."""
    return [
        Line(
            row.action,
            row.container.code if row.container else "",
            row.before,
            row.after,
            row.quantity,
            _seen(row.scale or usual) if row.before is not None or row.after is not None else None,
        )
        for row in rows
    ]


def _seen(scale: Scale | None) -> ScaleSeen | None:
    return ScaleSeen(scale.code, scale.readability_mg) if scale else None


def entries_of(job: Job) -> list[JobLine]:
    """A job's lines in their order, with all that the rules ask of their containers, in one question."""
    container = ("substance", "location", "account", "last_scale", "last_voucher")
    return list(job.lines.select_related("scale", *(f"container__{name}" for name in container)))


def held_of(job: Job, rows: Iterable[JobLine]) -> dict[str, Held]:
    """The containers of a draft as the rules see them. rows: entries_of. For a correction, as they were when the
    revision before was signed: what was recorded since, even that a can was retired, is not in its way."""
    found = {row.container.code: row.container.held for row in rows if row.container}
    if not job.corrects_id:
        return found
    found = {code: replace(held, retired=False) for code, held in found.items()}
    weighed: set[str] = set()
    weighings = Weighing.objects.filter(voucher=job.corrects.voucher_id, again=None, container__code__in=found)
    for weighing in weighings.order_by("-line").select_related("container"):
        held = found[weighing.container.code]
        weighed.add(held.code)
        tare = None if weighing.outcome == "tare taken" else held.tare
        found[held.code] = replace(held, balance=max(0, weighing.book), tare=tare)
    first = job.corrects
    while first.corrects_id:
        first = first.corrects
    for code in set(found) - weighed:
        found[code] = replace(found[code], balance=max(0, balance_before(code, first.voucher_id)))
    return found


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


def overdue_in(rows: Iterable[JobLine], job: Job, book: Rulebook) -> dict[str, str]:
    """Containers recovered into that may not be filled on the job's day, by their retest: code to why. rows:
    entries_of."""
    into = {row.container.code: row.container for row in rows if row.action == "recover" and row.container}
    said = {code: overdue(container, job.day, book) for code, container in into.items()}
    return {code: why for code, why in said.items() if why}


def in_use(codes: Iterable[str], beside: Job) -> dict[str, Job]:
    """Those of the containers that stand on another draft: code to that job."""
    lines = JobLine.objects.filter(job__state="draft", container__code__in=set(codes)).exclude(job=beside)
    return {line.container.code: line.job for line in lines.select_related("container", "job__technician")}


def jobs_for(person: Person) -> QuerySet[Job]:
    """The jobs that a person may see in lists: a technician their own, others all."""
    jobs = Job.objects.select_related("unit__customer", "technician")
    return jobs.filter(technician=person) if person.role == "technician" else jobs


CAME_FROM = """
SELECT DISTINCT t.name, s.cls, s.name FROM inventory_movement m JOIN inventory_account t ON t.id = m.target_id
JOIN inventory_account s ON s.id = m.source_id
WHERE m.target_class = 1 AND m.reversal = %s AND t.name IN ({marks}) AND NOT (s.cls = 1 AND s.name = t.name)
"""


@dataclass(frozen=True)
class Origins:
    """Where the content of containers came from: code to (account class, name) of each; customers of the units."""

    of: Mapping[str, set[tuple[int, str]]]
    owners: Mapping[str, int | None]


def origins_of(codes: Collection[str]) -> Origins:
    """Of containers of refrigerant that came out of a unit (USED), all in two questions."""
    found: dict[str, set[tuple[int, str]]] = {code: set() for code in codes}
    if not found:
        return Origins({}, {})
    with connection.cursor() as cursor:
        cursor.execute(CAME_FROM.format(marks=", ".join(["%s"] * len(found))), [False, *found])
        for code, cls, name in cursor.fetchall():
            if cls not in DIFFERENCES:
                found[code].add((cls, name))
    units = {name for sources in found.values() for cls, name in sources if cls == AccountClass.UNIT}
    return Origins(found, dict(Unit.objects.filter(code__in=units).values_list("code", "customer_id")))


def destination(unit: Unit, code: str, origins: Origins) -> str:
    """Where a container's content goes when it is charged into the unit, seen from where it came from: the same unit,
    another of the same owner, or somebody else's (also where that is not known)."""
    sources = origins.of[code]
    names = {name for _, name in sources}
    if not sources or any(cls != AccountClass.UNIT for cls, _ in sources):
        return "other-owner"
    if names == {unit.code}:
        return "same-unit"
    same = unit.customer_id is not None and {origins.owners.get(name) for name in names} == {unit.customer_id}
    return "same-owner" if same else "other-owner"


def destinations_of(job: Job, codes: Collection[str]) -> dict[str, str]:
    """The `destination` of each container that a job charges from."""
    origins = origins_of(codes)
    return {code: destination(job.unit, code, origins) for code in codes}


USED = {"recovered", "recycled"}  # grades of refrigerant that came out of a unit
DIFFERENCES = {AccountClass.WEIGHING_DIFFERENCE, AccountClass.UNEXPLAINED_GAIN}  # weighing again brings nothing in


def may_read_scans(person: Person, key: str) -> bool:
    """Scans of a certificate: the owner, and whose it is."""
    if person.role == "owner":
        return True
    return key.isdigit() and Certificate.objects.filter(pk=int(key), person=person).exists()


def may_read_files(person: Person, key: str) -> bool:
    """Whether a person may see the photos of a job: those who see the job."""
    return key.isdigit() and jobs_for(person).filter(pk=int(key)).exists()


def photos_of(job: Job) -> QuerySet[Attachment]:
    """A job's photos in their order; those of the revisions that it corrects come first."""
    numbers = [job.pk]
    if job.revision > 1:
        earlier = Job.objects.filter(number=job.number, revision__lt=job.revision)
        numbers = [*earlier.values_list("pk", flat=True), job.pk]
    return Attachment.objects.filter(subject__in=[f"job:{pk}" for pk in numbers], withdrawn_at=None)


def earlier_jobs(job: Job, most: int) -> QuerySet[Job]:
    """The latest signed jobs of the same unit beside this one, the latest first."""
    return visits_of(job.unit_id, most, beside=job.number)


def with_amounts(jobs: QuerySet[Job]) -> QuerySet[Job]:
    """Each job with `charged` (what reached the unit) and `recovered`, mg, and `oil_added`, uL, summed over its
    lines."""
    out = Coalesce(F("lines__quantity"), F("lines__before") - F("lines__after"))
    into = Coalesce(F("lines__quantity"), F("lines__after") - F("lines__before"))
    return jobs.annotate(
        charged=Sum(out, filter=Q(lines__action="charge"), default=0)
        - Sum("lines__quantity", filter=Q(lines__action="line-loss"), default=0),
        recovered=Sum(into, filter=Q(lines__action="recover"), default=0),
        oil_added=Sum("lines__quantity", filter=Q(lines__action="oil-add"), default=0),
    )


def posted_lines(job: Job) -> list[JobLine]:
    """A job's lines in their order, each with `scale_said`: the scale of its weights, as it was posted where it was."""
    kept = json.loads(job.voucher.detail).get("lines", []) if job.voucher_id else []
    lines = list(job.lines.select_related("container__substance", "scale"))
    for number, line in enumerate(lines):
        posted = kept[number].get("scale", "") if number < len(kept) else ""
        line.scale_said = posted or (line.scale.code if line.scale else "")
    return lines


def histories_of(units: QuerySet[Unit], through: dt.date) -> dict[int, History]:
    """Of each unit what made up for losses and when it was last found tight, as it stood at the end of a day, whatever
    was corrected since; by its id. Two questions, however many units there are."""
    stood = Q(voucher__reversed_by=None) | Q(voucher__reversed_by__day__gt=through)
    jobs = Job.objects.filter(stood, unit__in=units.order_by().values("pk"), voucher__day__lte=through)
    services: dict[int, list[Service]] = {unit.pk: [] for unit in units}
    for job in with_amounts(jobs.order_by("day", "id")).only("unit_id", "day", "leak_result"):
        tight = job.leak_result == "none found"
        services[job.unit_id].append(Service(job.day, job.charged, job.recovered, tight))
    return {unit.pk: history(services[unit.pk], unit.charge_target_mg) for unit in units}


def visits_of(unit_id: int, most: int, beside: str = "") -> QuerySet[Job]:
    """The latest signed jobs of a unit, the latest first, with what they charged and recovered. Only their own lines
    are summed, however long the unit's history is."""
    latest = Job.objects.filter(unit_id=unit_id, state="signed").exclude(number=beside).order_by("-day", "-id")
    jobs = Job.objects.filter(pk__in=latest.values("pk")[:most]).select_related("technician")
    return with_amounts(jobs).order_by("-day", "-id")


def chargeable(substance: str, location_id: int | None = None) -> QuerySet[Container]:
    """Containers in stock that a unit of this refrigerant can be charged from, opened ones first. Those that were
    opened and hold too little to give liquid are left out; a shop may have many of them standing about."""
    containers = Container.objects.filter(
        substance__code=substance, retired_on=None, void=False, account__balance__gt=0
    ).exclude(grade__in=["recovered", "mixed"])
    containers = containers.filter(Q(opened_on=None) | Q(account__balance__gte=WORTH_TAKING_MG))
    if location_id:
        containers = containers.filter(location_id=location_id)
    opened_first = F("opened_on").desc(nulls_last=True)
    return containers.select_related("account", "location", "substance").order_by(opened_first, "code")


def for_recovery_and_oil(substance: str) -> QuerySet[Container]:
    """Containers that this refrigerant can be recovered into (those for it, and those that hold nothing yet), then
    bottles with oil in them, opened ones first. In one question: the job page asks it each time."""
    into = Q(kind__in=["recovery", "machine"]) & (Q(substance=None) | Q(substance__code=substance))
    oil = Q(kind="oil", account__balance__gt=0)
    containers = Container.objects.filter(into | oil, retired_on=None, void=False)
    opened_first = F("opened_on").asc(nulls_last=True)
    order = ("-kind", opened_first, "code")  # recovery, oil, machine
    return containers.select_related("account", "location", "substance").order_by(*order)
