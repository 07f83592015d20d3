"""Those whom refrigerant and oil come from and go to."""

import datetime
import uuid

from django.db import models
from django.db.models import Q

from inventory.codes.models import Coded

PAPERS = {"certificate": "certificate", "declaration": "declaration", "registration": "registration"}


class Party(Coded):
    """A supplier, reclaimer, destroyer or buyer. Accounts and vouchers call it by its code; its name may change.
    registration: of a buyer, the certificate that was seen."""

    ROLES = [("supplier", "supplier"), ("reclaimer", "reclaimer"), ("destroyer", "destroyer"), ("buyer", "buyer")]
    PREFIX = "P"

    name = models.CharField(max_length=200)
    role = models.CharField(max_length=10, choices=ROLES)
    address = models.TextField(blank=True)
    registration = models.CharField(max_length=100, blank=True)

    class Meta:
        ordering = ["name", "id"]
        verbose_name_plural = "parties"
        constraints = [
            models.CheckConstraint(
                condition=Q(role__in=["supplier", "reclaimer", "destroyer", "buyer"]), name="party_role_known"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="party_name_given"),
            models.UniqueConstraint(fields=["role", "name"], name="party_name_once_in_a_role"),
        ]

    def __str__(self) -> str:
        return self.name


class PartyPaper(models.Model):
    """A certificate or declaration of a supplier or another party, with its first and last valid day. facility: who
    recycled or reclaimed what it is about, where it says so. One that was wrong is withdrawn; it stays."""

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=12, choices=list(PAPERS.items()))
    number = models.CharField(max_length=100)
    facility = models.CharField(max_length=200, blank=True)
    valid_from = models.DateField()
    valid_until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    withdrawn_on = models.DateField(null=True)
    withdrawn_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-valid_from", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(valid_until=None) | Q(valid_until__gte=models.F("valid_from")),
                name="party_paper_ends_after_it_begins",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"

    def valid_on(self, day: datetime.date) -> bool:
        """Whether it says something about a day, its first and its last included."""
        begun = self.withdrawn_on is None and self.valid_from <= day
        return begun and (self.valid_until is None or day <= self.valid_until)
