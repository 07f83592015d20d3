"""Those whom refrigerant and oil come from and go to."""

from django.db import models
from django.db.models import Q


class Party(models.Model):
    """A supplier, reclaimer or destroyer. Its name is part of the names of accounts and does not change."""

    ROLES = [("supplier", "supplier"), ("reclaimer", "reclaimer"), ("destroyer", "destroyer")]

    name = models.CharField(max_length=200, unique=True)
    role = models.CharField(max_length=10, choices=ROLES)
    address = models.TextField(blank=True)
    registration = models.CharField(max_length=100, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "parties"
        constraints = [
            models.CheckConstraint(
                condition=Q(role__in=["supplier", "reclaimer", "destroyer"]), name="party_role_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name
