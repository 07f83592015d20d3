"""What the customer signed on the glass: a picture kept as evidence with a draft, at most one that stands.

It is a picture with a name and a moment. What makes a job's voucher is the technician's signature alone.
"""

import uuid

from django.core.files.uploadedfile import SimpleUploadedFile, UploadedFile
from django.db import transaction
from django.db.models import QuerySet

from inventory.attachments.actions import Photo, attach, withdraw
from inventory.attachments.models import Attachment
from inventory.attachments.queries import attachments_of
from inventory.paper.lettering import written
from inventory.shop.once import made_by, recorded
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from jobs.drafts.actions import draft_for
from jobs.drafts.models import Job
from jobs.people.models import Person

SIGNATURE = "signature"  # begins what such a picture proves: `signature:drawn:7`, on the draft's seventh change
DRAWN, TYPED = "drawn", "typed"
MOST_BYTES = 300_000
PNG = b"\x89PNG\r\n\x1a\n"
REPLACED = "a new signature took its place"


def add_signature(job_id: int, *, by: Person, name: str, upload: UploadedFile | None, key: uuid.UUID) -> Attachment:
    """Keep what a customer drew, or their typed name where nothing was drawn. name: who signed. One that stood is
    withdrawn. The same key signs once. Raises Refused."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        recorded()
        if (known := made_by(Attachment, key)) is not None:
            return known
        name = clean(name, "name", 100)
        if not name:
            raise Refused("Write the name of whoever signs beside the signature.", "name")
        how = DRAWN if upload is not None else TYPED
        if upload is None:
            upload = SimpleUploadedFile("signature.png", written(name), "image/png")
        _check(upload)
        for standing in signatures_of(job):
            withdraw(standing.pk, by=by.username, why=REPLACED)
        photo = Photo(chosen=True, proves=f"{SIGNATURE}:{how}:{job.version}")
        return attach(subject=f"job:{job.pk}", upload=upload, by=by.username, title=name, key=key, photo=photo)


def _check(upload: UploadedFile) -> None:
    """A small PNG, as the page's canvas gives it."""
    head = upload.read(len(PNG))
    upload.seek(0)
    if head != PNG:
        raise Refused("A signature is a PNG picture, as the page makes it: clear it and sign again.", "file")
    if upload.size > MOST_BYTES:
        raise Refused(f"This picture is larger than a signature ({MOST_BYTES // 1000} kB); sign again.", "file")


def take_signature_back(job_id: int, *, by: Person, why: str) -> None:
    """Withdraw the signature that stands on a draft, saying why; where none does, nothing is to be done."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        for standing in signatures_of(job):
            withdraw(standing.pk, by=by.username, why=why)


def signatures_of(job: Job) -> QuerySet[Attachment]:
    return attachments_of(f"job:{job.pk}").filter(proves__startswith=SIGNATURE)


def signature_of(job: Job) -> Attachment | None:
    """The one that stands, with `how` (DRAWN or TYPED) and `changed`: whether the draft was changed since. Another
    revision is signed anew."""
    found = signatures_of(job).last()
    if found is not None:
        _, found.how, version = found.proves.split(":")
        found.changed = job.version - (job.signed_at is not None) != int(version)
    return found
