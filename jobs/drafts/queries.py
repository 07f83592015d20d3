"""The questions about jobs."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import Count, F, Q, QuerySet, Sum

from inventory.containers.entries import OrderAsked, moment
from inventory.containers.models import Container, Scale
from inventory.containers.placing import NEXT, EntryHead, find_place, seen_from
from inventory.containers.states import ContainerState, ScaleSeen
from inventory.reference.kinds import with_trait
from inventory.shop.clock import today, zone
from jobs.drafts.models import Job, JobHand, JobLine
from jobs.lines.posting import Line
from jobs.people.models import Person
from jobs.planning.charge_plan import WORTH_TAKING_MG


def lines_of(job: Job, rows: Sequence[JobLine], usual: Scale | None) -> list[Line]:
    """Stored lines as the rules read them. usual: the scale of a weight that names none."""
    on_day = moments_of(job, rows)
    return [
        Line(
            row.action,
            row.container.code if row.container else "",
            row.before,
            row.after,
            row.quantity,
            _seen(row.scale or usual) if row.before is not None or row.after is not None else None,
            moment(at) if at else "",
        )
        for row, at in zip(rows, on_day, strict=True)
    ]


def _seen(scale: Scale | None) -> ScaleSeen | None:
    return ScaleSeen(scale.code, scale.readability_mg) if scale else None


def moments_of(job: Job, rows: Sequence[JobLine]) -> list[dt.datetime | None]:
    """When each line was entered, where that was on the day of the job: then it tells when the work was done."""
    here = zone()
    return [row.entered_at if row.entered_at.astimezone(here).date() == job.day else None for row in rows]


def entry_head(job: Job, rows: Sequence[JobLine], by: str) -> tuple[EntryHead, dict[str, dt.datetime]]:
    """What the job's voucher says of itself, and the moment of the first line that names a container, by its code."""
    known = list(zip(rows, moments_of(job, rows), strict=True))
    times = [at for _, at in known if at]
    first = {row.container.code: at for row, at in reversed(known) if at and row.container}
    corrects = job.corrects.voucher_id if job.corrects_id else None
    head = EntryHead(
        "job",
        job.day,
        by,
        f"job:{job.key}",
        done_by=job.technician.username,
        document=job.title,
        note=job.note,
        at=min(times) if times and job.follows is None else None,
        follows=job.follows,
        corrects=corrects,
        why=job.correction_note,
    )
    return head, first


def entries_of(job: Job) -> list[JobLine]:
    """A job's lines in their order, with all that the rules ask of their containers, in one question."""
    container = ("substance", "location", "account", "last_scale", "last_voucher")
    return list(
        job.lines.select_related("scale", "entered_by", "changed_by", *(f"container__{name}" for name in container))
    )


def order_asked(job: Job, rows: Sequence[JobLine]) -> OrderAsked | None:
    """What is to be said of a job of an earlier day before it is signed: after which other act of that day it came,
    where nothing tells."""
    head, _ = entry_head(job, rows, "")
    try:
        find_place(head, {row.container.code for row in rows if row.container}, NEXT, lambda: "")
    except OrderAsked as asked:
        return asked
    return None


def in_use(codes: Iterable[str], beside: Job) -> dict[str, Job]:
    """Those of the containers that stand on another draft: code to that job."""
    lines = JobLine.objects.filter(job__state="draft", container__code__in=set(codes)).exclude(job=beside)
    return {line.container.code: line.job for line in lines.select_related("container", "job__technician")}


def jobs_for(person: Person) -> QuerySet[Job]:
    """The jobs that a person may see in lists: a technician their own and those that they work on, others all."""
    jobs = Job.objects.select_related("unit__customer", "technician")
    return jobs.filter(worked_on_by(person)) if person.role == "technician" else jobs


def totals_by_substance(found: QuerySet[Job]) -> list[dict[str, object]]:
    """What jobs come to by refrigerant: how many, charged and recovered as signed, mg; summed by the database. What was
    corrected counts as it stands now."""
    signed = Q(state="signed")
    sums = {
        "charged": Sum("charged_mg", filter=signed, default=0),
        "recovered": Sum("recovered_mg", filter=signed, default=0),
    }
    return list(found.order_by().values("substance").annotate(jobs=Count("pk"), **sums).order_by("substance"))


