"""What happened with a supplier in a time, and what stood open at its end."""

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.buying.billing import BACK, Group, Missing, by_delivery, deliveries_by, goods_billed, not_come, without
from inventory.buying.deposits import Account, accounts
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
    return statements([supplier], first, last)[0]


def statements(suppliers: Iterable[Party], first: dt.date, last: dt.date) -> list[Statement]:
    """Of each supplier one, in their order: six questions, whatever the number of suppliers and papers."""
    suppliers = list(suppliers)
    came = deliveries_by(suppliers, min(first, last - 2 * BACK), last)
    goods, deposits = goods_billed(suppliers, last), accounts(suppliers, first, last)
    sent, invoices = _sent(first, last), defaultdict(list)
    for one in Invoice.objects.filter(counting(), supplier__in=suppliers, day__gte=first, day__lte=last):
        amount = one.sign * one.total_minor
        invoices[one.supplier_id].append(Entry(one.day, one.get_kind_display(), one.number, amount, invoice=one.pk))
    found = []
    for supplier in suppliers:
        groups, lines = came.get(supplier.code, []), goods.get(supplier.pk, [])
        entries = [*_deliveries(groups, first), *sent[supplier.code], *invoices[supplier.pk]]
        entries.sort(key=lambda one: (one.day, one.invoice or 0, one.voucher or 0))
        done = {code for line in lines for code in line.codes}
        open_ = without([group for group in groups if group.voucher.day >= last - BACK], done)
        here = {code for group in groups if group.voucher.day >= last - 2 * BACK for code in group.codes}
        missing = not_come(lines, here, last)
        found.append(Statement(supplier, first, last, entries, deposits[supplier.pk], open_, missing))
    return found


def _sent(first: dt.date, last: dt.date) -> dict[str, list[Entry]]:
    """What was sent in these days, by the code of whom to."""
    found = defaultdict(list)
    for one in Voucher.objects.standing(last).filter(kind="shipment", day__gte=first, day__lte=last):
        to = json.loads(one.detail).get("party")
        found[to].append(Entry(one.day, "sent back", one.document, None, voucher=one.number))
    return found


def _deliveries(groups: list[Group], first: dt.date) -> list[Entry]:
    """Each with what it comes to by its own prices; None where one of them is not known."""
    found = []
    for voucher, its in by_delivery(groups).items():
        if voucher.day < first:
            continue
        values = [group.value_minor for group in its]
        worth = None if None in values else sum(values)
        found.append(Entry(voucher.day, "delivery", voucher.document, worth, voucher=voucher.number))
    return found
