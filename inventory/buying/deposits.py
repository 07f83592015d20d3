"""Deposits on cylinders: what a supplier holds of the shop's money, charged as cylinders come and given back as they
go."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Q, Sum

from inventory.buying.models import InvoiceLine, counting
from inventory.containers.models import Container
from inventory.parties.models import Party


@dataclass(frozen=True)
class Account:
    """In minor units. opening, closing: what the supplier owes for cylinders that are out, before the first day and
    after the last one. charged, back: on cylinders that came and that went back in these days; cylinders: how many are
    out at the end. billed, credited: what its invoices and credit notes of these days say."""

    opening: int
    charged: int
    back: int
    cylinders: int
    billed: int
    credited: int

    @property
    def closing(self) -> int:
        return self.opening + self.charged - self.back


def account(party: Party, first: dt.date, last: dt.date) -> Account:
    """A supplier's account of deposits for the days from `first` to `last`: two questions, summed by the database."""
    of_party = Q(arrival__kind="receipt", arrival__detail__contains=f'"{party.code}"')
    came, went = {"arrived_on__lte": last}, {"deposit_back_on__lte": last}
    held = Container.objects.filter(of_party, void=False, deposit_minor__gt=0, **came)
    found = held.aggregate(
        before=Sum("deposit_minor", filter=Q(arrived_on__lt=first)),
        gone=Sum("deposit_minor", filter=Q(deposit_back_on__lt=first)),
        charged=Sum("deposit_minor", filter=Q(arrived_on__gte=first)),
        back=Sum("deposit_minor", filter=Q(deposit_back_on__gte=first, **went)),
        out=Count("id", filter=Q(deposit_back_on=None) | Q(deposit_back_on__gt=last)),
    )
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__supplier=party, about="deposit")
    amounts = {"invoice": 0, "credit": 0}
    days = {"invoice__day__gte": first, "invoice__day__lte": last}
    for kind, count, price in lines.filter(**days).values_list("invoice__kind", "count", "price_minor"):
        amounts[kind] += count * price
    opening = (found["before"] or 0) - (found["gone"] or 0)
    charged, back = found["charged"] or 0, found["back"] or 0
    return Account(opening, charged, back, found["out"], amounts["invoice"], amounts["credit"])
