"""Recovery and recycling machines, and their checks."""

import uuid

from django.db import models

from inventory.containers.models import Container


class Machine(models.Model):
    """A machine that recovers, recycles or charges. container: its own tank, where it has one in the book."""

    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    serial = models.CharField("serial number", max_length=60, unique=True)
    made_on = models.DateField("made on", null=True, blank=True)
    standard = models.CharField("standard that it meets", max_length=60, blank=True)
    refrigerants = models.CharField("for refrigerants", max_length=200, blank=True)
    does = models.CharField(
        max_length=12, choices=[("recover", "recovers only"), ("recycle", "recovers and recycles")], default="recycle"
    )
    container = models.OneToOneField(
        Container, on_delete=models.PROTECT, null=True, blank=True, related_name="machine", verbose_name="its own tank"
    )
    note = models.CharField(max_length=300, blank=True)
    check_due = models.DateField("next check due", null=True, blank=True)
    retired_on = models.DateField("out of use since", null=True, blank=True)

    class Meta:
        ordering = ["make", "model", "serial"]

    def __str__(self) -> str:
        return f"{self.make} {self.model}, {self.serial}"


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
