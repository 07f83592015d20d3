"""The verbs of a job: start, enter, sign, correct, drop. Each is one transaction.

A draft moves nothing. Signing posts one voucher; correcting makes the next revision, a draft again, which
on signing reverses the old voucher and posts the new one in its place.
"""

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from inventory.attachments.actions import attach, choose, withdraw
from inventory.attachments.models import Attachment
from inventory.attachments.queries import attachments_of
from inventory.containers.actions import came_after, refuse_overdue
from inventory.containers.amending import Amendment
from inventory.containers.book import Book
from inventory.containers.models import Container, Scale
from inventory.containers.recorder import PostedBefore, Recorder, recording
from inventory.ledger.actions import clean, take_turn
from inventory.ledger.queries import last_seal
from inventory.ledger.refusal import Refused
from inventory.shop.clock import now, today
from inventory.shop.models import Shop
from jobs.people.models import Certificate, Person
from jobs.people.queries import certificates_held
from jobs.units.models import Unit
from jobs.work.detail import job_detail, unit_about
from jobs.work.hold import hold_of
from jobs.work.identity import PURITY_LEAST_PERCENT, Identity, identity
from jobs.work.models import Job, JobLine, JobStep
from jobs.work.oil_plan import oil_doubt
from jobs.work.posting import Line, Totals, post_lines
from jobs.work.queries import (
    USED,
    destinations_of,
    entries_of,
    held_of,
    lines_of,
    overdue_in,
    photos_of,
    room_left_in,
    used_since,
)
from jobs.work.shown import mark, merge
from jobs.work.signing import STEP_OF, Facts, Objection, objections
from jobs.work.steps import STEPS

# What a revision takes over from the one that it corrects.
CARRIED = (
    "unit_id", "technician_id", "day", "started_at", "substance", "charge_min_mg", "charge_max_mg", "complaint",
    "identified_as", "identified_how", "purity_percent", "system_opened", "repairs", "leak_method", "leak_detector",
    "leak_result", "parts", "compressor_drained_ul", "accumulator_drained_ul", "static_said", "static_pa",
    "evacuation_started", "evacuation_ended", "vacuum_said", "vacuum_pa", "hold_started", "hold_ended",
    "hold_start_said", "hold_start_pa", "hold_end_said", "hold_end_pa", "ambient_c", "vent_c", "humidity_percent",
    "low_side_said", "high_side_said", "note", "reasons",
)  # fmt: skip
EDITABLE = frozenset(CARRIED) - {"unit_id", "technician_id", "started_at"} | {"correction_note", "unit", "technician"}


class NotSignable(Refused):
    """Signing was refused. objections: all that stands in the way."""

    def __init__(self, found: Sequence[Objection]):
        super().__init__(" ".join(objection.message for objection in found))
        self.objections = list(found)


class ChangedMeanwhile(Refused):
    """Someone else changed the draft since this page showed it. clashes: the fields that both wrote."""

    def __init__(self, message: str, clashes: Sequence[str] = ()):
        super().__init__(message)
        self.clashes = tuple(clashes)


def start_job(*, unit: Unit, technician: Person, by: Person, day: dt.date | None = None, key: uuid.UUID) -> Job:
    """A draft for a unit, with the refrigerant and label charge known of it. The same key starts one job."""
    with transaction.atomic():
        take_turn()
        known = Job.objects.filter(key=key).first()
        if known:
            return known
        day = day or today()
        if day > today():
            raise Refused(f"{day} has not come yet; a job starts today or started earlier.", "day")
        if not technician.is_active:
            raise Refused(f"{technician} no longer works here; name someone who does.", "technician")
        return Job.objects.create(
            number=_next_number(), unit=unit, technician=technician, day=day, started_at=timezone.now(), key=key,
            substance=unit.refrigerant, charge_min_mg=unit.charge_least_mg, charge_max_mg=unit.charge_most_mg,
        )  # fmt: skip


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
    if job.technician_id != by.pk and by.role == "technician":
        raise Refused(f"Job {job.title} is {job.technician}'s; ask them, or the office, to change it.")


