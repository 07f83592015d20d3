"""Files that belong to something: a receipt's document, a certificate's scan, a photo of a job."""

import uuid
from pathlib import Path

from django.conf import settings
from django.db import models


class Attachment(models.Model):
    """One file. subject: what it belongs to, as `kind:key`, e.g. `job:17`. Its bytes lie under MEDIA_ROOT by their
    SHA-256 and never change. It is never deleted; one that was attached by mistake is withdrawn, and says why."""

    subject = models.CharField(max_length=80)
    title = models.CharField(max_length=120, blank=True)
    name = models.CharField(max_length=120, help_text="as it is offered for a download")
    type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    key = models.UUIDField(default=uuid.uuid4, unique=True, help_text="of the form; the same file arrives once")
    proves = models.CharField(max_length=60, blank=True, help_text="what of its subject it shows, e.g. vacuum_said")
    chosen = models.BooleanField(default=False, help_text="shown in the paper of what it belongs to")
    added_by = models.CharField(max_length=150)
    added_at = models.DateTimeField()
    withdrawn_by = models.CharField(max_length=150, blank=True)
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["subject", "id"], name="attachment_of_subject")]

    def __str__(self) -> str:
        return self.title or self.name

    @property
    def is_picture(self) -> bool:
        return self.type.startswith("image/")

    @property
    def path(self) -> Path:
        return Path(settings.MEDIA_ROOT) / self.sha256[:2] / self.sha256
