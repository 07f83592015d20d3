"""Customers and their premises, and the units that the shop works on: vehicles, transport and stationary equipment."""

import datetime as dt

from django.db import models
from django.db.models import F, Q

from inventory.codes.models import Coded
from inventory.measures.fields import MassField, VolumeField
from inventory.reference.rule import EQUIPMENT, USES
from jobs.people.models import Person
from jobs.people.wording import folded, squeezed

YEARS = (1900, 2100)
YES_NO = [("yes", "yes"), ("no", "no")]  # blank: nobody has said it
# From so many percent of its capacity on, a unit that serves an industrial process as well counts as one that serves
# nothing else (40 CFR 82.152, "industrial process refrigeration").
PROCESS_SHARE = 50
# Uses that may be residential or light commercial air conditioning; all others are refrigeration, or a chiller.
AIR_CONDITIONING = ("", "room-ac", "absorption")


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


class Premises(Coded):
    """A place of a customer where units stand: the "operating facility" of 40 CFR 82.152."""

    PREFIX = "S"

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="premises")
    name = models.CharField(max_length=150)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with

    class Meta:
        ordering = ["name", "id"]
        verbose_name_plural = "premises"
        constraints = [models.CheckConstraint(name="premises_name_given", condition=~Q(name=""))]

    def __str__(self) -> str:
        return self.name


