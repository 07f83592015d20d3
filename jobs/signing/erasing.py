"""How long the words of people, customers, units, jobs and files must be kept, and what keeps them from going."""

from collections.abc import Iterator

from inventory.attachments.models import Attachment
from inventory.ledger.models import Voucher
from inventory.reference.rule import System
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from inventory.verdicts.retention import OnFile
from jobs.drafts.fields import FIELDS
from jobs.drafts.models import Job
from jobs.people.models import Certificate, Person
from jobs.units.models import Customer, Unit
from jobs.units.queries import full_charges
from jobs.units.systems import system_of

WORDS = {one.name: {} if one.name == "reasons" else "" for one in FIELDS if one.personal}


def rests_on_customer(row: Customer) -> Iterator[OnFile]:
    """The jobs that were done for them, whoever owns the unit by now."""
    held = Voucher.objects.filter(kind="job", detail__contains=f'"customer":"{row.code}"')
    yield from _latest(held.order_by("-day").values_list("day", flat=True)[:1])


def rests_on_unit(row: Unit) -> Iterator[OnFile]:
    """The last job on it, and the unit itself, whose time may begin when it is retired."""
    for day in _signed(unit=row):
        yield OnFile("job", day)
        yield OnFile("equipment", day, row.retired_on, _system(row))


def _system(row: Unit) -> System:
    return system_of(row, charge_mg=full_charges([row], today()).get(row.pk, (None, ""))[0])


def rests_on_person(row: Person) -> Iterator[OnFile]:
    yield from _latest(_signed(technician=row))
    yield from _latest(_signed(hands__person=row))
    for one in row.certificates.all():
        yield from rests_on_certificate(one)


def rests_on_certificate(row: Certificate) -> Iterator[OnFile]:
    """The last job of its holder, or the day of issue; and the day on which its holder left, unless they work here."""
    person = row.person
    day = next(iter(_signed(technician=person)), row.issued)
    yield OnFile("certificate", day, None if person.is_active else person.left_on)


def rests_on_job(row: Job) -> Iterator[OnFile]:
    yield OnFile("job", row.day)


def rests_on_file(row: Attachment) -> Iterator[OnFile]:
    """What it belongs to; the day on which it was attached, where that is nothing of these."""
    kind, _, key = row.subject.partition(":")
    number = int(key) if key.isdigit() else 0
    job = Job.objects.filter(pk=number).first() if kind == "job" else None
    certificate = Certificate.objects.filter(pk=number).first() if kind == "certificate" else None
    voucher = Voucher.objects.filter(number=number).first() if kind == "voucher" else None
    if job is not None:
        yield from rests_on_job(job)
    elif voucher is not None:
        yield OnFile({"receipt": "purchase", "shipment": "shipment"}.get(voucher.kind, "job"), voucher.day)
    elif certificate is not None:
        yield from rests_on_certificate(certificate)
    yield OnFile("job", row.added_at.date())


def _signed(**of: object) -> list:
    """The day of the latest signed job."""
    found = Job.objects.filter(voucher__isnull=False, **of).order_by("-day")
    return list(found.values_list("day", flat=True)[:1])


def _latest(days: object) -> Iterator[OnFile]:
    for day in days:
        yield OnFile("job", day)


def refuse_customer(row: Customer) -> None:
    _refuse_drafts(Job.objects.filter(unit__customer=row))


def refuse_unit(row: Unit) -> None:
    _refuse_drafts(Job.objects.filter(unit=row))


def refuse_person(row: Person) -> None:
    if row.is_active:
        raise Refused(f"{row.name} works here; say first, on their page, that they have left.", "key")
    _refuse_drafts(Job.objects.filter(technician=row))


def refuse_file(row: Attachment) -> None:
    kind, _, key = row.subject.partition(":")
    if kind == "job" and key.isdigit():
        _refuse_drafts(Job.objects.filter(pk=int(key)))


def _refuse_drafts(jobs: object) -> None:
    draft = jobs.filter(state="draft").first()
    if draft is not None:
        raise Refused(f"Job {draft.title} is under way; sign or drop it first.", "key")


def dropped_go(row: Unit) -> None:
    """Words of drafts that were given up go with their unit's: they stand in no record."""
    _blank_dropped(Job.objects.filter(unit=row))


def dropped_of_customer_go(row: Customer) -> None:
    _blank_dropped(Job.objects.filter(unit__customer=row))


def _blank_dropped(jobs: object) -> None:
    for job in jobs.filter(state="dropped"):
        for name, nothing in WORDS.items():
            setattr(job, name, nothing)
        job.save(update_fields=list(WORDS))
        job.lines.exclude(note="").update(note="")
        job.steps.exclude(skipped="").update(skipped="")
        job.hands.exclude(note="").update(note="")
