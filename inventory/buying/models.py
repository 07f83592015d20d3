"""What suppliers billed, and what they gave back."""

import uuid

from django.db import models
from django.db.models import Q

from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from inventory.reference.kinds import choices


def counting(prefix: str = "") -> Q:
    """Whether an invoice counts: nothing took its place, and it was not declared void."""
    return Q(**{f"{prefix}revised_by": None, f"{prefix}void_on": None})


class Invoice(models.Model):
    """An invoice or a credit note, as its paper says it; amounts in minor units of the shop's currency. It moves
    nothing. A wrong one gets a revision, with the reason; both stay. sure_of: what was asked about it and is so on the
    paper."""

    KINDS = [("invoice", "invoice"), ("credit", "credit note")]
    SURE_OF = {
        "number": "has the number of another year's",
        "total": "differs from its lines",
        "deposits": "credits more deposits than cylinders went back",
        "credit": "credits more than its invoice is of",
    }

    supplier = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="invoices")
    kind = models.CharField(max_length=7, choices=KINDS, default="invoice")
    number = models.CharField(max_length=60)
    day = models.DateField()
    shipping_minor = models.BigIntegerField(default=0)
    tax_minor = models.BigIntegerField(default=0)
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, help_text="as the paper says it")
    total_minor = models.BigIntegerField()
    sure_of = models.JSONField(default=list, help_text="of SURE_OF")
    shipment = models.ForeignKey(
        Voucher, on_delete=models.PROTECT, null=True, related_name="credits", help_text="that a credit note is for"
    )
    credits = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, related_name="credit_notes", help_text="that a credit note is for"
    )
    note = models.CharField(max_length=2000, blank=True)
    revises = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="revised_by")
    why = models.CharField(max_length=300, blank=True, help_text="this revision was made")
    void_on = models.DateField(null=True)
    void_by = models.CharField(max_length=150, blank=True)
    void_why = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4, unique=True)

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["invoice", "credit"]), name="invoice_kind_known"),
            models.CheckConstraint(condition=~Q(number=""), name="invoice_number_given"),
            models.CheckConstraint(
                condition=Q(shipping_minor__gte=0, tax_minor__gte=0, total_minor__gte=0),
                name="invoice_amounts_not_below_zero",
            ),
        ]
        indexes = [models.Index(fields=["supplier", "-day"], name="invoice_of_supplier")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"

    @property
    def said_sure(self) -> str:
        """What was asked about it and is so, in words."""
        return ", ".join(self.SURE_OF[name] for name in self.sure_of)

    @property
    def sign(self) -> int:
        return 1 if self.kind == "invoice" else -1


class InvoiceLine(models.Model):
    """What is billed. codes: of the containers that it is for, so far as they came; count may be more. called: what it
    is, where it is something else. price: of each."""

    ABOUT = [("goods", "goods"), ("deposit", "deposit"), ("other", "something else")]

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="lines")
    place = models.PositiveSmallIntegerField(help_text="on its paper, from 1")
    about = models.CharField(max_length=7, choices=ABOUT, default="goods")
    called = models.CharField(max_length=200, blank=True)
    kind = models.CharField(max_length=12, choices=choices(), blank=True)
    substance = models.CharField(max_length=40, blank=True)
    is_oil = models.BooleanField(default=False)
    grade = models.CharField(max_length=12, blank=True)
    net = models.BigIntegerField(default=0, help_text="mg or uL each")
    count = models.PositiveSmallIntegerField()
    price_minor = models.BigIntegerField()
    codes = models.JSONField(default=list)

    class Meta:
        ordering = ["invoice", "place"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "place"], name="invoice_line_once"),
            models.CheckConstraint(condition=Q(count__gte=1, price_minor__gte=0), name="invoice_line_of_something"),
        ]

    def __str__(self) -> str:
        return f"{self.invoice_id}/{self.place}"

    @property
    def amount_minor(self) -> int:
        return self.count * self.price_minor
