"""Those whom refrigerant and oil come from and go to."""

from django.db import models
from django.db.models import Q

from inventory.codes.models import Coded


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