def change_job(
    job_id: int, *, by: Person, shown: Mapping[str, str] | None = None, step: str = "", **fields: object
) -> Job:  # fmt: skip
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
        changed = {name for name, value in merged.values.items() if getattr(job, name) != value}
        least, most = (merged.values.get(n, getattr(job, n)) for n in ("charge_min_mg", "charge_max_mg"))
        if least is not None and most is not None and least > most:
            raise Refused(
                "The least charge would be more than the most, which somebody changed meanwhile. Reload the page, and "
                "write both as the label has them.",
                "charge_min_mg",
            )
        if fields.get("day") and fields["day"] > today():
            raise Refused(f"{fields['day']} has not come yet; date the job today or earlier.", "day")
        for name in changed:
            setattr(job, name, merged.values[name])
        if changed or step:
            job.version += 1
            job.save(update_fields=[*changed, "version"])
            _saved(job, step, by)
        return job


def _saved(job: Job, step: str, by: Person, skipped: str = "") -> None:
    if step in STEPS:
        JobStep.objects.update_or_create(
            job=job, step=step, defaults={"by": by, "at": timezone.now(), "skipped": skipped}
        )  # fmt: skip


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


# Each clock with the one that must have run a minute before it can be stopped.
CLOCKS = {
    "evacuation_started": "", "evacuation_ended": "evacuation_started", "hold_started": "",
    "hold_ended": "hold_started",
}  # fmt: skip


PHONE_OFF = dt.timedelta(minutes=5)  # how far a phone's clock may be from the server's