def worked_on_by(person: Person) -> Q:
    """Jobs that a person is the technician of, or works on beside them."""
    return Q(technician=person) | Q(pk__in=JobHand.objects.filter(person=person, ended=None).values("job"))


def is_hand(job: Job, person: Person) -> bool:
    """Whether a person works on a job beside its technician now."""
    return JobHand.objects.filter(job=job, person=person, ended=None).exists()


def may_read_files(person: Person, key: str) -> bool:
    """Whether a person may see the photos of a job: those who see the job."""
    return key.isdigit() and jobs_for(person).filter(pk=int(key)).exists()


def earlier_jobs(job: Job, most: int) -> QuerySet[Job]:
    """The latest signed jobs of the same unit beside this one, the latest first."""
    return visits_of(job.unit_id, most, beside=job.number)


def visits_of(unit_id: int, most: int, beside: str = "") -> QuerySet[Job]:
    """The latest signed jobs of a unit, the latest first."""
    jobs = Job.objects.filter(unit_id=unit_id, state="signed").exclude(number=beside)
    return jobs.select_related("technician").order_by("-day", "-id")[:most]


def customer_of(job: Job) -> str:
    """The code of the customer whose unit a job is about; blank where that is nobody's."""
    return job.unit.customer.code if job.unit.customer_id else ""


def chargeable(
    substance: str, location_id: int | None = None, day: dt.date | None = None, customer: str = ""
) -> QuerySet[Container]:
    """Containers in stock that a unit of this refrigerant can be charged from, opened ones first. Those that were
    opened and hold too little to give liquid are left out; a shop may have many of them standing about. day: of an
    earlier job, for which those are there too that were retired on that day or later. customer: whose own gas may be
    taken, by code; of theirs also what was recovered, which goes back to them."""
    worth = Q(opened_on=None) | Q(account__balance__gte=WORTH_TAKING_MG)
    here = Q(retired_on=None, account__balance__gt=0) & worth | _still_there(day)
    containers = Container.objects.filter(here, substance__code=substance, void=False)
    used = Q(grade="recovered") & ~_kept_for(customer) | Q(grade="mixed")
    containers = containers.filter(_offered(customer)).exclude(used)
    if location_id:
        containers = containers.filter(location_id=location_id)
    opened_first = F("opened_on").desc(nulls_last=True)
    return containers.select_related("account", "location", "substance").order_by(opened_first, "code")


def _kept_for(customer: str) -> Q:
    """Containers with a customer's own gas; of nobody, none."""
    return Q(kept_for=customer) if customer else Q(pk__in=())


def _offered(customer: str) -> Q:
    """Containers that a unit of this customer may be worked on with: the shop's, and theirs."""
    return Q(kept_for="", unknown=False) | _kept_for(customer)


def _still_there(day: dt.date | None) -> Q:
    """Containers that are retired by now and were not on an earlier day; for one that is not over, none."""
    return Q(retired_on__gte=day) if day and day < today() else Q(pk__in=())


def for_recovery_and_oil(substance: str, day: dt.date | None = None, customer: str = "") -> QuerySet[Container]:
    """Containers that this refrigerant can be recovered into (those for it, and those that hold nothing yet), then
    bottles with oil in them, opened ones first. In one question: the job page asks it each time. day, customer: as
    above."""
    into = Q(kind__in=with_trait("recovers")) & (Q(substance=None) | Q(substance__code=substance))
    oil = Q(kind__in=with_trait("is_oil"))
    here = Q(retired_on=None) & (into | oil & Q(account__balance__gt=0)) | _still_there(day) & (into | oil)
    containers = Container.objects.filter(_offered(customer), here, void=False)
    opened_first = F("opened_on").asc(nulls_last=True)
    order = ("-kind", opened_first, "code")  # recovery, oil, machine
    return containers.select_related("account", "location", "substance").order_by(*order)


def held_of(job: Job, rows: Sequence[JobLine]) -> dict[str, ContainerState]:
    """The containers of a draft as the rules see them: as they stood when the job was done, whatever was recorded for
    them since. rows: entries_of."""
    head, moments = entry_head(job, rows, job.technician.username)
    return seen_from(head, {row.container.code: row.container for row in rows if row.container}, moments)
