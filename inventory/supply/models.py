"""From how much on the shop wants to buy more."""

from django.db import models

from inventory.containers.models import Location
from inventory.ledger.models import Substance


class ReorderPoint(models.Model):
    """The least that should be on hand of a substance, mg or uL; at a place, or of the whole shop."""

    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="reorder_points")
    location = models.ForeignKey(Location, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    least = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["substance"], condition=models.Q(location=None), name="reorder_once_a_substance"
            ),
            models.UniqueConstraint(fields=["substance", "location"], name="reorder_once_a_place"),
            models.CheckConstraint(condition=models.Q(least__gt=0), name="reorder_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.substance} at {self.location or 'the shop'}"
