"""Signing a job, and correcting one: each is one transaction.

Signing posts one voucher. Correcting makes the next revision, a draft again, which on signing takes the old
voucher back and posts the new one in its place."""

from collections.abc import Callable, Iterable, Mapping, Sequence

from django.db import transaction
from django.utils import timezone

from inventory.containers.models import Scale
from inventory.containers.placing import EntryHead
from inventory.containers.preview import WouldPost, would_post
from inventory.containers.recorder import Recorder, recording
from inventory.reference.rule import Gas
from inventory.reference.rulebook import Rulebook
from inventory.shop.clock import now
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from inventory.verdicts.verdict import Verdict
from jobs.drafts.actions import ChangedMeanwhile, _apart, check_own_draft, usual_scale
from jobs.drafts.fields import CARRIED
from jobs.drafts.hold import hold_of
from jobs.drafts.models import Job, JobHand, JobLine, JobStep
from jobs.drafts.queries import customer_of, entries_of, entry_head, held_of, lines_of
from jobs.lines.posting import Line, post_lines
from jobs.lines.totals import totals_of
from jobs.people.models import Certificate, Person
from jobs.people.queries import certificates_held
from jobs.signing.detail import job_detail
from jobs.signing.doing import designed_for, worked_on
from jobs.signing.judged import kept
from jobs.signing.objections import Facts, Objection, certificate_verdicts, foreseen, objections
from jobs.signing.origins import USED, origins_of
from jobs.signing.queries import fills_in, overdue_in, retests_in, used_since

# What else the rulebook says of a job, by its totals: rooms above this one know it.
said_of_jobs: list[Callable[[Job, Rulebook], Iterable[Verdict]]] = []
HAND = ("person_id", "since", "by_id", "handed_to_id", "note", "ended", "ended_by_id")  # of a job, to its correction
ALLOWED = {"met", "confirm"}  # what a certificate comes to, where a job is signed under it


class NotSignable(Refused):
    """Signing was refused. objections: all that stands in the way."""

    def __init__(self, found: Sequence[Objection]):
        super().__init__(" ".join(objection.message for objection in found))
        self.objections = list(found)


def sign_job(
    job_id: int,
    *,
    by: Person,
    reasons: Mapping[str, str] | None = None,
    version: int | None = None,
    follows: int | None = None,
) -> Job:
    """Post the job. Raises NotSignable with every objection, or Refused; a job signed already is returned.
    version: the one whose summary was signed; ChangedMeanwhile where the draft is another by now. follows: of a job of
    an earlier day whose times do not tell, the voucher after which it came (0: before all); OrderAsked where that is
    to be said."""
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
        job.follows = job.follows if follows is None else follows
        rows = entries_of(job)
        usual = usual_scale()
        lines = lines_of(job, rows, usual)
        recorder.know((row.container for row in rows if row.container), (row.scale or usual for row in rows))
        head, moments = entry_head(job, rows, by.username)
        recorder.open(head, {row.container.code for row in rows if row.container}, moments)
        shop, certificates = Shop.current(), certificates_held(job.technician, job.day)
        facts = _gathered(job, rows, lines, recorder.holdings.containers, certificates, shop)
        standing = objections(facts, shop.rules)
        found = [o for o in standing if o.refuses or o.key not in job.reasons]
        if found:
            raise NotSignable(found)
        job.certificate = f"{certificates[0].scheme} {certificates[0].number}" if certificates else ""
        number = _post(job, lines, recorder, head)
        job.state, job.voucher_id = "signed", number
        for name, total in totals_of(lines).columns().items():
            setattr(job, name, total)
        job.verdicts = _verdicts(job, standing, facts, shop.rules)
        job.signed_at, job.signed_by = timezone.now(), by
        job.version += 1
        job.save()  # while its voucher is open: its record goes under it
    return job


def _verdicts(job: Job, standing: Sequence[Objection], facts: Facts, rules: Rulebook) -> list[dict]:
    """What the rulebook says of a job that is being signed, to be kept with it."""
    allowed = [one for one in certificate_verdicts(facts, rules).values() if one.answer in ALLOWED]
    return kept(standing, allowed, [one for say in said_of_jobs for one in say(job, rules)])


def would_sign(job: Job, rows: Sequence[JobLine], usual: Scale | None) -> list[WouldPost]:
    """The vouchers that signing this draft would post, whatever still stands in the way of the signature; lines without
    all their weights are left out. Nothing is posted. Raises Refused where it cannot be posted so, and OrderAsked where
    its place among others of its day is to be said first. rows: entries_of."""
    whole = [row for row in rows if row.amount is not None]

    def act() -> None:
        with recording() as recorder:
            recorder.know((row.container for row in whole if row.container), (row.scale or usual for row in whole))
            head, moments = entry_head(job, whole, job.technician.username)
            recorder.open(head, {row.container.code for row in whole if row.container}, moments)
            lines = lines_of(job, whole, usual)
            recorder.holdings.customer = customer_of(job)
            post_lines(recorder.holdings, lines, job.unit.code, job.substance, _apart(job), True)
            recorder.post(head)

    return would_post(act)


