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


class LogUpload(models.Model):
    """A log that somebody uploaded: checked, then loaded on their word. faults: as listed, the first 1000. questions:
    all that is asked, mark: stands for their list; yes: the places that they said are right, all: the mark of a list
    that is right as a whole."""

    STATES = [
        ("checking", "being checked"),
        ("faulty", "has faults"),
        ("ready", "without a fault"),
        ("loading", "being loaded"),
        ("loaded", "loaded"),
        ("failed", "not loaded"),
        ("dropped", "dropped"),
    ]

    key = models.UUIDField(unique=True)
    state = models.CharField(max_length=10, choices=STATES, default="checking")
    files = models.JSONField(default=list)
    faults = models.JSONField(default=list)
    questions = models.JSONField(default=list)
    mark = models.CharField(max_length=16, blank=True)
    yes = models.JSONField(default=list)
    all = models.CharField(max_length=16, blank=True)
    said = models.TextField(blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField(auto_now_add=True)
    asked_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"upload {self.pk}"

    @property
    def is_ready(self) -> bool:
        return self.state == "ready"

    @property
    def can_be_dropped(self) -> bool:
        return self.state in {"ready", "faulty", "failed"}

    @property
    def look(self) -> str:
        """How a badge shows its state."""
        looks = {"ready": "good", "loaded": "good", "faulty": "bad", "failed": "bad"}
        return looks.get(self.state, "warn")
