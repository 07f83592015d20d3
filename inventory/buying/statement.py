"""What happened with a supplier in a time, and what stood open at its end."""

import datetime as dt
from dataclasses import dataclass

from inventory.buying.billing import Group, Missing, by_delivery, deliveries_of, groups_of, not_come, unbilled
from inventory.buying.deposits import Account, account
from inventory.buying.models import Invoice, counting
from inventory.ledger.models import Voucher
from inventory.parties.models import Party


@dataclass(frozen=True)
class Entry:
    """A day's paper. amount: in minor units, below zero where it is credited; None: it has none. voucher, invoice: what
    it is about, by number and key."""

    day: dt.date
    what: str
    document: str
    amount: int | None
    voucher: int | None = None
    invoice: int | None = None


@dataclass(frozen=True)
class Statement:
    """Of one supplier, from the first day to the last. unbilled, missing: at the end of the last day."""

    supplier: Party
    first: dt.date
    last: dt.date
    entries: list[Entry]
    deposits: Account
    unbilled: list[Group]
    missing: list[Missing]

    @property
    def billed(self) -> int:
        """Invoices less credit notes of these days."""
        return sum(one.amount for one in self.entries if one.invoice)

    @property
    def unbilled_minor(self) -> int:
        """Of what is not billed yet, what has a price."""
        return sum(one.value_minor or 0 for one in self.unbilled)

    @property
    def unpriced(self) -> int:
        """How many containers that are not billed yet have no price."""
        return sum(len(one.codes) for one in self.unbilled if one.price_minor is None)

    @property
    def missing_minor(self) -> int:
        return sum(one.amount_minor for one in self.missing)


def statement(supplier: Party, first: dt.date, last: dt.date) -> Statement:
    """Some eight questions, whatever the number of papers."""
    entries = _deliveries(supplier, first, last)
    sent = Voucher.objects.standing(last).filter(kind="shipment", day__gte=first, day__lte=last)
    for one in sent.filter(detail__contains=f'"{supplier.code}"'):
        entries.append(Entry(one.day, "sent back", one.document, None, voucher=one.number))
    invoices = Invoice.objects.filter(counting(), supplier=supplier, day__gte=first, day__lte=last)
    for one in invoices:
        amount = one.sign * one.total_minor
        entries.append(Entry(one.day, one.get_kind_display(), one.number, amount, invoice=one.pk))
    entries.sort(key=lambda one: (one.day, one.invoice or 0, one.voucher or 0))
    deposits = account(supplier, first, last)
    return Statement(supplier, first, last, entries, deposits, unbilled(supplier, last), not_come(supplier, last))


def _deliveries(supplier: Party, first: dt.date, last: dt.date) -> list[Entry]:
    """Each with what it comes to by its own prices; None where one of them is not known."""
    found = []
    for voucher, groups in by_delivery(groups_of(deliveries_of(supplier, first, last))).items():
        values = [group.value_minor for group in groups]
        worth = None if None in values else sum(values)
        found.append(Entry(voucher.day, "delivery", voucher.document, worth, voucher=voucher.number))
    return found
