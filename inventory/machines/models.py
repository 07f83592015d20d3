"""Recovery and recycling machines, and their checks."""

import uuid

from django.db import models
from django.db.models import Q

from inventory.containers.models import Container


class Machine(models.Model):
    """A machine that recovers, recycles or charges. container: its own tank, where it has one in the book. The owner's
    statement about it, where one is asked for: who signed it, when it was sent, to whom, and whether a copy is here."""

    USED_ON = [("vehicles", "motor vehicles"), ("other", "other equipment only")]

    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    serial = models.CharField("serial number", max_length=60, unique=True)
    made_on = models.DateField("made on", null=True, blank=True)
    standards = models.CharField("standards that it meets", max_length=200, blank=True)
    refrigerants = models.CharField("for refrigerants", max_length=200, blank=True)
    does = models.CharField(
        max_length=12, choices=[("recover", "recovers only"), ("recycle", "recovers and recycles")], default="recycle"
    )
    used_on = models.CharField("used on", max_length=8, choices=USED_ON, blank=True)
    statement_by = models.CharField("statement signed by", max_length=150, blank=True)
    statement_sent_on = models.DateField("statement sent on", null=True, blank=True)
    statement_to = models.CharField("statement sent to", max_length=100, blank=True)
    statement_copy = models.BooleanField("a copy of the statement is among its files", default=False)
    container = models.OneToOneField(
        Container, on_delete=models.PROTECT, null=True, blank=True, related_name="machine", verbose_name="its own tank"
    )
    note = models.CharField(max_length=300, blank=True)
    check_due = models.DateField("next check due", null=True, blank=True)
    retired_on = models.DateField("out of use since", null=True, blank=True)

    class Meta:
        ordering = ["make", "model", "serial"]
        constraints = [
            models.CheckConstraint(condition=Q(used_on__in=["", "vehicles", "other"]), name="machine_used_on_known")
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.model}, {self.serial}"

    @property
    def met(self) -> frozenset[str]:
        """The standards that it meets, each by itself."""
        return frozenset(filter(None, (one.strip() for one in self.standards.split(","))))

    @property
    def equipment(self) -> list[str] | None:
        """What it is used on, as the rulebooks are asked about it; None where nobody has said."""
        return {"vehicles": ["vehicle"], "other": []}.get(self.used_on)


class MachineCheck(models.Model):
    """A check of a machine: who, when, what was found. Never changed."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="checks")
    day = models.DateField()
    passed = models.BooleanField()
    note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4, unique=True)

    class Meta:
        ordering = ["-day", "-id"]

    def __str__(self) -> str:
        return f"{self.machine} on {self.day}"
