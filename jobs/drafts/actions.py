"""The verbs of a job: start, enter, sign, correct, drop. Each is one transaction.

A draft moves nothing. Signing posts one voucher; correcting makes the next revision, a draft again, which
on signing reverses the old voucher and posts the new one in its place.
"""

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.utils import timezone

from inventory.containers.filling import refuse_overdue
from inventory.containers.holdings import Holdings
from inventory.containers.models import Container, Scale
from inventory.ledger.actions import take_turn
from inventory.measures.days import said_day
from inventory.reference.gas_rules import PURITY_LEAST_PERCENT
from inventory.shop.clock import today
from inventory.shop.days import happened
from inventory.shop.models import Shop
from inventory.shop.once import keep, made_by, recorded
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from inventory.verdicts.leak_repair import charged_with_leak
from jobs.drafts.fields import EDITABLE
from jobs.drafts.fields import STEPS as FORM_STEPS
from jobs.drafts.merge import mark, merge
from jobs.drafts.models import Job, JobLine, JobStep
from jobs.drafts.practised import refuse_real
from jobs.drafts.queries import customer_of, entries_of, held_of, is_hand, lines_of
from jobs.drafts.steps import STEPS
from jobs.lines.posting import STEP_OF, post_lines
from jobs.lines.totals import Totals
from jobs.people.models import Person
from jobs.planning.identity import Identity, identity
from jobs.planning.oil_plan import oil_doubt
from jobs.planning.pressure_test import check_medium
from jobs.units.models import Unit
from jobs.units.systems import system_of


class ChangedMeanwhile(Refused):
    """Someone else changed the draft since this page showed it. clashes: the fields that both wrote."""

    def __init__(self, message: str, clashes: Sequence[str] = ()):
        super().__init__(message)
        self.clashes = tuple(clashes)


def start_job(*, unit: Unit, technician: Person, by: Person, day: dt.date | None = None, key: uuid.UUID) -> Job:
    """A draft for a unit, with the refrigerant and label charge known of it. The same key starts one job."""
    with transaction.atomic():
        take_turn()
        recorded()
        if (known := made_by(Job, key)) is not None:
            return known
        day = day or today()
        happened(day, still_to_come=f"{said_day(day)} has not come yet; a job starts today or started earlier.")
        if not technician.is_active:
            raise Refused(f"{technician} no longer works here; name someone who does.", "technician")
        made = Job.objects.create(
            number=_next_number(),
            unit=unit,
            technician=technician,
            day=day,
            started_at=timezone.now(),
            key=key,
            substance=unit.refrigerant,
            charge_min_mg=unit.charge_least_mg,
            charge_max_mg=unit.charge_most_mg,
        )
        keep(called=f"job {made.number}", thing=f"job {made.pk}")
        return made


def _next_number() -> str:
    """The next free number: counted from the last row, past numbers that a loaded log took. Whoever asks has the
    turn."""
    last = Job.objects.order_by("-id").values_list("id", flat=True).first() or 0
    while Job.objects.filter(number=f"J-{last + 1:05d}").exists():
        last += 1
    return f"J-{last + 1:05d}"


def draft_for(job_id: int, by: Person) -> Job:
    """The draft, locked for a change; refused where it is no draft or not this person's."""
    job = Job.objects.select_for_update(of=("self",)).select_related("unit__customer", "technician").get(pk=job_id)
    check_own_draft(job, by)
    return job


def check_own_draft(job: Job, by: Person) -> None:
    """Raises Refused where the job is no draft, or not this person's to change."""
    if not job.is_draft:
        raise Refused(f"Job {job.title} is {job.state} and no longer changes; correct it to make a new revision.")
    if job.technician_id != by.pk and by.role == "technician" and not is_hand(job, by):
        raise Refused(f"Job {job.title} is {job.technician}'s; ask them, or the office, to change it.")


