"""Counts under way, and what explains a difference."""

import uuid

from django.db import models

from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.ledger.models import Voucher
from inventory.scales.taking import shown

REASONS = {
    "leaked": "leaked",
    "valve": "valve left open",
    "unrecorded": "unrecorded use",
    "tare": "tare wrong",
    "reading": "reading wrong",
    "unknown": "unknown",
}


class Count(models.Model):
    """A count of a place. Open: entered by anyone of the office, posts nothing. Posted: one voucher. Abandoned:
    nothing was posted."""

    STATES = [("open", "open"), ("posted", "posted"), ("abandoned", "abandoned")]

    location = models.ForeignKey(Location, on_delete=models.PROTECT, related_name="counts")
    state = models.CharField(max_length=10, choices=STATES, default="open")
    day = models.DateField()
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    note = models.CharField(max_length=2000, blank=True)
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    started_by = models.CharField(max_length=150)
    started_at = models.DateTimeField()
    ended_by = models.CharField(max_length=150, blank=True)
    ended_at = models.DateTimeField(null=True)
    voucher = models.OneToOneField(Voucher, on_delete=models.PROTECT, null=True, related_name="count_made")

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(state="posted", voucher__isnull=False)
                | models.Q(state__in=["open", "abandoned"], voucher__isnull=True),
                name="count_posted_has_voucher",
            ),
            models.UniqueConstraint(
                fields=["location"], condition=models.Q(state="open"), name="count_one_open_at_a_place"
            ),
        ]

    def __str__(self) -> str:
        return f"count of {self.location}, {self.day}"

    @property
    def is_open(self) -> bool:
        return self.state == "open"


class CountEntry(models.Model):
    """A reading of a count that is under way. gross: mg, for oil uL left; null: it was seen, and not weighed.
    last_voucher: of the container when it was weighed; another by now says that something was recorded for it since.
    raw: what the scale sent, where it was read from it; sure: what was asked about, and is right as it was typed."""

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="entries")
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    gross = models.BigIntegerField(null=True)
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    last_voucher = models.BigIntegerField(null=True)
    raw = models.CharField("what the scale sent", max_length=1200, blank=True)
    sure = models.CharField("asked about, and right", max_length=120, blank=True)
    reason = models.CharField(max_length=12, choices=list(REASONS.items()), blank=True)
    reason_note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [models.UniqueConstraint(fields=["count", "container"], name="count_entry_once")]

    def __str__(self) -> str:
        return f"{self.count_id}/{self.container_id}"

    @property
    def is_seen(self) -> bool:
        """Whether it was looked at, and not weighed."""
        return self.gross is None

    @property
    def sent(self) -> str:
        """What the scale sent, as pages and papers show it."""
        return shown(self.raw)


class Explanation(models.Model):
    """Why a weighing differed, as somebody explained it. The latest one of a weighing counts; all stay."""

    weighing = models.ForeignKey(Weighing, on_delete=models.PROTECT, related_name="explanations")
    reason = models.CharField(max_length=12, choices=list(REASONS.items()))
    note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.get_reason_display()


class TareChange(models.Model):
    """A tare that was found to be another. It holds from the next weighing on; readings keep the one they had."""

    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="tare_changes")
    voucher = models.OneToOneField(Voucher, on_delete=models.PROTECT, related_name="tare_change")
    old_mg = models.BigIntegerField(null=True)
    new_mg = models.BigIntegerField()
    why = models.CharField(max_length=300)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"tare of {self.container_id}"
