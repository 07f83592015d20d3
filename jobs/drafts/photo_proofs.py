"""Which reading of a job a photo proves: a weight of one of its entries, or a field that was typed off a display."""

import uuid
from collections.abc import Mapping, Sequence

from inventory.attachments.models import Attachment
from inventory.text.refusal import Refused
from jobs.drafts.fields import BY_NAME
from jobs.drafts.models import Job, JobLine
from jobs.drafts.wording import Reader, said_of

ENTRY = "entry"  # JobLine.proof_before and the others: `entry:` its key `:` one of WEIGHTS; else the name of a field
WEIGHTS = ("before", "after", "quantity")


def _entry(proves: str) -> tuple[uuid.UUID, str] | None:
    """The entry's key and the weight; None where it is not about an entry."""
    kind, _, rest = proves.partition(":")
    key, _, weight = rest.partition(":")
    if kind != ENTRY or weight not in WEIGHTS:
        return None
    try:
        return uuid.UUID(key), weight
    except ValueError:
        return None


def check_proof(job: Job, proves: str) -> None:
    """Raises Refused where a draft has no such reading."""
    entry = _entry(proves)
    if entry is not None:
        if not job.lines.filter(key=entry[0]).exists():
            raise Refused(
                "The photo is of an entry that is not on this job: save the weight first, and photograph it then; or "
                "keep the photo among the others.",
                "file",
            )
    elif proves and not (proves in BY_NAME and BY_NAME[proves].step):
        raise Refused("The photo is of a reading that a job does not have; keep it among the others.", "file")


def tell_proofs(photos: Sequence[Attachment], job: Job, lines: Sequence[JobLine], reader: Reader) -> list[Attachment]:
    """The photos, each with `proves_said`. Of an earlier revision's photo, what that revision said."""
    jobs = {f"job:{job.pk}": job}
    entries = {line.key: line for line in lines}
    if any(photo.proves for photo in photos):
        _add_earlier(photos, jobs, entries)
    for photo in photos:
        photo.proves_said = _said(photo, jobs, entries, reader)
        shown = jobs.get(photo.subject)
        if photo.proves_said and shown is not None and shown is not job:
            photo.proves_said = f"revision {shown.revision}, {photo.proves_said}"
    return list(photos)


def _add_earlier(photos: Sequence[Attachment], jobs: dict[str, Job], entries: dict[uuid.UUID, JobLine]) -> None:
    """The earlier revisions that photos are of, and their entries."""
    numbers = {int(one.subject.partition(":")[2]) for one in photos if one.proves and one.subject not in jobs}
    if numbers:
        jobs |= {f"job:{one.pk}": one for one in Job.objects.filter(pk__in=numbers)}
        earlier = JobLine.objects.filter(job__in=numbers).select_related("container")
        entries |= {one.key: one for one in earlier if one.key not in entries}


def _said(photo: Attachment, jobs: Mapping[str, Job], entries: Mapping[uuid.UUID, JobLine], reader: Reader) -> str:
    entry = _entry(photo.proves)
    if entry is None:
        known = photo.proves in BY_NAME and photo.subject in jobs
        return said_of(jobs[photo.subject], photo.proves, reader) if known else ""
    line, weight = entries.get(entry[0]), entry[1]
    if line is None:
        return "an entry that was removed since"
    value = getattr(line, weight)
    of = line.container.code if line.container else line.get_action_display()
    volume = line.is_oil and weight == "quantity"
    said = "not weighed" if value is None else reader.volume(value) if volume else reader.mass(value)
    return f"{of} {weight}: {said}"