def check_answers_for(job: Job, by: Person) -> None:
    """Raises Refused where a person works on a draft and does not answer for it: its technician and the office do."""
    if job.technician_id != by.pk and by.role == "technician":
        raise Refused(f"{job.technician} answers for job {job.title}; ask them, or the office, to do this.")


def change_job(
    job_id: int, *, by: Person, shown: Mapping[str, str] | None = None, step: str = "", **fields: object
) -> Job:
    """Set fields of a draft. step: the one of STEPS that they belong to, of which it is kept who saved it. shown:
    `marks` of the values that the page showed. A field that someone else changed meanwhile stays as they left it,
    unless it was typed here too: that raises ChangedMeanwhile, and nothing is set."""
    unknown = set(fields) - EDITABLE
    if unknown:
        raise ValueError(f"not fields of a draft: {sorted(unknown)}")
    with transaction.atomic():
        job = draft_for(job_id, by)
        merged = merge(shown or {}, fields, {name: getattr(job, name) for name in fields})
        if merged.clashes:
            raise ChangedMeanwhile(
                f"Someone else changed this part of job {job.title} since this page was opened. What you typed is "
                "below, not yet kept: compare it with what is recorded now, and save again to put yours in its place.",
                merged.clashes,
            )
        if {"test_medium", "test_other"} & merged.values.keys():
            check_medium(*(str(merged.values.get(n, getattr(job, n))) for n in ("test_medium", "test_other")))
        changed = {name for name, value in merged.values.items() if getattr(job, name) != value}
        least, most = (merged.values.get(n, getattr(job, n)) for n in ("charge_min_mg", "charge_max_mg"))
        if least is not None and most is not None and least > most:
            raise Refused(
                "The least charge would be more than the most, which somebody changed meanwhile. Reload the page, and "
                "write both as the label has them.",
                "charge_min_mg",
            )
        if fields.get("day"):
            happened(
                fields["day"],
                still_to_come=f"{said_day(fields['day'])} has not come yet; date the job today or earlier.",
            )
        for name in changed:
            setattr(job, name, merged.values[name])
        if changed or step:
            job.version += 1
            job.save(update_fields=[*changed, "version"])
            _saved(job, step, by)
        return job


# Whatever of a job somebody writes in: what can be passed over, its label and start, its charge.
PARTS = {*FORM_STEPS, *STEPS, *STEP_OF.values()}


def _saved(job: Job, step: str, by: Person, skipped: str = "") -> None:
    if step in PARTS:
        JobStep.objects.update_or_create(job=job, step=step, by=by, defaults={"at": timezone.now(), "skipped": skipped})


def skip_step(job_id: int, *, by: Person, step: str, reason: str) -> Job:
    """Pass over a step, saying why; whatever is saved in it later takes that back. A reason answers what signing
    would ask about the step. Raises Refused without a reason, or for a step that holds entries."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        reason = clean(reason, "reason", 300)
        if not reason:
            raise Refused("Say why this step is skipped; the reason is kept with the job.", "reason")
        if any(STEP_OF[line.action] == step for line in job.lines.all()):
            raise Refused(f"{STEPS[step].title} has entries; remove them first, or leave the step as it is.", "reason")
        _saved(job, step, by, reason)
        job.reasons = {**dict.fromkeys(STEPS[step].asks, reason), **job.reasons}
        job.version += 1
        job.save(update_fields=["reasons", "version"])
        return job


@dataclass(frozen=True)
class LineSaid:
    """What an entry says: container and scale by their codes, weights in mg, a quantity in mg (oil: uL).
    before_raw, after_raw: what the scale sent, where a weight was read from it (inventory/scales/taking.py). at: when
    it was typed by the phone's clock, of one that found no network."""

    container: str = ""
    scale: str = ""
    before: int | None = None
    after: int | None = None
    quantity: int | None = None
    before_raw: str = ""
    after_raw: str = ""
    note: str = ""
    at: dt.datetime | None = None

    @property
    def is_blank(self) -> bool:
        """Whether nothing is weighed or measured yet."""
        return self.before is None and self.after is None and self.quantity is None


