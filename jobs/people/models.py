"""People who sign in, and the certificates that they hold."""

import datetime
from typing import NamedTuple

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from inventory.ledger.actions import writing
from inventory.measures.units import MASS_CHOICES, VOLUME_CHOICES
from inventory.text.refusal import Refused


class Role(models.TextChoices):
    TECHNICIAN = "technician", "Technician"
    OFFICE = "office", "Office"
    OWNER = "owner", "Owner"
    INSPECTOR = "inspector", "Inspector"


STAFF = [Role.TECHNICIAN, Role.OFFICE, Role.OWNER]  # who works here; an inspector only reads
STAFF_CHOICES = [(role.value, role.label) for role in STAFF]


class PersonManager(UserManager):
    def create_user(self, username, email=None, password=None, **extra):
        """A person, stated in the record."""
        with writing():
            return super().create_user(username, email, password, **extra)

    def create_superuser(self, username, email=None, password=None, **extra):
        """The command line's way in: whoever may run commands here may also be the owner."""
        extra.setdefault("role", Role.OWNER)
        with writing():
            return super().create_superuser(username, email, password, **extra)


class Access(NamedTuple):
    """What of a person decides whether and as what they sign in."""

    password: str
    role: str
    is_active: bool


class Person(AbstractUser):
    """Someone who signs in. Records keep the username, so it never changes and no person is deleted."""

    first_name = None  # one shown name: not everybody has a first and a last one
    last_name = None
    name = models.CharField("name", max_length=150, help_text="As it shall stand on a job sheet.")
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.TECHNICIAN)
    trainee_since = models.DateField(
        "in training since",
        null=True,
        blank=True,
        help_text="Works under supervision, for as long as the rulebook lets.",
    )
    left_on = models.DateField(
        "left on",
        null=True,
        blank=True,
        help_text="The last day of their work here; certificates are kept for some years from then on.",
    )
    mass_unit = models.CharField("refrigerant shown in", max_length=5, choices=MASS_CHOICES, default="g")
    volume_unit = models.CharField("oil shown in", max_length=5, choices=VOLUME_CHOICES, default="mL")
    compact = models.BooleanField(
        "rows and forms close together",
        default=False,
        help_text="At a desk: more on a screen. Where a finger points, they stay apart.",
    )

    single_keys = models.BooleanField(
        "single keys lead to pages",
        default=True,
        help_text="/ finds anything, ? says which others there are. Off: no key does anything by itself (WCAG 2.2, "
        "success criterion 2.1.4).",
    )

    objects = PersonManager()
    REQUIRED_FIELDS = ["name"]
    DECIDES = frozenset(Access._fields)
    access_stored: Access | None = None  # as the database has it; None: not read yet

    class Meta:
        verbose_name_plural = "people"
        ordering = ["name", "username"]
        constraints = [
            models.CheckConstraint(name="person_role_known", condition=Q(role__in=Role.values)),
            models.CheckConstraint(
                name="person_mass_unit_known", condition=Q(mass_unit__in=[unit for unit, _ in MASS_CHOICES])
            ),
            models.CheckConstraint(
                name="person_volume_unit_known",
                condition=Q(volume_unit__in=[unit for unit, _ in VOLUME_CHOICES]),
            ),
            models.CheckConstraint(name="person_name_given", condition=~Q(name="")),
            models.CheckConstraint(
                name="person_here_has_not_left", condition=Q(left_on__isnull=True) | Q(is_active=False)
            ),
            models.UniqueConstraint(Lower("username"), name="person_username_unique_in_any_case"),
        ]

    def __str__(self) -> str:
        return self.name or self.username

    @classmethod
    def from_db(cls, db, field_names, values):
        person = super().from_db(db, field_names, values)
        person._username_stored = person.__dict__.get("username")
        if person.__dict__.keys() >= cls.DECIDES:
            person.access_stored = person.access
        return person

    def save(self, *args, **kwargs):
        """Raises Refused where the username of a stored person was changed."""
        stored = getattr(self, "_username_stored", None)
        if stored is not None and stored != self.username:
            raise Refused(f"The username {stored} cannot change: records hold it.", "username")
        super().save(*args, **kwargs)
        self._username_stored = self.username
        if self.__dict__.keys() >= self.DECIDES:
            self.access_stored = self.access

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name

    @property
    def access(self) -> Access:
        return Access(self.password, self.role, self.is_active)

    @property
    def is_technician(self) -> bool:
        return self.role == Role.TECHNICIAN

    @property
    def is_office(self) -> bool:
        return self.role == Role.OFFICE

    @property
    def is_owner(self) -> bool:
        return self.role == Role.OWNER

    @property
    def is_inspector(self) -> bool:
        return self.role == Role.INSPECTOR


class Certificate(models.Model):
    """Proof that a person may do certain work. The scheme decides which work: see the rulebooks."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="certificates")
    scheme = models.CharField(max_length=60, help_text="The programme, e.g. Section 609 or F-gas category I.")
    number = models.CharField(max_length=60)
    issuer = models.CharField("issued by", max_length=150, blank=True)
    issued = models.DateField("issued on")
    expires = models.DateField(
        "valid through", null=True, blank=True, help_text="The last valid day. Blank: does not expire."
    )
    note = models.TextField(blank=True)
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with

    class Meta:
        ordering = ["person", "scheme", "number"]
        constraints = [
            models.UniqueConstraint(name="certificate_once_per_person", fields=["person", "scheme", "number"]),
            models.CheckConstraint(
                name="certificate_expires_after_issued",
                condition=Q(expires__isnull=True) | Q(expires__gte=F("issued")),
            ),
            models.CheckConstraint(name="certificate_named", condition=~Q(scheme="") & ~Q(number="")),
        ]

    def __str__(self) -> str:
        return f"{self.scheme} {self.number}"

    def valid_on(self, day: datetime.date) -> bool:
        """Whether the day lies between the day of issue and the last valid day, both included."""
        return self.issued <= day and (self.expires is None or day <= self.expires)
