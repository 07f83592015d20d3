"""Write-offs that wait for a second person's yes."""

import uuid

from django.db import models
from django.db.models import Q

from inventory.ledger.models import Voucher


class WriteOff(models.Model):
    """An entry that was not posted, since it writes off more than one person may; and what became of it. act, said: the
    verb and what it is told when somebody says yes. lost: what it wrote off when it was asked for, mg (oil: uL) by
    substance. Evidence: also what was refused stays."""

    STATES = [("waiting", "waiting"), ("agreed", "agreed"), ("refused", "refused"), ("withdrawn", "withdrawn")]

    act = models.CharField(max_length=20)
    said = models.JSONField()
    lost = models.JSONField()
    note = models.TextField(blank=True)
    asked_by = models.CharField(max_length=150)
    asked_at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    state = models.CharField(max_length=10, choices=STATES, default="waiting")
    answered_by = models.CharField(max_length=150, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=300, blank=True)
    voucher = models.OneToOneField(Voucher, on_delete=models.PROTECT, null=True, blank=True, related_name="write_off")

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(state="agreed") & Q(voucher__isnull=False))
                | (~Q(state="agreed") & Q(voucher__isnull=True)),
                name="write_off_posted_where_agreed",
            ),
            models.CheckConstraint(
                condition=~Q(state="agreed") | ~Q(answered_by=models.F("asked_by")), name="write_off_agreed_by_another"
            ),
        ]
        indexes = [models.Index(fields=["state", "-id"], name="write_off_waiting")]

    def __str__(self) -> str:
        return f"write-off {self.pk}"

    @property
    def is_waiting(self) -> bool:
        return self.state == "waiting"