def enter_line(
    job_id: int,
    *,
    by: Person,
    key: uuid.UUID,
    action: str,
    shown: str = "",
    sure: Mapping[str, str] | None = None,
    **entered: object,
) -> JobLine:
    """Enter or change a line of a draft; `key` says which, so that what arrives twice counts once. entered: as
    LineSaid has it. A weight may still be missing; what is there is checked against the containers as they stand.
    shown: `line_mark` of what the page showed; ChangedMeanwhile where someone else changed the line since. sure:
    reasons kept with the job for readings that were asked about and are right."""
    said = LineSaid(**entered)
    with transaction.atomic():
        job = draft_for(job_id, by)
        line = JobLine.objects.filter(key=key).first()
        if line is not None and line.job_id != job.pk:
            raise Refused("This entry belongs to another job; open the page again.")
        if line is None:
            last = job.lines.order_by("-position").values_list("position", flat=True).first()
            line = JobLine(job=job, key=key, position=(last or 0) + 1)
        recorded, read = line_mark(line), (line.container_id, line.before, line.quantity)
        weighed = (line.container_id, line.scale_id, line.before, line.after)
        line.action = action
        line.container = _container(said.container, action)
        refuse_real(job, line.container)
        line.scale = _scale(said.scale)
        line.before, line.after, line.quantity, line.note = said.before, said.after, said.quantity, said.note.strip()
        _keep_sent(line, said, weighed)
        if shown and recorded not in {shown, line_mark(line)} and line.pk:
            raise ChangedMeanwhile(
                f"{line.last_by} changed this entry since the page was opened; above it says what is recorded now. "
                "Save again to put yours in its place."
            )
        line.written(by)
        if not line.pk or read != (line.container_id, line.before, line.quantity):
            line.entered_at = _entered_at(job, line, said.at)
        if not said.is_blank:
            check_entry(job, line)
        line.save()
        job.version += 1
        job.reasons = {**job.reasons, **(sure or {})}
        job.save(update_fields=["version", "reasons"])
        _saved(job, STEP_OF[action], by)
        return line


def _keep_sent(line: JobLine, said: LineSaid, weighed: tuple) -> None:
    """What the scale sent stays with a weight that stays, of the same container on the same scale; a weight that was
    typed since has none. weighed: container, scale and weights as they were recorded."""
    same = weighed[:2] == (line.container_id, line.scale_id)
    if said.before_raw or not same or weighed[2] != line.before:
        line.before_raw = said.before_raw
    if said.after_raw or not same or weighed[3] != line.after:
        line.after_raw = said.after_raw


PHONE_OFF = dt.timedelta(minutes=5)  # how far a phone's clock may be from the server's


def may_be_told(job: Job, at: dt.datetime) -> bool:
    """Whether a moment by a phone's clock can be one of a job: after its start, and come by now."""
    return job.started_at - PHONE_OFF <= at <= timezone.now() + PHONE_OFF


def _entered_at(job: Job, line: JobLine, typed: dt.datetime | None) -> dt.datetime:
    """The moment of a line's reading before: now, or when it was typed without the network, as far as the phone's clock
    can be believed; the reading after does not make it younger. A correction says what was done then: a line keeps its
    moment, and a new one has that of the line before it."""
    if not job.corrects_id:
        now = timezone.now()
        return min(typed, now) if typed is not None and may_be_told(job, typed) else now
    return line.entered_at or max((one.entered_at for one in job.lines.all()), default=job.started_at)


def line_mark(line: JobLine) -> str:
    """A mark of what a line says, for a page to carry."""
    container, scale = line.container, line.scale
    named = (container.code if container else "", scale.code if scale else "")
    return mark((*named, line.before, line.after, line.quantity, line.note))