class LeakRateMethod(models.Model):
    """How the leak rates of all units of some premises are worked out, from a day on. A later row takes the place of
    an earlier one, and of two of one day the one that was entered last; no row is ever changed.

    One method for all of them: 40 CFR 82.152, "leak rate"; 84.106(b)(3) and (l)(3).
    """

    METHODS = [("annualizing", "annualizing"), ("rolling", "rolling average")]

    premises = models.ForeignKey(Premises, on_delete=models.PROTECT, related_name="methods")
    method = models.CharField(max_length=11, choices=METHODS)
    from_day = models.DateField("from")
    reason = models.TextField("why it changed", blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with

    class Meta:
        ordering = ["premises", "from_day", "id"]
        constraints = [
            models.CheckConstraint(name="leak_rate_method_known", condition=Q(method__in=["annualizing", "rolling"]))
        ]

    def __str__(self) -> str:
        return f"{self.get_method_display()} from {self.from_day}"


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
    light_commercial = models.CharField(
        "residential or light commercial A/C or heat pump", max_length=3, choices=YES_NO, blank=True
    )
    use = models.CharField(max_length=24, blank=True)
    process_share_percent = models.PositiveSmallIntegerField(
        "share of its capacity that serves an industrial process", null=True, blank=True
    )
    process_shutdown = models.BooleanField("a repair needs an industrial process shutdown", default=False)
    open_drive = models.CharField("compressor driven from outside", max_length=3, choices=YES_NO, blank=True)
    bound = models.CharField(
        "one of the systems that the rulebook binds",
        max_length=3,
        choices=YES_NO,
        blank=True,
        help_text="asked only where the rulebook does not bind everybody",
    )
    military = models.BooleanField("military equipment", default=False)
    below_minus_50 = models.BooleanField("cools products below -50 °C", default=False)
    exemption_proof = models.TextField("what shows it", blank=True)
    installed_on = models.DateField("installed on", null=True, blank=True)
    retired_on = models.DateField("retired on", null=True, blank=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="units")
    premises = models.ForeignKey(Premises, on_delete=models.PROTECT, null=True, blank=True, related_name="units")
    name = models.CharField("description", max_length=150, blank=True)
    plate = models.CharField("plate", max_length=20, blank=True)
    vin = models.CharField("VIN", max_length=40, blank=True)
    make = models.CharField(max_length=60, blank=True)
    model = models.CharField(max_length=60, blank=True)
    year = models.PositiveSmallIntegerField("model year", null=True, blank=True)
    refrigerant = models.CharField(max_length=40, blank=True)
    designed_for = models.CharField(max_length=40, blank=True, help_text="blank: for what is in it")
    charge_min_mg = MassField("least charge", null=True, blank=True)
    charge_nominal_mg = MassField("nominal charge", null=True, blank=True)
    charge_max_mg = MassField("most charge", null=True, blank=True)
    label_confirmed = models.BooleanField("charge read from the unit's own label", default=False)
    oil = models.CharField(max_length=40, blank=True)
    oil_amount_ul = VolumeField("oil in the system", null=True, blank=True)
    high_voltage_compressor = models.BooleanField(default=False)
    ports = models.CharField("where the service ports are", max_length=200, blank=True)
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
            models.CheckConstraint(
                name="unit_premises_of_a_customer", condition=Q(premises__isnull=True) | Q(customer__isnull=False)
            ),
            models.CheckConstraint(
                name="unit_yes_or_no",
                condition=Q(
                    light_commercial__in=["", "yes", "no"],
                    open_drive__in=["", "yes", "no"],
                    bound__in=["", "yes", "no"],
                ),
            ),
            models.CheckConstraint(
                name="unit_process_share_percent",
                condition=Q(process_share_percent__isnull=True) | Q(process_share_percent__range=(0, 100)),
            ),
            models.CheckConstraint(
                name="unit_light_commercial_no_refrigeration",
                condition=~Q(light_commercial="yes")
                | (
                    Q(kind__in=["stationary", "other"], exactly__in=["", "small"])
                    & (Q(process_share_percent__isnull=True) | Q(process_share_percent__lt=PROCESS_SHARE))
                ),
            ),
            models.CheckConstraint(
                name="unit_retired_after_installed",
                condition=Q(retired_on__isnull=True)
                | Q(installed_on__isnull=True)
                | Q(retired_on__gte=F("installed_on")),
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
    def entered_as(self) -> str:
        """The kind as it was entered, in the rulebooks' words, e.g. `vehicle` or `vehicle/heavy`."""
        return f"{self.kind}/{self.exactly}" if self.exactly else self.kind

    @property
    def equipment(self) -> str:
        """The kind as rules are asked for it: as it was entered, unless what it serves makes it another."""
        return "stationary/process" if self.mostly_process else self.entered_as

    @property
    def is_car(self) -> bool:
        """Whether it is the usual vehicle, of which no rule asks leak checks or leak rates."""
        return self.entered_as == UnitKind.VEHICLE

    @property
    def mostly_process(self) -> bool:
        """Whether so much of its capacity serves an industrial process that it counts as one that serves no other."""
        return (
            self.kind == UnitKind.STATIONARY
            and self.process_share_percent is not None
            and self.process_share_percent >= PROCESS_SHARE
        )

    @property
    def may_be_light_commercial(self) -> bool:
        """Whether it can be in that subsector at all: stationary A/C or a heat pump, or nobody knows what it is. A
        chiller is not (89 FR 82717, preamble, as quoted elsewhere: to be confirmed)."""
        return (
            self.kind not in (UnitKind.VEHICLE, UnitKind.TRANSPORT)
            and self.exactly not in ("refrigeration", "process")
            and not self.mostly_process
            and self.use in AIR_CONDITIONING
        )

    @property
    def of_rules(self) -> bool:
        """Whether there is anything to say of it that only rules ask."""
        said = (self.use, self.designed_for, self.light_commercial, self.open_drive, self.bound, self.installed_on)
        marks = (self.sealed, self.dwelling, self.leak_detection, self.process_shutdown, self.military)
        share = self.process_share_percent is not None
        return self.may_be_light_commercial or share or self.below_minus_50 or any(said) or any(marks)

    @property
    def equipment_said(self) -> str:
        return EQUIPMENT[self.equipment] if "/" in self.equipment else self.get_kind_display()

    @property
    def use_said(self) -> str:
        return USES.get(self.use, self.use)

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

    def full_charge_on(self, day: dt.date) -> tuple[int, str] | None:
        """The full charge in mg as it was known on a day, and how it was found: one of FullCharge.HOW, or `label`.
        None: neither was it entered nor does the label say a charge. For many units: `queries.full_charges`."""
        found = self.full_charges.filter(from_day__lte=day).order_by("-from_day", "-id").first()
        return (found.mg, found.how) if found else self.label_charge

    @property
    def label_charge(self) -> tuple[int, str] | None:
        """The full charge where nobody entered one: what the label says, called `label`."""
        return None if self.charge_target_mg is None else (self.charge_target_mg, "label")

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


class FullCharge(models.Model):
    """What a unit holds when it is full, from a day on, in mg, and how that was found. A revision is another row; of
    two of one day the one that was entered last counts, and none is ever changed.

    The four ways: 40 CFR 82.152, "full charge"; with an established range the full charge is its midpoint.
    """

    HOW = [
        ("maker", "the maker's figure"),
        ("calculated", "calculated from component sizes, density of the refrigerant and piping"),
        ("measured", "measured, as added to or taken out of the unit"),
        ("range", "the midpoint of an established range"),
    ]

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="full_charges")
    from_day = models.DateField("from")
    mg = MassField("full charge")
    how = models.CharField("found by", max_length=10, choices=HOW)
    range_least_mg = MassField("least of the range", null=True, blank=True)
    range_most_mg = MassField("most of the range", null=True, blank=True)
    reason = models.TextField("why it was revised", blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with

    class Meta:
        ordering = ["unit", "from_day", "id"]
        constraints = [
            models.CheckConstraint(
                name="full_charge_how_known", condition=Q(how__in=["maker", "calculated", "measured", "range"])
            ),
            models.CheckConstraint(name="full_charge_positive", condition=Q(mg__gt=0)),
            models.CheckConstraint(
                name="full_charge_within_its_range",
                condition=Q(how="range", range_least_mg__lte=F("mg"), range_most_mg__gte=F("mg"))
                | (~Q(how="range") & Q(range_least_mg__isnull=True, range_most_mg__isnull=True)),
            ),
        ]

    def __str__(self) -> str:
        return f"full charge from {self.from_day}"
