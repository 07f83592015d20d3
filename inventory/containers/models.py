"""Containers, where they stand, the scales, and every weighing."""

import uuid

from django.db import models
from django.db.models import F, Q

from inventory.containers.safe_fill import Cylinder
from inventory.containers.states import GRADES, ContainerState
from inventory.ledger.models import Account, Substance, Voucher
from inventory.measures.balance_uncertainty import SPAN_PPM
from inventory.measures.fields import MassField
from inventory.reference.gas_rules import LABELS, is_labelled
from inventory.reference.kinds import KINDS, Kind, choices

GRADE_CHOICES = [(grade, grade) for grade in GRADES]


class Location(models.Model):
    """A store, a cage, a van. Its name is part of the names of accounts and does not change. keeper: the username of
    whose place it is, such as whoever drives that van; blank: nobody's."""

    name = models.CharField(max_length=100, unique=True)
    closed = models.BooleanField(default=False)
    keeper = models.CharField(max_length=150, blank=True, db_index=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


# How a scale's lines come into a page: through a serial port (or a USB plug that is one), a Bluetooth service that
# sends the same lines, the Weight Scale Service of the Bluetooth SIG, or typed as by a keyboard.
CONNECTS = [
    ("serial", "by a serial or USB cable"),
    ("bluetooth", "by Bluetooth, as lines of text"),
    ("standard", "by Bluetooth, as the standard Weight Scale Service"),
    ("keyboard", "it types like a keyboard"),
]
PARITIES = ("none", "even", "odd")


class Scale(models.Model):
    """A weighing instrument. readability: its smallest step d, in mg, taken as its verification interval e."""

    code = models.CharField(max_length=40, unique=True)
    capacity_mg = MassField(null=True, blank=True)
    readability_mg = MassField()
    checked_until = models.DateField(null=True, blank=True)
    span_ppm = models.PositiveIntegerField(
        "limit of its span error, millionths", default=SPAN_PPM, help_text="500 is 0.05 %; the maker's paper names it"
    )
    usual = models.BooleanField(default=False, help_text="the scale of a weighing that names none")
    retired = models.BooleanField(default=False)

    connects = models.CharField("how it sends", max_length=10, choices=CONNECTS, blank=True)
    baud = models.PositiveIntegerField("baud of its serial port", default=9600)
    data_bits = models.PositiveSmallIntegerField(default=8)
    parity = models.CharField(max_length=4, choices=[(one, one) for one in PARITIES], default="none")
    stop_bits = models.PositiveSmallIntegerField(default=1)
    service = models.CharField("Bluetooth service", max_length=36, blank=True)
    characteristic = models.CharField("Bluetooth characteristic", max_length=36, blank=True)
    # How it writes a weight (inventory/scales/strings.py), confirmed once against its display; null: not yet.
    form = models.PositiveSmallIntegerField("form of its lines", null=True)
    form_unit = models.CharField("unit, where its lines have none", max_length=2, blank=True)
    form_expects = models.CharField("its weights are", max_length=5, blank=True)
    form_line = models.CharField("line by which its form was confirmed", max_length=1000, blank=True)
    form_figure = models.CharField("what its display showed", max_length=40, blank=True)
    form_by = models.CharField("form confirmed by", max_length=150, blank=True)
    form_at = models.DateTimeField("form confirmed at", null=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(readability_mg__gt=0), name="scale_readability_above_zero"),
            models.UniqueConstraint(fields=["usual"], condition=Q(usual=True), name="scale_one_usual"),
        ]

    def __str__(self) -> str:
        return self.code


