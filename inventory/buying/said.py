"""What the paper of an invoice or a credit note says, as its form hands it over."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.buying.amounts import difference
from inventory.buying.models import Invoice
from inventory.orders.matching import Sort
from inventory.parties.models import Party


@dataclass(frozen=True)
class Billed:
    """A line. about: of InvoiceLine.ABOUT. sort: of goods, where it is known; codes: containers that came, and that
    it may be for. called: what it is, of something else. price_minor: of each."""

    about: str
    count: int
    price_minor: int
    sort: Sort | None = None
    is_oil: bool = False
    codes: tuple[str, ...] = ()
    called: str = ""


@dataclass(frozen=True)
class InvoiceSaid:
    """What a paper says; amounts in minor units. shipment: the number of the voucher of what was sent back, credits:
    the invoice it is for, both of a credit note. sure: that what is asked about it (`questions.py`) is so."""

    supplier: Party
    kind: str
    number: str
    day: dt.date
    lines: Sequence[Billed]
    total_minor: int
    shipping_minor: int = 0
    tax_minor: int = 0
    tax_percent: Decimal | None = None
    shipment: int | None = None
    credits: Invoice | None = None
    note: str = ""
    sure: bool = False

    @property
    def off(self) -> int:
        """By how much its total differs from what its lines, shipping and tax add up to."""
        lines = ((line.count, line.price_minor) for line in self.lines)
        return difference(lines, (self.shipping_minor, self.tax_minor), self.total_minor)
