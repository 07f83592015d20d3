"""What those who took refrigerant say that they received."""

from django.db import models

from inventory.containers.models import Container
from inventory.ledger.models import Voucher


class TheirWeight(models.Model):
    """What a reclaimer, destroyer or supplier found in a container, entered from their receipt. Never changed: a
    later one counts instead."""

    voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, related_name="their_weights")
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    net = models.BigIntegerField(help_text="mg; oil uL")
    document = models.CharField(max_length=200, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.voucher_id}/{self.container_id}"