class Container(models.Model):
    """One can, cylinder, tank or bottle. How it stands now; the vouchers say how it came to that."""

    code = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=12, choices=choices())
    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, null=True, related_name="containers")
    grade = models.CharField(max_length=12, blank=True)
    location = models.ForeignKey(Location, on_delete=models.PROTECT, null=True, related_name="containers")
    account = models.OneToOneField(
        Account,
        on_delete=models.PROTECT,
        null=True,
        related_name="container",
        help_text="where its content is now",
    )
    tare_mg = MassField(null=True)
    water_capacity_mg = MassField(null=True)
    test_pressure_kpa = models.PositiveIntegerField(null=True, help_text="as stamped on it, above that of the air")
    stamped_most_mg = MassField(null=True, help_text="the most that may be in it, as stamped or labelled on it")
    retest_due = models.DateField(null=True)
    nominal = models.BigIntegerField(default=0, help_text="what it came with, mg or uL")
    most = models.BigIntegerField(default=0, help_text="the most it was recorded to hold so far, mg or uL")
    price_minor = models.BigIntegerField(null=True, help_text="what it cost, in minor units of the shop's currency")
    deposit_minor = models.BigIntegerField(null=True, help_text="deposit paid for it, in minor units of the currency")
    deposit_back_on = models.DateField(null=True, help_text="the day the deposit was given back")
    label_says = models.CharField(max_length=24, blank=True, choices=[(said, said) for said in LABELS])
    supplier_number = models.CharField(
        max_length=60, blank=True, help_text="by which its supplier knows it, as marked on it"
    )
    batch = models.CharField(max_length=60, blank=True, help_text="of reclaimed gas, as the label names it")
    facility = models.CharField(max_length=200, blank=True, help_text="that reclaimed it: name and address")
    label_statement = models.BooleanField(default=False, help_text="the label states the most virgin gas in it")
    arrival = models.ForeignKey(
        Voucher, on_delete=models.PROTECT, null=True, related_name="arrivals", help_text="opening or receipt"
    )
    arrived_on = models.DateField()
    opened_on = models.DateField(null=True, help_text="the first day something was taken out of it")
    retired_on = models.DateField(null=True)
    void = models.BooleanField(default=False, help_text="its arrival was reversed; the code may be given again")
    kept_for = models.CharField(max_length=40, blank=True, help_text="the customer whose gas it holds, by code")
    unknown = models.BooleanField(default=False, help_text="found, and held until somebody says what is in it")
    last_scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="+")
    last_readability_mg = models.BigIntegerField(null=True, help_text="of that scale, when it was weighed")
    last_weighed_on = models.DateField(null=True)
    last_gross = models.BigIntegerField(null=True, help_text="mg; for oil uL")
    last_voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, null=True, related_name="+")
    last_position = models.CharField(max_length=200, blank=True, help_text="of the last act of its story")

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=list(KINDS)), name="container_kind_known"),
            models.CheckConstraint(condition=Q(grade__in=["", *GRADES]), name="container_grade_known"),
            models.CheckConstraint(condition=Q(label_says__in=["", *LABELS]), name="container_label_known"),
            models.CheckConstraint(
                condition=Q(tare_mg__isnull=True) | Q(tare_mg__gte=0), name="container_tare_not_below_zero"
            ),
            models.CheckConstraint(
                condition=Q(retired_on__isnull=True) | Q(retired_on__gte=F("arrived_on")),
                name="container_retired_after_arrival",
            ),
        ]
        indexes = [
            models.Index(fields=["substance", "retired_on", "-opened_on", "code"], name="container_in_stock"),
            models.Index(fields=["location", "retired_on", "code"], name="container_at_place"),
            models.Index(fields=["kind", "retired_on", "code"], name="container_of_kind"),
            models.Index(fields=["code"], name="container_here", condition=Q(retired_on=None, void=False)),
            models.Index(fields=["kept_for", "code"], name="container_kept", condition=~Q(kept_for="")),
            models.Index(fields=["arrived_on", "code"], name="container_unknown", condition=Q(unknown=True)),
            models.Index(
                fields=["supplier_number", "code"], name="container_of_number", condition=~Q(supplier_number="")
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def traits(self) -> Kind:
        return KINDS[self.kind]

    @property
    def is_oil(self) -> bool:
        return self.traits.is_oil

    @property
    def recyclable(self) -> bool:
        """Whether a machine's run can be entered for what it holds."""
        return self.grade == "recovered"

    @property
    def cylinder(self) -> Cylinder:
        """What is stamped on it."""
        return Cylinder(self.water_capacity_mg, self.test_pressure_kpa, self.stamped_most_mg)

    @property
    def labelled(self) -> bool:
        """Whether its label says of its grade what one must say of it."""
        return self.says_of(self.grade)

    def says_of(self, grade: str) -> bool:
        """Whether its label says what one must say of content of that grade."""
        return is_labelled(grade, self.label_says, self.batch, self.facility)

    @property
    def content(self) -> int:
        """What the book holds in it, mg or uL. Needs `account` loaded."""
        return self.account.balance if self.account else 0

    @property
    def single_use(self) -> bool:
        return self.traits.single_use

    @property
    def state(self) -> str:
        """One word for people. Needs `account` loaded."""
        if self.void:
            return "taken back"
        if self.retired_on:
            return "retired"
        if self.unknown:
            return "held until known"
        if not self.content:
            return "empty"
        return "open" if self.opened_on else "sealed" if self.traits.sealed_new else "in use"

    @property
    def held(self) -> ContainerState:
        """As the rules see it. Needs substance, location, account and last_scale loaded."""
        return ContainerState(
            code=self.code,
            kind=self.kind,
            substance=self.substance.code if self.substance else "",
            is_oil=self.is_oil,
            grade=self.grade,
            location=self.location.name if self.location else "",
            tare=self.tare_mg,
            balance=self.content,
            readability=self.last_readability_mg,
            void=self.void,
            nominal=self.nominal,
            most=self.most,
            arrival=self.arrival_id or 0,
            arrived_on=self.arrived_on,
            opened_on=self.opened_on,
            retired_on=self.retired_on,
            last_scale=self.last_scale.code if self.last_scale else "",
            last_weighed_on=self.last_weighed_on,
            last_gross=self.last_gross,
            last=self.last_position,
            owner=self.kept_for,
            unknown=self.unknown,
        )


class Weighing(models.Model):
    """A gross weight as it was read, and what it said of the book. Written once, with its voucher.

    gross, book, net, difference, tolerance: mg; for oil uL. Repeats what the voucher's detail holds under the digest.
    """

    voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, related_name="weighings", db_index=False)
    line = models.PositiveSmallIntegerField()
    day = models.DateField()
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="weighings", db_index=False)
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, related_name="weighings")
    role = models.CharField(max_length=8)
    gross = models.BigIntegerField()
    tare = models.BigIntegerField()
    book = models.BigIntegerField()
    net = models.BigIntegerField()
    difference = models.BigIntegerField()
    tolerance = models.BigIntegerField()
    outcome = models.CharField(max_length=20)
    position = models.CharField(max_length=200, help_text="of its act among all, as text that sorts so")
    restates = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        related_name="restated_by",
        help_text="the weighing that this one takes the place of: the same reading, beside another book",
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["voucher", "line"], name="weighing_line_once")]
        indexes = [
            models.Index(fields=["container", "position", "line"], name="weighing_of_container"),
            models.Index(fields=["day", "voucher", "line"], name="weighing_by_day"),
            models.Index(fields=["outcome", "voucher"], name="weighing_of_outcome"),
        ]

    def __str__(self) -> str:
        return f"weighing {self.voucher_id}/{self.line}"


class ContainerEntry(models.Model):
    """What one voucher that stands says of one container: an index of the acts that its story is told from. It repeats
    what the voucher's detail holds under the digest.

    position: of the first op, as text that sorts as the order goes. ops: JSON, [index, line, verb, moment, inputs ...]
    each, in their order.
    """

    voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, related_name="entries", db_index=False)
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="entries", db_index=False)
    on = models.DateField()
    position = models.CharField(max_length=200)
    ops = models.TextField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["voucher", "container"], name="entry_of_voucher_once")]
        indexes = [models.Index(fields=["container", "position"], name="entry_of_container")]

    def __str__(self) -> str:
        return f"{self.voucher_id}: {self.container_id}"


class ContainerCheck(models.Model):
    """A container that was checked for leaks: who, when, whether it leaked. Never changed. key: of the form, which may
    be about many containers."""

    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="leak_checks")
    day = models.DateField()
    leaks = models.BooleanField("it leaks")
    note = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4)

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [models.UniqueConstraint(fields=["key", "container"], name="container_check_once")]
        indexes = [models.Index(fields=["container", "-day", "-id"], name="container_check_latest")]

    def __str__(self) -> str:
        return f"{self.container} on {self.day}: {'leaks' if self.leaks else 'no leak'}"