def tap_clock(job_id: int, *, by: Person, clock: str, at: dt.datetime | None = None) -> Job:
    """Keep this moment, to the minute, as the one of CLOCKS named. One that is set stays: two people, or a late
    answer, do not move it. A stop within the minute of its start is a finger that came down twice.
    at: the moment by the phone's clock, of a tap that found no network. Raises Refused for one that cannot be."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        moment = timezone.now()
        if at is not None:
            if not job.started_at - PHONE_OFF <= at <= moment + PHONE_OFF:
                raise Refused(
                    f"By the phone's clock this was tapped at {timezone.localtime(at):%Y-%m-%d %H:%M}, which is before "
                    "the job was started or has not come yet. Set the phone's clock, and enter the time by hand."
                )
            moment = min(at, moment)
        moment = moment.replace(second=0, microsecond=0)
        start = getattr(job, CLOCKS[clock]) if CLOCKS[clock] else None
        if getattr(job, clock) is None and (start is None or start < moment):
            setattr(job, clock, moment)
            job.version += 1
            job.save(update_fields=[clock, "version"])
            _saved(job, "evacuate", by)
        return job


def enter_line(
    job_id: int, *, by: Person, key: uuid.UUID, action: str, container: str = "", scale: str = "",
    before: int | None = None, after: int | None = None, quantity: int | None = None, note: str = "", shown: str = "",
) -> JobLine:  # fmt: skip
    """Enter or change a line of a draft; `key` says which, so that what arrives twice counts once.
    A weight may still be missing; what is there is checked against the containers as they stand.
    shown: `line_mark` of what the page showed; ChangedMeanwhile where someone else changed the line since."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        line = JobLine.objects.filter(key=key).first()
        if line is not None and line.job_id != job.pk:
            raise Refused("This entry belongs to another job; open the page again.")
        if line is None:
            last = job.lines.order_by("-position").values_list("position", flat=True).first()
            line = JobLine(job=job, key=key, position=(last or 0) + 1)
        recorded, read = line_mark(line), (line.container_id, line.before, line.quantity)
        line.action = action
        line.container = _container(container, action)
        line.scale = _scale(scale)
        line.before, line.after, line.quantity, line.note = before, after, quantity, note.strip()
        if shown and recorded not in {shown, line_mark(line)} and line.pk:
            raise ChangedMeanwhile(
                f"{line.entered_by} changed this entry since the page was opened; above it says what is recorded now. "
                "Save again to put yours in its place."
            )
        line.entered_by = by
        if not line.pk or read != (line.container_id, line.before, line.quantity):
            line.entered_at = timezone.now()  # of the reading before; the one after does not make it younger
        if not (before is None and after is None and quantity is None):
            check_entry(job, line)
        line.save()
        job.version += 1
        job.save(update_fields=["version"])
        _saved(job, STEP_OF[action], by)
        return line


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
        rule = Shop.current().book.leak_repair(job.unit.equipment, job.substance, job.day)
        if rule is not None and rule.stops_charge:
            raise Refused(
                f"A leak was found and is not repaired; nothing may be charged before it is ({rule.citation}). "
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
    found = Shop.current().book.practice("purity_least_percent", job.day)
    least = float(found.value) if found else PURITY_LEAST_PERCENT
    return identity(job.substance, job.identified_as, job.purity_percent, least)


def _apart(job: Job) -> bool:
    found = kept_apart(job) if job.identified_as or job.purity_percent is not None else None
    return found is not None and found.apart


PHOTOS = 24  # of one job: more is a film


def add_photo(job_id: int, *, by: Person, upload: UploadedFile, title: str, key: uuid.UUID, chosen: bool) -> Attachment:
    """Keep a photo with a draft. Raises Refused for what is none."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        subject = f"job:{job.pk}"
        if attachments_of(subject).count() >= PHOTOS:
            raise Refused(f"This job has {PHOTOS} photos already; withdraw one that says nothing.", "file")
        found = attach(
            subject=subject, upload=upload, by=by.username, title=title, key=key, pictures_only=True, chosen=chosen
        )  # fmt: skip
        job.version += 1
        job.save(update_fields=["version"])
        return found


def change_photo(job_id: int, *, by: Person, photo: int, chosen: bool | None = None, why: str = "") -> None:
    """Choose a photo of a draft for its sheet or not, or withdraw it, saying why."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        if not attachments_of(f"job:{job.pk}").filter(pk=photo).exists():
            raise Refused("That photo is not one of this job's; open the page again.")
        if chosen is None:
            withdraw(photo, by=by.username, why=why)
        else:
            choose(photo, chosen)
        job.version += 1
        job.save(update_fields=["version"])


def usual_scale() -> Scale | None:
    return Scale.objects.filter(usual=True).first()


def preview(job: Job, lines: Sequence[JobLine], usual: Scale | None) -> tuple[Totals, Book]:
    """What the job would post if it were signed now, worked out on copies. Raises LineRefused, whose line
    counts in `lines` (as entries_of has them). A line with the weight before alone moves nothing yet, and its
    weighing counts; one without any is left out."""
    book = Book(held_of(job, lines))
    book.mark()
    whole = [line for line in lines if line.amount is not None or line.is_on_scale]
    read = [
        replace(line, after=line.before) if row.is_on_scale else line
        for row, line in zip(whole, lines_of(whole, usual), strict=True)
    ]
    try:
        totals = post_lines(book, read, job.unit.code, job.substance, _apart(job), True)
    except Refused as refused:
        if hasattr(refused, "line"):
            refused.line = lines.index(whole[refused.line])
        raise
    return totals, book


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
        job.state = "dropped"
        job.version += 1
        job.save(update_fields=["state", "version"])


# -- signing -------------------------------------------------------------------------------------


def sign_job(
    job_id: int, *, by: Person, reasons: Mapping[str, str] | None = None, version: int | None = None
) -> Job:  # fmt: skip
    """Post the job. Raises NotSignable with every objection, or Refused; a job signed already is returned.
    version: the one whose summary was signed; ChangedMeanwhile where the draft is another by now."""
    with recording() as recorder:
        job = Job.objects.select_for_update(of=("self",)).select_related("unit__customer", "technician").get(pk=job_id)
        if job.state in {"signed", "corrected"}:
            return job
        check_own_draft(job, by)
        if by.pk != job.technician_id and by.role != "owner":
            raise Refused(f"Only {job.technician} or the owner can sign job {job.title}.")
        if version is not None and version != job.version:
            raise ChangedMeanwhile(
                f"Job {job.title} was changed since this summary was made, so it is not signed yet. Below is what it "
                "says now; look it over and sign again."
            )
        job.reasons = {**job.reasons, **{key: text.strip() for key, text in (reasons or {}).items() if text.strip()}}
        rows = entries_of(job)
        usual = usual_scale()
        lines = lines_of(rows, usual)
        recorder.know((row.container for row in rows if row.container), (row.scale or usual for row in rows))
        shop, certificates = Shop.current(), certificates_held(job.technician, job.day)
        day = now().astimezone(shop.zone).date()
        facts = _gathered(job, rows, lines, recorder.book.containers, day, certificates, shop)
        found = [o for o in objections(facts, shop.book) if o.refuses or o.key not in job.reasons]
        if found:
            raise NotSignable(found)
        job.certificate = f"{certificates[0].scheme} {certificates[0].number}" if certificates else ""
        number = _post(job, lines, recorder, by)
        recorder.flush()
        job.state, job.voucher_id = "signed", number
        job.signed_at, job.signed_by = timezone.now(), by
        job.version += 1
        job.save()
    return job


def standing_objections(
    job: Job, rows: Sequence[JobLine] | None = None, usual: Scale | None = None, shop: Shop | None = None
) -> list[Objection]:
    """What would stand in the way of signing this draft now, reasons given or not; for the page, which has
    rows (entries_of), the usual scale and the shop at hand."""
    rows = entries_of(job) if rows is None else rows
    lines = lines_of(rows, usual or usual_scale())
    held = held_of(job, rows)
    shop = shop or Shop.current()
    certificates = certificates_held(job.technician, job.day)
    day = now().astimezone(shop.zone).date()
    return objections(_gathered(job, rows, lines, held, day, certificates, shop), shop.book)


def _gathered(
    job: Job, rows: Sequence[JobLine], lines: Sequence[Line], held: Mapping, day: dt.date,
    certificates: Sequence[Certificate], shop: Shop,
) -> Facts:  # fmt: skip
    hold = hold_of(job, shop)
    charged = sum(row.amount or 0 for row in rows if row.action == "charge")
    lost = sum(row.amount or 0 for row in rows if row.action == "line-loss")
    return Facts(
        day=job.day,
        today=day,
        technician=job.technician.name,
        equipment=job.unit.equipment,
        sealed=job.unit.sealed,
        trainee_since=job.technician.trainee_since,
        destinations=destinations_of(job, _used(lines, held)),
        substance=job.substance,
        charge_min_mg=job.charge_min_mg,
        charge_max_mg=job.charge_max_mg,
        system_opened=job.system_opened,
        evacuated=job.evacuation_ended is not None or job.vacuum_pa is not None,
        held=job.hold_ended is not None or job.hold_end_pa is not None,
        hold_failed=hold.sentence if hold is not None and not hold.passed else "",
        leak_result=job.leak_result,
        charged=max(0, charged - lost),
        recovered=sum(row.amount or 0 for row in rows if row.action == "recover"),
        said_something=bool(job.repairs or job.note or job.identified_as) or job.leak_result != "not checked",
        lines=lines,
        containers=held,
        schemes=[one.scheme for one in certificates],
        oil=job.unit.oil,
        high_voltage=job.unit.high_voltage_compressor,
        used_since={} if job.corrects_id else used_since(rows),
        room_left=room_left_in(rows, job),
        overdue=overdue_in(rows, job, shop.book),
        # A correction is dated the day it is made, whatever the day of the work was.
        sealed_through=_sealed_through() if job.day < day and not job.corrects_id else None,
    )


def _used(lines: Sequence[Line], held: Mapping) -> list[str]:
    """Containers charged from that hold refrigerant which came out of a unit."""
    charged = {line.container for line in lines if line.action == "charge" and line.container in held}
    return sorted(code for code in charged if held[code].grade in USED)


def _sealed_through() -> dt.date | None:
    found = last_seal()
    return found.through if found else None


def _post(job: Job, lines: Sequence[Line], recorder: Recorder, by: Person) -> int:
    unit = job.unit
    detail = job_detail(
        job=job.number, revision=job.revision, technician=job.technician.username, certificate=job.certificate,
        customer=unit.customer.name if unit.customer else "", unit=unit.code, unit_said=unit.title, vin=unit.vin,
        substance=job.substance, charge_min_mg=job.charge_min_mg, charge_max_mg=job.charge_max_mg, lines=lines,
        more={
            "reasons": job.reasons,
            # As the sheet says them: a car is sold, a name and a habit change, the paper of this job stays as it was.
            "technician_said": job.technician.name, "signed_by_said": by.name,
            "unit_about": unit_about(unit.title, unit.plate, unit.make_model),
            "photos": [[photo.title, photo.sha256] for photo in photos_of(job)],
            "shown_in": [job.technician.mass_unit, job.technician.volume_unit],
        },
    )  # fmt: skip
    said = {
        "kind": "job", "done_by": job.technician.username, "document": job.title, "note": job.note, "detail": detail,
        "key": f"job:{job.key}",
    }  # fmt: skip
    if job.corrects_id:
        first = job.corrects
        while first.corrects_id:
            first = first.corrects
        amendment = Amendment(recorder, job.corrects.voucher_id, first.voucher_id)
        on = today()
        amendment.take_back(
            day=on, by=by.username, note=job.correction_note, done_by=job.technician.username, replaced=True,
            key=f"job:{job.key}:reversal",
        )  # fmt: skip
        number = amendment.put_in_its_place(
            lambda book: post_lines(book, lines, unit.code, job.substance, _apart(job), True),
            {line.container for line in lines if line.container}, day=on, by=by.username, **said,
        )  # fmt: skip
        amendment.finish(on)
        Job.objects.filter(pk=job.corrects_id).update(state="corrected")
        return number
    recorder.book.mark()
    post_lines(recorder.book, lines, unit.code, job.substance, _apart(job), True)
    late = came_after({reading.code for reading in recorder.book.sheet.readings}, job.day)
    if late:
        raise Refused(
            f"Voucher {late[1].voucher_id} of {late[1].day} changed what is in {late[0]} after {job.day}, the day of "
            "this job: weights of that day cannot be compared with the book any more. Enter the quantity instead of "
            "the two weights, or date the job today if that is when it was done."
        )
    try:
        return recorder.record(day=job.day, recorded_by=by.username, **said)
    except PostedBefore as posted:
        return posted.number


# -- correcting ----------------------------------------------------------------------------------


def correct_job(job_id: int, *, by: Person, note: str) -> Job:
    """The next revision of a signed job, as a draft with all that was entered. A draft that is open already
    is returned: two people correct it together."""
    with transaction.atomic():
        job = Job.objects.select_for_update(of=("self",)).select_related("technician").get(pk=job_id)
        open_one = Job.objects.filter(number=job.number, state="draft").first()
        if open_one:
            return open_one
        if job.state != "signed":
            raise Refused(f"Job {job.title} is {job.state}; only the revision that stands can be corrected.")
        if by.role == "technician" and by.pk != job.technician_id:
            raise Refused(f"Job {job.title} is {job.technician}'s; ask them, or the office, to correct it.")
        if not note.strip():
            raise Refused("Say what was wrong; the reason is kept with both revisions.", "note")
        dropped = Job.objects.filter(corrects=job).first()
        revision = Job.objects.filter(number=job.number).order_by("-revision").first().revision + 1
        if dropped:
            Job.objects.filter(pk=dropped.pk).update(corrects=None)
        new = Job.objects.create(
            number=job.number, revision=revision, corrects=job, correction_note=note.strip(),
            **{name: getattr(job, name) for name in CARRIED},
        )  # fmt: skip
        JobStep.objects.bulk_create(
            JobStep(job=new, step=one.step, by_id=one.by_id, at=one.at, skipped=one.skipped) for one in job.steps.all()
        )
        JobLine.objects.bulk_create(
            JobLine(
                job=new, position=line.position, action=line.action, container_id=line.container_id,
                scale_id=line.scale_id, before=line.before, after=line.after, quantity=line.quantity, note=line.note,
                entered_at=line.entered_at, entered_by_id=line.entered_by_id,
            )
            for line in job.lines.all()
        )  # fmt: skip
        return new
