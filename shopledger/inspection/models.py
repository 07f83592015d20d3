"""Bundles that were asked for."""

import uuid

from django.db import models


class BundleOrder(models.Model):
    """A bundle that somebody asked for, made in a process of its own. key: came with the form; the file lies under
    DATA_DIR/bundles by it, as two shops may count their orders alike."""

    STATES = [("making", "being made"), ("made", "made"), ("failed", "not made")]

    key = models.UUIDField(default=uuid.uuid4, unique=True)
    first = models.DateField()
    last = models.DateField()
    state = models.CharField(max_length=8, choices=STATES, default="making")
    said = models.TextField(blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"bundle {self.first} to {self.last}"

    @property
    def filename(self) -> str:
        """As it is offered for a download."""
        return f"inspection-{self.first}-to-{self.last}-{self.pk}.zip"

    @property
    def is_made(self) -> bool:
        return self.state == "made"

    @property
    def look(self) -> str:
        """How a badge shows its state."""
        return {"made": "good", "failed": "bad"}.get(self.state, "warn")
