"""The shop itself: one row."""

import datetime
from zoneinfo import ZoneInfo, available_timezones

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from inventory.costing.formulas import FORMULAS
from inventory.reference.rulebook import Rulebook, rulebook
from inventory.reference.stricter import stricter

DEFAULT_RULEBOOK = "generic"


def known_timezone(value: str) -> None:
    if value not in available_timezones():
        raise ValidationError(f'"{value}" is not a time zone; write one such as Europe/Dublin or America/Denver.')


def default_timezone() -> str:
    return settings.TIME_ZONE


class Shop(models.Model):
    """Whose ledger this is. Days are cut in its time zone; its rulebook says what signing and findings ask."""

    name = models.CharField(max_length=200, default="Unnamed shop")
    address = models.TextField(blank=True)
    timezone = models.CharField(max_length=64, default=default_timezone, validators=[known_timezone])
    rulebook = models.CharField(max_length=32, default=DEFAULT_RULEBOOK)
    altitude_m = models.SmallIntegerField("altitude in metres", default=0)
    currency = models.CharField(max_length=3, default="USD")
    evacuation_minutes = models.PositiveSmallIntegerField(
        "evacuate for at least, minutes", null=True, blank=True, help_text="Blank: as the rulebook says."
    )
    hold_minutes = models.PositiveSmallIntegerField(
        "hold the vacuum for at least, minutes", null=True, blank=True, help_text="Blank: as the rulebook says."
    )
    hold_most_micron = models.PositiveIntegerField(
        "after the hold at most, micron", null=True, blank=True, help_text="Blank: as the rulebook says."
    )
    test_minutes = models.PositiveSmallIntegerField(
        "keep the test pressure for at least, minutes",
        null=True,
        blank=True,
        help_text="Blank: as the rulebook says, else 15 minutes (common practice, no source).",
    )
    test_most_percent = models.PositiveSmallIntegerField(
        "test pressure lost at most, %",
        null=True,
        blank=True,
        help_text="Beside what its temperature explains. Blank: as the rulebook says, else 1 % (common practice, no "
        "source).",
    )
    oil_months = models.PositiveSmallIntegerField(
        "an opened bottle of oil is used within, months", default=6, help_text="Common practice, no source."
    )
    company_certificate = models.CharField(
        "number of the company's own certificate",
        max_length=60,
        blank=True,
        help_text="Where the rulebook asks for one of the company. Blank: there is none.",
    )
    company_certificate_issuer = models.CharField("company's certificate issued by", max_length=150, blank=True)
    company_certificate_from = models.DateField("company's certificate issued on", null=True, blank=True)
    company_certificate_until = models.DateField(
        "company's certificate valid through",
        null=True,
        blank=True,
        help_text="The last valid day. Blank: it does not expire.",
    )
    blind_counts = models.BooleanField(
        "counts do not show what the book says",
        default=False,
        help_text="Whoever counts reads the scale, and sees what the book says once it is posted.",
    )
    cost_formula = models.CharField(
        "cost of what goes out",
        max_length=8,
        choices=list(FORMULAS.items()),
        default="fifo",
        help_text="One formula for the whole shop; each report of costs names it.",
    )
    write_off_mg = models.BigIntegerField("most refrigerant that one person writes off in a day", null=True, blank=True)
    write_off_ul = models.BigIntegerField("most oil that one person writes off in a day", null=True, blank=True)
    own_figures = models.JSONField(default=dict, help_text="stricter than the rulebook: names to decimal figures")
    second_factor_roles = models.JSONField(
        "second factor demanded of", default=list, blank=True, help_text="who is led to set one up before anything else"
    )
    lock_minutes = models.PositiveSmallIntegerField(
        "a shared phone locks after, minutes", default=10, help_text="Without a touch. 0: it never locks."
    )
    invented = models.BooleanField(default=False, help_text="a demonstration shop; pages and PDFs say so")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="shop_is_one_row"),
            models.CheckConstraint(
                condition=models.Q(company_certificate_from__isnull=True)
                | models.Q(company_certificate_until__isnull=True)
                | models.Q(company_certificate_from__lte=models.F("company_certificate_until")),
                name="shop_certificate_ends_after_issued",
            ),
            models.CheckConstraint(
                condition=~models.Q(write_off_mg__lt=0) & ~models.Q(write_off_ul__lt=0), name="shop_write_off_from_zero"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> "Shop":
        """The shop's row, or an unsaved one with the defaults where none was set up yet."""
        return cls.objects.filter(id=1).first() or cls(id=1)

    @property
    def rules(self) -> Rulebook:
        """The shop's rulebook, with the shop's own, stricter figures."""
        return stricter(rulebook(self.rulebook), self.own_figures)

    def is_certified_on(self, day: datetime.date) -> bool:
        """Whether the company's own certificate is valid on a day, its first and its last included."""
        first, last = self.company_certificate_from, self.company_certificate_until
        return bool(self.company_certificate) and (first is None or first <= day) and (last is None or day <= last)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)


class FormSent(models.Model):
    """A form that was recorded. digest: of what it said (`inventory/shop/once.py`). voucher: the number of what it
    became in the ledger; else called: in words, e.g. `job J-00012`, and thing: kind and key of its page."""

    key = models.UUIDField(primary_key=True)
    digest = models.CharField(max_length=64)
    voucher = models.BigIntegerField(null=True)
    called = models.CharField(max_length=200, blank=True)
    thing = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"form {self.key}"


class ChosenColumns(models.Model):
    """The columns of a list that a person wants to see; none kept: all of them."""

    username = models.CharField(max_length=150)
    table = models.CharField("list", max_length=40)
    columns = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["username", "table"], name="chosen_columns_once")]

    def __str__(self) -> str:
        return f"{self.table} of {self.username}"
