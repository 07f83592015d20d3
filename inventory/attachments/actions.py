"""Attaching a file, and withdrawing one."""

import hashlib
import os
import uuid
from dataclasses import dataclass

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from inventory.attachments.content import examine, fit_to_draw, safe_name
from inventory.attachments.models import Attachment
from inventory.attachments.scanning import scan
from inventory.ledger.actions import writing
from inventory.ledger.files import read_kept
from inventory.shop.once import made_by, recorded
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@dataclass(frozen=True)
class Photo:
    """What is asked of a file that must be a picture. chosen: whether it is shown in the paper of its subject; proves:
    what of its subject it shows, blank where nothing is named."""

    chosen: bool
    proves: str = ""


def attach(
    *,
    subject: str,
    upload: UploadedFile,
    by: str,
    title: str = "",
    key: uuid.UUID | None = None,
    photo: Photo | None = None,
) -> Attachment:
    """Keep a file with its subject. by: username. photo: None where a picture or a PDF is taken; else only
    a picture is. The same key attaches once. Raises Refused for a file
    of another type, one too large or damaged; then nothing is kept."""
    recorded()
    if (known := made_by(Attachment, key)) is not None:
        return known
    content = examine(upload.file, upload.size, settings.DATA_DIR / "pictures.lock", photo is not None)
    scan(content.body)
    sha256 = hashlib.sha256(content.body).hexdigest()
    found = Attachment(
        subject=subject,
        title=clean(title, "title", 120),
        name=safe_name(upload.name or "", content.suffix),
        type=content.type,
        size=len(content.body),
        sha256=sha256,
        key=key or uuid.uuid4(),
        proves=photo.proves if photo else "",
        chosen=photo is not None and photo.chosen,
        added_by=by,
        added_at=timezone.now(),
    )
    _store(found, content.body)
    with writing():
        if (known := made_by(Attachment, key)) is not None:  # by a second tap, meanwhile
            return known
        found.save()
    return found


def _store(attachment: Attachment, body: bytes) -> None:
    """Whole on the disk before its row is; one that is there already is the same by its name."""
    path = attachment.path
    if path.exists() and path.stat().st_size == len(body):
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f".{path.name}-{os.getpid()}-{uuid.uuid4().hex[:8]}")
    try:
        with unfinished.open("xb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        unfinished.chmod(0o600)
        os.replace(unfinished, path)
    except OSError as error:
        raise Refused(f"The file could not be kept: {error.strerror}. Free some room on the server.", "file") from None
    finally:
        unfinished.unlink(missing_ok=True)


def read_bytes(attachment: Attachment) -> bytes:
    """The file, proved by its digest. Raises Refused where it is not as it was attached."""
    what = f"The file {attachment.name} (attachment {attachment.pk} of {attachment.subject})"
    return read_kept(attachment.path, attachment.sha256, what, "attached")


def read_picture(attachment: Attachment) -> bytes:
    """A picture to be drawn on a page of a PDF. Raises Refused where it is not as it was attached, or larger than what
    attaching keeps."""
    body = read_bytes(attachment)
    if not fit_to_draw(body):
        raise Refused(
            f"The file {attachment.name} (attachment {attachment.pk} of {attachment.subject}) is no picture that this "
            "program kept: it is another file, or too large to be drawn. Leave it off the paper."
        )
    return body


def withdraw(attachment_id: int, *, by: str, why: str) -> Attachment:
    """Take a file out of use; it stays readable. Raises Refused without a reason."""
    why = clean(why, "why", 300)
    if not why:
        raise Refused("Say why the file is withdrawn; it stays readable with that reason.", "why")
    with writing():
        found = Attachment.objects.select_for_update().get(pk=attachment_id)
        if found.withdrawn_at is None:
            found.withdrawn_by, found.withdrawn_at, found.withdrawn_why = by, timezone.now(), why
            found.save(update_fields=["withdrawn_by", "withdrawn_at", "withdrawn_why"])
        return found


def choose(attachment_id: int, chosen: bool) -> None:
    """Whether a picture is shown in the paper of what it belongs to."""
    with writing():
        found = Attachment.objects.select_for_update().get(pk=attachment_id)
        found.chosen = chosen
        found.save(update_fields=["chosen"])
