"""The photos of a job."""

import uuid
from collections.abc import Sequence

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.db.models import QuerySet

from inventory.attachments.actions import Photo, attach, choose, withdraw
from inventory.attachments.models import Attachment
from inventory.attachments.queries import attachments_of
from inventory.shop.once import made_by, recorded
from inventory.text.refusal import Refused
from jobs.drafts.actions import draft_for
from jobs.drafts.models import Job, JobLine
from jobs.drafts.photo_proofs import check_proof, tell_proofs
from jobs.drafts.signatures import SIGNATURE
from jobs.drafts.wording import Reader
from jobs.people.models import Person

PHOTOS = 24  # of one job: more is a film


def add_photo(job_id: int, *, by: Person, upload: UploadedFile, title: str, key: uuid.UUID, photo: Photo) -> Attachment:
    """Keep a photo with a draft. photo: which reading of the job it proves, too (`check_proof`). Raises Refused for
    what is no picture, and for a reading that the job has not."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        recorded()  # before they are counted: one that arrives again is none more
        if (known := made_by(Attachment, key)) is not None:
            return known
        subject = f"job:{job.pk}"
        if attachments_of(subject).exclude(proves__startswith=SIGNATURE).count() >= PHOTOS:
            raise Refused(f"This job has {PHOTOS} photos already; withdraw one that says nothing.", "file")
        check_proof(job, photo.proves)
        found = attach(subject=subject, upload=upload, by=by.username, title=title, key=key, photo=photo)
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


def photos_of(job: Job) -> QuerySet[Attachment]:
    """A job's photos in their order; those of the revisions that it corrects come first."""
    numbers = [job.pk]
    if job.revision > 1:
        earlier = Job.objects.filter(number=job.number, revision__lt=job.revision)
        numbers = [*earlier.values_list("pk", flat=True), job.pk]
    found = Attachment.objects.filter(subject__in=[f"job:{pk}" for pk in numbers], withdrawn_at=None)
    return found.exclude(proves__startswith=SIGNATURE)


def photos_told(job: Job, lines: Sequence[JobLine], reader: Reader) -> list[Attachment]:
    """A job's photos, each with `proves_said`: the reading that it proves, in words; blank where it names none. job,
    lines: as they are shown, of a signed job as it was signed."""
    return tell_proofs(list(photos_of(job)), job, lines, reader)