def standing_objections(
    job: Job, rows: Sequence[JobLine] | None = None, usual: Scale | None = None, shop: Shop | None = None
) -> list[Objection]:
    """What would stand in the way of signing this draft now, reasons given or not."""
    return standing_and_foreseen(job, rows, usual, shop)[0]


def standing_and_foreseen(
    job: Job, rows: Sequence[JobLine] | None = None, usual: Scale | None = None, shop: Shop | None = None
) -> tuple[list[Objection], dict[str, Objection]]:
    """What would stand in the way of signing this draft now, and, for each work that may still be done on it, what
    the technician's papers will be asked then; for the page, which has rows (entries_of), the usual scale and the shop
    at hand."""
    rows = entries_of(job) if rows is None else rows
    lines = lines_of(job, rows, usual or usual_scale())
    held = held_of(job, rows)
    shop = shop or Shop.current()
    certificates = certificates_held(job.technician, job.day)
    facts = _gathered(job, rows, lines, held, certificates, shop)
    return objections(facts, shop.rules), foreseen(facts, shop.rules)


def _gathered(
    job: Job,
    rows: Sequence[JobLine],
    lines: Sequence[Line],
    held: Mapping,
    certificates: Sequence[Certificate],
    shop: Shop,
) -> Facts:
    day = now().astimezone(shop.zone).date()
    hold = hold_of(job, shop)
    totals = totals_of(lines)
    return Facts(
        day=job.day,
        today=day,
        technician=job.technician.name,
        equipment=job.unit.equipment,
        system=worked_on(job, _full_charge(job)),
        trainee_since=job.technician.trainee_since,
        gases=_gases(job, rows, lines, held),
        substance=job.substance,
        charge_min_mg=job.charge_min_mg,
        charge_max_mg=job.charge_max_mg,
        system_opened=job.system_opened,
        evacuated=job.evacuated,
        held=job.hold_ended is not None or job.hold_end_pa is not None,
        hold_failed=hold.sentence if hold is not None and not hold.passed else "",
        leak_result=job.leak_result,
        charged=totals.charged,
        recovered=totals.recovered,
        said_something=bool(job.repairs or job.note or job.identified_as) or job.leak_result != "not checked",
        lines=lines,
        containers=held,
        schemes=[one.scheme for one in certificates],
        designed_for=designed_for(job.unit),
        oil=job.unit.oil,
        high_voltage=job.unit.high_voltage_compressor,
        used_since={} if job.corrects_id else used_since(rows, job),
        fills=fills_in(rows, job, held, shop.rules),
        overdue=overdue_in(rows, job, shop.rules),
        retests=retests_in(rows, job, shop.rules),
    )


def _full_charge(job: Job) -> int | None:
    """What the unit holds when it is full: as somebody entered it, else the most on its label."""
    found = job.unit.full_charge_on(job.day)
    return found[0] if found is not None and found[1] != "label" else job.charge_max_mg or job.unit.charge_target_mg


def _gases(job: Job, rows: Sequence[JobLine], lines: Sequence[Line], held: Mapping) -> dict[str, Gas]:
    """What the containers charged from hold, and where that came from."""
    charged = {line.container for line in lines if line.action == "charge" and line.container in held}
    used = sorted(code for code in charged if held[code].grade in USED)
    recovered = {line.container: job.unit for line in lines if line.action == "recover"}
    origins = origins_of(used, recovered)
    labels = {row.container.code: row.container for row in rows if row.container is not None}
    return {
        code: origins.gas(job.unit, code, held[code].grade, labels[code].says_of(held[code].grade))
        for code in sorted(charged)
    }


def _post(job: Job, lines: Sequence[Line], recorder: Recorder, head: EntryHead) -> int:
    detail = job_detail(
        unit=job.unit, lines=lines, job=job.number, revision=job.revision, technician=job.technician.username
    )
    recorder.holdings.customer = customer_of(job)
    post_lines(recorder.holdings, lines, job.unit.code, job.substance, _apart(job), True)
    number = recorder.post(head, detail)
    if job.corrects_id:
        earlier = Job.objects.get(pk=job.corrects_id)
        earlier.state = "corrected"
        earlier.save(update_fields=["state"])
    return number


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
            dropped.corrects = None
            dropped.save(update_fields=["corrects"])
        new = Job.objects.create(
            number=job.number,
            revision=revision,
            corrects=job,
            correction_note=note.strip(),
            **job.said(CARRIED),
        )
        for one in job.steps.all():
            JobStep.objects.create(job=new, step=one.step, by_id=one.by_id, at=one.at, skipped=one.skipped)
        for one in job.hands.all():
            said = {name: getattr(one, name) for name in HAND}
            JobHand.objects.create(job=new, **said)
        for line in job.lines.all():
            JobLine.objects.create(
                job=new,
                position=line.position,
                action=line.action,
                container_id=line.container_id,
                scale_id=line.scale_id,
                before=line.before,
                after=line.after,
                quantity=line.quantity,
                before_raw=line.before_raw,
                after_raw=line.after_raw,
                note=line.note,
                entered_at=line.entered_at,
                entered_by_id=line.entered_by_id,
                changed_by_id=line.changed_by_id,
            )
        return new
