"""What was ordered of suppliers, and which deliveries were for it."""

import uuid

from django.db import models
from django.db.models import Q

from inventory.codes.models import Coded
from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from inventory.reference.kinds import choices


class Order(Coded):
    """An order to a supplier. number: as its paper calls it. It moves nothing; a line of it is given up, never
    changed."""

    PREFIX = "O"

    supplier = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="orders")
    number = models.CharField(max_length=60, blank=True)
    day = models.DateField()
    sent_on = models.DateField(null=True)
    note = models.CharField(max_length=2000, blank=True)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4, unique=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(sent_on=None) | Q(sent_on__gte=models.F("day")), name="order_sent_after_it_was_made"
            )
        ]
        indexes = [models.Index(fields=["supplier", "-day"], name="order_of_supplier")]

    def __str__(self) -> str:
        return self.called

    @property
    def called(self) -> str:
        """The number on its paper, else its code."""
        return self.number or self.code


class OrderLine(models.Model):
    """So many equal containers that were ordered. net: mg or uL each; price: of each, in minor units."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    place = models.PositiveSmallIntegerField(help_text="in its order, from 1")
    kind = models.CharField(max_length=12, choices=choices())
    substance = models.CharField(max_length=40, blank=True)
    is_oil = models.BooleanField(default=False)
    grade = models.CharField(max_length=12, blank=True)
    net = models.BigIntegerField(default=0)
    count = models.PositiveSmallIntegerField()
    price_minor = models.BigIntegerField(null=True)
    expected_on = models.DateField(null=True)
    cancelled_on = models.DateField(null=True)
    cancelled_by = models.CharField(max_length=150, blank=True)
    cancelled_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["order", "place"]
        constraints = [
            models.UniqueConstraint(fields=["order", "place"], name="order_line_once"),
            models.CheckConstraint(condition=Q(count__gte=1) & Q(net__gte=0), name="order_line_of_something"),
            models.CheckConstraint(condition=~Q(price_minor__lt=0), name="order_price_not_below_zero"),
        ]
        indexes = [
            models.Index(fields=["expected_on", "order"], name="order_line_expected", condition=Q(cancelled_on=None))
        ]

    def __str__(self) -> str:
        return f"{self.order_id}/{self.place}"


class OrderDelivery(models.Model):
    """A delivery that was for an order. It counts while its voucher stands and nobody said that it was not so; the
    correction of a delivery is named anew."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="deliveries")
    voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, related_name="ordered")
    undone_on = models.DateField(null=True)
    undone_by = models.CharField(max_length=150, blank=True)
    undone_why = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["voucher"], name="delivery_for_one_order", condition=Q(undone_on=None))
        ]

    def __str__(self) -> str:
        return f"{self.order_id}: {self.voucher_id}"
