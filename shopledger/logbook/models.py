"""Which logs were loaded."""

from django.db import models


class LoadedLog(models.Model):
    """A log that was loaded, by the SHA-256 of its files: the same content is not loaded twice. file_sha256: of the
    file as it was sent, where its rows were taken from a spreadsheet; digest is then that of the rows."""

    digest = models.CharField(max_length=64, unique=True)
    confirmed = models.JSONField("asked about, and right", default=list)  # (file:line: column, as it was typed) each
    file_sha256 = models.CharField(max_length=64, blank=True)
    loaded_at = models.DateTimeField(auto_now_add=True)
    first_voucher = models.BigIntegerField(null=True)
    last_voucher = models.BigIntegerField(null=True)
    events = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"log of {self.loaded_at:%Y-%m-%d}"


class Upload(models.Model):
    """What somebody uploaded: checked, then loaded on their word. faults: as listed, the first 1000. said: what it
    would come to, or came to."""

    STATES = [
        ("open", "being put right"),
        ("checking", "being checked"),
        ("faulty", "has faults"),
        ("ready", "without a fault"),
        ("loading", "being loaded"),
        ("loaded", "loaded"),
        ("failed", "not loaded"),
        ("dropped", "dropped"),
    ]
    LOOKS = {"ready": "good", "loaded": "good", "faulty": "bad", "failed": "bad"}

    key = models.UUIDField(unique=True)
    state = models.CharField(max_length=10, choices=STATES)
    faults = models.JSONField(default=list)
    said = models.TextField(blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField(auto_now_add=True)
    asked_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True
        ordering = ["-id"]

    @property
    def is_ready(self) -> bool:
        return self.state == "ready"

    @property
    def is_working(self) -> bool:
        return self.state in {"checking", "loading"}

    @property
    def look(self) -> str:
        """How a badge shows its state."""
        return self.LOOKS.get(self.state, "warn")


class LogUpload(Upload):
    """A log of CSV files that was uploaded. questions: all that is asked, mark: stands for their list; yes: the places
    that they said are right, all: the mark of a list that is right as a whole."""

    files = models.JSONField(default=list)
    questions = models.JSONField(default=list)
    mark = models.CharField(max_length=16, blank=True)
    yes = models.JSONField(default=list)
    all = models.CharField(max_length=16, blank=True)

    def __str__(self) -> str:
        return f"upload {self.pk}"

    @property
    def can_be_dropped(self) -> bool:
        return self.state in {"ready", "faulty", "failed"}
