"""Sign-ins that an owner issues to an inspector, and what was looked at with them."""

import datetime as dt

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class InspectorAccess(models.Model):
    """A read-only sign-in, limited to a period of the records, until a day; ended earlier where somebody ended it."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="inspection")
    first = models.DateField("records from")
    last = models.DateField("records to")
    until = models.DateField("may sign in through")
    issued_by = models.CharField(max_length=150)
    issued_at = models.DateTimeField(auto_now_add=True)
    ended_by = models.CharField(max_length=150, blank=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name = "inspector access"
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=Q(last__gte=F("first")), name="inspector_period_runs_forward"),
        ]

    def __str__(self) -> str:
        return f"{self.person.name}, {self.first} to {self.last}"

    def open_on(self, day: dt.date) -> bool:
        """Whether it still lets in on a day of the shop's calendar; its last day is one."""
        return self.ended_at is None and day <= self.until


class Look(models.Model):
    """One page that an inspector asked for; written once. allowed: whether it was shown."""

    access = models.ForeignKey(InspectorAccess, on_delete=models.PROTECT, related_name="looks")
    at = models.DateTimeField(auto_now_add=True)
    method = models.CharField(max_length=10)
    path = models.CharField(max_length=500)
    allowed = models.BooleanField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.method} {self.path}"