def _container(code: str, action: str) -> Container | None:
    if not code:
        if action in {"line-loss", "oil-drain"}:
            return None
        raise Refused("Name the container: scan its label, or pick it from the list.", "container")
    found = Container.objects.filter(code=code.strip()).first()
    if found is None:
        raise Refused(f"There is no container {code!r}; check the code on its label.", "container")
    return found


def _scale(code: str) -> Scale | None:
    if not code:
        return None
    found = Scale.objects.filter(code=code.strip(), retired=False).first()
    if found is None:
        raise Refused(f"There is no scale {code!r}; pick one from the list.", "scale")
    return found


def check_entry(job: Job, entered: JobLine) -> None:
    """Run the draft's lines with this one among them, posting nothing; refuse what this one gets wrong."""
    _check_by_step(job, entered)
    lines = [line for line in entries_of(job) if line.key != entered.key]
    lines.append(entered)
    try:
        preview(job, lines, usual_scale())
    except Refused as refused:
        if getattr(refused, "line", len(lines) - 1) == len(lines) - 1:
            raise Refused(refused.message, refused.field) from None


def _check_by_step(job: Job, entered: JobLine) -> None:
    """What an entry may not be because of the steps before it: charged with a leak open, oil that would conduct."""
    if entered.action == "charge" and job.leak_result == "found, not repaired":
        verdict = charged_with_leak(Shop.current().rules, system_of(job.unit, substance=job.substance), job.day)
        if verdict.is_refused:
            raise Refused(
                f"A leak was found and is not repaired; nothing may be charged before it is ({verdict.cited}). "
                "Repair it and record that first."
            )
    if entered.action == "recover" and entered.container is not None:
        try:
            refuse_overdue(entered.container, job.day)
        except Refused as refused:
            raise Refused(refused.message, "container") from None
    if entered.action == "oil-add" and entered.container and entered.container.is_oil:
        doubt = oil_doubt(job.unit.oil, entered.container.substance.code, job.unit.high_voltage_compressor)
        if doubt and doubt[1]:
            raise Refused(doubt[0], "container")


def kept_apart(job: Job) -> Identity | None:
    """What the identification says, by the rulebook's least purity; None where nothing was identified."""
    found = Shop.current().rules.practice("purity_least_percent", job.day)
    least = float(found.value) if found else PURITY_LEAST_PERCENT
    return identity(job.substance, job.identified_as, job.purity_percent, least)


def _apart(job: Job) -> bool:
    found = kept_apart(job) if job.identified_as or job.purity_percent is not None else None
    return found is not None and found.apart


def usual_scale() -> Scale | None:
    return Scale.objects.filter(usual=True).first()


def preview(job: Job, lines: Sequence[JobLine], usual: Scale | None) -> tuple[Totals, Holdings]:
    """What the job would post if it were signed now, worked out on copies. Raises LineRefused, whose line
    counts in `lines` (as entries_of has them). A line with the weight before alone moves nothing yet, and its
    weighing counts; one without any is left out."""
    holdings = Holdings(held_of(job, lines))
    holdings.begin(job.day)
    holdings.customer = customer_of(job)
    whole = [line for line in lines if line.amount is not None or line.is_on_scale]
    read = [
        replace(line, after=line.before) if row.is_on_scale else line
        for row, line in zip(whole, lines_of(job, whole, usual), strict=True)
    ]
    try:
        totals = post_lines(holdings, read, job.unit.code, job.substance, _apart(job), True)
    except Refused as refused:
        if hasattr(refused, "line"):
            refused.line = lines.index(whole[refused.line])
        raise
    return totals, holdings


def remove_line(job_id: int, *, by: Person, key: uuid.UUID) -> None:
    """Take an entry off a draft; one that is gone already stays gone."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        if job.lines.filter(key=key).delete()[0]:
            job.version += 1
            job.save(update_fields=["version"])


def drop_job(job_id: int, *, by: Person) -> None:
    """Give up a draft. It moved nothing; its entries stay readable."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        check_answers_for(job, by)
        job.state = "dropped"
        job.version += 1
        job.save(update_fields=["state", "version"])
