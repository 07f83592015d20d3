"""How long the words of premises, of full charges and of what happened about leaks must be kept."""

from collections.abc import Iterator

from inventory.attachments.models import Attachment
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from inventory.verdicts.retention import OnFile
from jobs.drafts.models import Job
from jobs.leaks.models import LeakEvent
from jobs.signing import erasing as of_jobs
from jobs.units.models import FullCharge, LeakRateMethod, Premises, Unit
from jobs.units.systems import system_of


def rests_on_event(row: LeakEvent) -> Iterator[OnFile]:
    yield OnFile("leak-check", row.day)


def rests_on_unit(row: Unit) -> Iterator[OnFile]:
    """The jobs on it, and what happened about its leaks."""
    yield from of_jobs.rests_on_unit(row)
    for event in row.leak_events.order_by("-day")[:1]:
        yield from rests_on_event(event)


def rests_on_full_charge(row: FullCharge) -> Iterator[OnFile]:
    """The unit itself: until it is retired its time does not begin."""
    unit = row.unit
    yield OnFile("equipment", unit.retired_on or today(), unit.retired_on, system_of(unit, charge_mg=row.mg))


def rests_on_premises(row: Premises) -> Iterator[OnFile]:
    """The jobs on the units that stand there, and what happened about their leaks."""
    for job in Job.objects.filter(unit__premises=row, voucher__isnull=False).order_by("-day")[:1]:
        yield OnFile("job", job.day)
    for event in LeakEvent.objects.filter(unit__premises=row).order_by("-day")[:1]:
        yield from rests_on_event(event)


def rests_on_method(row: LeakRateMethod) -> Iterator[OnFile]:
    """What was worked out by it."""
    yield OnFile("leak-check", row.from_day)
    yield from rests_on_premises(row.premises)


def rests_on_file(row: Attachment) -> Iterator[OnFile]:
    """As of other files; a paper of what happened about a leak is kept as long as that."""
    kind, _, key = row.subject.partition(":")
    event = LeakEvent.objects.filter(pk=int(key)).first() if kind == "leak-event" and key.isdigit() else None
    yield from rests_on_event(event) if event is not None else of_jobs.rests_on_file(row)


def refuse_premises(row: Premises) -> None:
    draft = Job.objects.filter(unit__premises=row, state="draft").first()
    if draft is not None:
        raise Refused(f"Job {draft.title} is under way; sign or drop it first.", "key")
