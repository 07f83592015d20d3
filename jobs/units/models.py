"""Customers, and the units that the shop works on: vehicles, transport and stationary equipment."""

from django.db import models
from django.db.models import F, Q

from inventory.codes.models import Coded
from inventory.measures.fields import MassField, VolumeField
from inventory.reference.rule import EQUIPMENT
from jobs.people.wording import folded, squeezed

YEARS = (1900, 2100)


class Customer(Coded):
    """Whose units the shop serves. Vouchers call them by their code; the name may change."""

    PREFIX = "C"
    HOLD_CODE = ("search",)

    name = models.CharField(max_length=150)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with
    name_folded = models.CharField(max_length=600, db_index=True, editable=False)
    search = models.TextField(editable=False)

    class Meta:
        ordering = ["name", "id"]
        constraints = [models.CheckConstraint(name="customer_name_given", condition=~Q(name=""))]

    def __str__(self) -> str:
        return self.name

    def fold(self) -> None:
        """Bring the columns that searches read up to date."""
        self.name_folded = folded(self.name)
        self.search = folded(self.code, self.name, self.phone, squeezed(self.phone), self.address)


class UnitKind(models.TextChoices):
    VEHICLE = "vehicle", "Vehicle"
    TRANSPORT = "transport", "Transport refrigeration"
    STATIONARY = "stationary", "Stationary equipment"
    OTHER = "other", "Other"


class Unit(Coded):
    """One refrigerant circuit that the shop serves. The ledger's accounts are named by `code`, which stays.

    Charges are whole milligrams, oil whole microlitres. The label's range may be open at one side.
    """

    PREFIX = "U"
    HOLD_CODE = ("search",)

    code = models.CharField("reference", max_length=40, unique=True, editable=False)
    kind = models.CharField(max_length=10, choices=UnitKind.choices, default=UnitKind.VEHICLE)
    exactly = models.CharField(max_length=14, blank=True, help_text="what follows the slash in the rulebooks' words")
    sealed = models.BooleanField("hermetically sealed, and labelled so", default=False)
    dwelling = models.BooleanField("in a dwelling", default=False)
    leak_detection = models.BooleanField("has a leak detection system", default=False)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="units")
    name = models.CharField("description", max_length=150, blank=True)
    plate = models.CharField("plate", max_length=20, blank=True)
    vin = models.CharField("VIN", max_length=40, blank=True)
    make = models.CharField(max_length=60, blank=True)
    model = models.CharField(max_length=60, blank=True)
    year = models.PositiveSmallIntegerField("model year", null=True, blank=True)
    refrigerant = models.CharField(max_length=40, blank=True)
    charge_min_mg = MassField("least charge", null=True, blank=True)
    charge_nominal_mg = MassField("nominal charge", null=True, blank=True)
    charge_max_mg = MassField("most charge", null=True, blank=True)
    label_confirmed = models.BooleanField("charge read from the unit's own label", default=False)
    oil = models.CharField(max_length=40, blank=True)
    oil_amount_ul = VolumeField("oil in the system", null=True, blank=True)
    high_voltage_compressor = models.BooleanField(default=False)
    note = models.TextField(blank=True)
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with
    likeness = models.CharField(max_length=700, blank=True, db_index=True, editable=False)
    search = models.TextField(editable=False)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(name="unit_kind_known", condition=Q(kind__in=UnitKind.values)),
            models.CheckConstraint(name="unit_can_be_told", condition=~Q(name="", plate="", vin="", make="", model="")),
            models.UniqueConstraint(name="unit_vin_once", fields=["vin"], condition=~Q(vin="")),
            models.CheckConstraint(name="unit_year_plausible", condition=Q(year__isnull=True) | Q(year__range=YEARS)),
            models.CheckConstraint(
                name="unit_charges_positive",
                condition=(Q(charge_min_mg__isnull=True) | Q(charge_min_mg__gt=0))
                & (Q(charge_nominal_mg__isnull=True) | Q(charge_nominal_mg__gt=0))
                & (Q(charge_max_mg__isnull=True) | Q(charge_max_mg__gt=0)),
            ),
            models.CheckConstraint(
                name="unit_charge_least_not_over_most",
                condition=Q(charge_min_mg__isnull=True)
                | Q(charge_max_mg__isnull=True)
                | Q(charge_min_mg__lte=F("charge_max_mg")),
            ),
            models.CheckConstraint(
                name="unit_charge_nominal_between",
                condition=Q(charge_nominal_mg__isnull=True)
                | (
                    (Q(charge_min_mg__isnull=True) | Q(charge_min_mg__lte=F("charge_nominal_mg")))
                    & (Q(charge_max_mg__isnull=True) | Q(charge_nominal_mg__lte=F("charge_max_mg")))
                ),
            ),
            models.CheckConstraint(
                name="unit_oil_amount_positive",
                condition=Q(oil_amount_ul__isnull=True) | Q(oil_amount_ul__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def called(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        """What people call it: the description, else the plate, the make and model, or the VIN."""
        return self.name or self.plate or self.make_model or self.vin or self.code

    @property
    def equipment(self) -> str:
        """The kind in the rulebooks' words, e.g. `vehicle` or `vehicle/heavy`."""
        return f"{self.kind}/{self.exactly}" if self.exactly else self.kind

    @property
    def equipment_said(self) -> str:
        return EQUIPMENT[self.equipment] if self.exactly else self.get_kind_display()

    @property
    def make_model(self) -> str:
        return " ".join(str(part) for part in (self.year, self.make, self.model) if part)

    @property
    def charge_least_mg(self) -> int | None:
        """The label's lower end; its nominal charge where it gives no range."""
        return self._charge_end(self.charge_min_mg, self.charge_max_mg)

    @property
    def charge_most_mg(self) -> int | None:
        """The label's upper end; its nominal charge where it gives no range."""
        return self._charge_end(self.charge_max_mg, self.charge_min_mg)

    def _charge_end(self, end: int | None, other: int | None) -> int | None:
        return self.charge_nominal_mg if end is None and other is None else end

    @property
    def charge_target_mg(self) -> int | None:
        """What to charge: the nominal, else the middle of the range, else the end that there is."""
        if self.charge_nominal_mg is not None:
            return self.charge_nominal_mg
        ends = [end for end in (self.charge_min_mg, self.charge_max_mg) if end is not None]
        return sum(ends) // len(ends) if ends else None

    def fold(self) -> None:
        """Bring the columns that searches and comparisons read up to date."""
        self.search = folded(
            self.code,
            self.name,
            self.plate,
            squeezed(self.plate),
            squeezed(self.name),
            self.vin,
            self.make_model,
        )
        self.likeness = likeness(self.make, self.model, self.year, self.refrigerant)


def likeness(make: str, model: str, year: int | None, refrigerant: str) -> str:
    """One text for units built alike; blank where make, model, year or refrigerant is not known."""
    if not (make and model and year and refrigerant):
        return ""
    return "|".join((squeezed(make), squeezed(model), str(year), folded(refrigerant)))
