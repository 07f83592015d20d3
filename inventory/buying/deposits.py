"""Deposits on cylinders: what a supplier holds of the shop's money, charged as cylinders come and given back as they
go."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, F, JSONField, Q, Sum
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast

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
    return accounts([party], first, last)[party.pk]


def accounts(parties: Sequence[Party], first: dt.date, last: dt.date) -> dict[int, Account]:
    """Suppliers' accounts of deposits for the days from `first` to `last`, by supplier: two questions, summed by the
    database, whatever the number of suppliers."""
    came, went = {"arrived_on__lte": last}, {"deposit_back_on__lte": last}
    held = Container.objects.filter(arrival__kind="receipt", void=False, deposit_minor__gt=0, **came)
    if len(parties) == 1:
        held = held.filter(arrival__detail__contains=f'"{parties[0].code}"')
    of = KeyTextTransform("supplier", Cast("arrival__detail", JSONField()))
    sums = (
        held.annotate(supplier=of)
        .order_by()
        .values("supplier")
        .annotate(
            before=Sum("deposit_minor", filter=Q(arrived_on__lt=first)),
            gone=Sum("deposit_minor", filter=Q(deposit_back_on__lt=first)),
            charged=Sum("deposit_minor", filter=Q(arrived_on__gte=first)),
            back=Sum("deposit_minor", filter=Q(deposit_back_on__gte=first, **went)),
            out=Count("id", filter=Q(deposit_back_on=None) | Q(deposit_back_on__gt=last)),
        )
    )
    found = {one["supplier"]: one for one in sums}
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__supplier__in=parties, about="deposit")
    days = {"invoice__day__gte": first, "invoice__day__lte": last}
    paid = lines.filter(**days).order_by().values_list("invoice__supplier", "invoice__kind")
    amounts = {(pk, kind): amount for pk, kind, amount in paid.annotate(amount=Sum(F("count") * F("price_minor")))}
    return {party.pk: _account(found.get(party.code, {}), party.pk, amounts) for party in parties}


def _account(sums: dict, pk: int, amounts: dict[tuple[int, str], int]) -> Account:
    before, gone, charged, back, out = (sums.get(name) or 0 for name in ("before", "gone", "charged", "back", "out"))
    return Account(before - gone, charged, back, out, amounts.get((pk, "invoice"), 0), amounts.get((pk, "credit"), 0))
