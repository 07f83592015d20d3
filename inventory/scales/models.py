"""Checks of scales with reference masses."""

import uuid

from django.db import models

from inventory.containers.models import Scale
from inventory.measures.fields import MassField


class ScaleCheck(models.Model):
    """A reference mass on a scale: what it showed as found and, after it was adjusted, as left. Never changed."""

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="checks")
    day = models.DateField()
    reference_mg = MassField("reference mass")
    as_found_mg = MassField("reading as found")
    as_left_mg = MassField("reading as left", null=True, blank=True)
    limit_mg = MassField("largest error in service")
    passed = models.BooleanField(help_text="as found")
    left_passed = models.BooleanField(help_text="as left, or as found where nothing was adjusted")
    reference = models.CharField("which reference mass", max_length=100, blank=True)
    note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4, unique=True)

    class Meta:
        ordering = ["-day", "-id"]
        indexes = [models.Index(fields=["scale", "-day", "-id"], name="scale_check_latest")]

    def __str__(self) -> str:
        return f"{self.scale} on {self.day}: {'passed' if self.passed else 'failed'}"
