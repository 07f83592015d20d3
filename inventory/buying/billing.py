"""Which containers of a supplier's deliveries are billed, and which are not yet."""

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from django.db.models import QuerySet

from inventory.buying.models import Invoice, InvoiceLine, counting
from inventory.containers.arrivals import arrivals_of
from inventory.containers.models import Container
from inventory.ledger.models import Voucher, stands
from inventory.measures.quantity import show
from inventory.orders.matching import Sort
from inventory.parties.models import Party
from inventory.reference.kinds import KINDS

BACK = dt.timedelta(days=400)  # how far deliveries that are not billed are looked for


@dataclass
class Group:
    """Equal containers of one delivery. codes: those that the question is about; price, deposit: as the delivery or
    its containers say them, None where they do not."""

    voucher: Voucher
    sort: Sort
    is_oil: bool
    codes: list[str] = field(default_factory=list)
    price_minor: int | None = None
    deposit_minor: int | None = None

    @property
    def key(self) -> str:
        return "|".join(map(str, (self.voucher.number, *self.sort)))

    @property
    def value_minor(self) -> int | None:
        return None if self.price_minor is None else len(self.codes) * self.price_minor

    @property
    def words(self) -> str:
        """What each is, e.g. `can R-134a virgin 340 g`."""
        return sort_said(self.sort, self.is_oil)


def sort_said(sort: Sort, is_oil: bool) -> str:
    """In words, in the units of papers: g, or mL of oil."""
    kind = KINDS[sort.kind].label.partition(" (")[0] if sort.kind in KINDS else sort.kind
    net = show(sort.net, "mL" if is_oil else "g") if sort.net else "empty"
    return " ".join(part for part in (kind, sort.substance, sort.grade, net) if part)


def deliveries_of(party: Party, first: dt.date | None, last: dt.date) -> QuerySet[Voucher]:
    """A supplier's deliveries of a time that stood at its end, the oldest first."""
    found = Voucher.objects.filter(stands(through=last), kind="receipt", day__lte=last)
    found = found.filter(day__gte=first) if first else found
    return found.filter(detail__contains=f'"{party.code}"').order_by("day", "number")


def deliveries_by(suppliers: Sequence[Party], first: dt.date, last: dt.date) -> dict[str, list[Group]]:
    """The same of several suppliers, as groups of containers by the supplier's code: one question."""
    codes = {party.code for party in suppliers}
    found = Voucher.objects.filter(stands(through=last), kind="receipt", day__gte=first, day__lte=last)
    if len(codes) == 1:
        found = found.filter(detail__contains=f'"{suppliers[0].code}"')
    of: dict[str, list[Voucher]] = defaultdict(list)
    for voucher in found.order_by("day", "number"):
        code = json.loads(voucher.detail).get("supplier")
        if code in codes:
            of[code].append(voucher)
    return {code: groups_of(vouchers) for code, vouchers in of.items()}


def groups_of(vouchers: QuerySet[Voucher] | list[Voucher]) -> list[Group]:
    """The equal containers of each delivery."""
    found: dict[tuple, Group] = {}
    for voucher in vouchers:
        for one in arrivals_of(json.loads(voucher.detail)):
            sort = Sort(one["kind"], one["substance"], one["grade"], one["quantity"])
            money = (one.get("price_minor"), one.get("deposit_minor"))
            group = found.setdefault((voucher.number, sort, *money), Group(voucher, sort, bool(one["is_oil"])))
            group.codes.append(one["container"])
            group.price_minor, group.deposit_minor = money
    return list(found.values())


def billed(party: Party, about: str, last: dt.date | None = None, but: Invoice | None = None) -> set[str]:
    """The codes of a supplier's containers that invoices of days up to `last` bill. but: an invoice that does not
    count."""
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__supplier=party, invoice__kind="invoice")
    lines = lines.filter(about=about).exclude(invoice=but)
    lines = lines.filter(invoice__day__lte=last) if last else lines
    return {code for codes in lines.values_list("codes", flat=True) for code in codes}


def unbilled(party: Party, last: dt.date, but: Invoice | None = None, about: str = "goods") -> list[Group]:
    """What came and is not billed at the end of a day: groups of deliveries of some 13 months."""
    return without(groups_of(deliveries_of(party, last - BACK, last)), billed(party, about, last, but), about)


def without(groups: Sequence[Group], done: set[str], about: str = "goods") -> list[Group]:
    """Groups less the containers that are billed; those of which nothing is left are left out."""
    left = [replace(one, codes=[code for code in one.codes if code not in done]) for one in groups]
    return [one for one in left if one.codes and (about == "goods" or one.deposit_minor)]


@dataclass(frozen=True)
class Missing:
    """Of a line of an invoice, so many containers that did not come."""

    line: InvoiceLine
    count: int

    @property
    def amount_minor(self) -> int:
        return self.count * self.line.price_minor


def missing_of(lines: Sequence[InvoiceLine]) -> list[Missing]:
    """Of lines of invoices what did not come as things stand now: more than a delivery brought, goods of no delivery,
    or of one that was taken back."""
    codes = {code for line in lines for code in line.codes}
    here = set(Container.objects.filter(code__in=codes, void=False).values_list("code", flat=True))
    found = [Missing(line, line.count - len(here.intersection(line.codes))) for line in lines if line.about == "goods"]
    return [one for one in found if one.count > 0]


def goods_billed(suppliers: Sequence[Party], last: dt.date) -> dict[int, list[InvoiceLine]]:
    """The lines of goods of invoices up to a day, by supplier: one question."""
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__supplier__in=suppliers, invoice__day__lte=last)
    lines = lines.filter(about="goods", invoice__kind="invoice").select_related("invoice")
    found: dict[int, list[InvoiceLine]] = defaultdict(list)
    for line in lines.order_by("invoice__day", "invoice_id", "place"):
        found[line.invoice.supplier_id].append(line)
    return found


def not_come(lines: Sequence[InvoiceLine], here: set[str], last: dt.date) -> list[Missing]:
    """Of lines of some 13 months what did not come by the end of a day: more than a delivery brought, goods of no
    delivery, or of one that was taken back. here: the containers that came."""
    late = [line for line in lines if line.invoice.day >= last - BACK]
    found = [Missing(line, line.count - len(here.intersection(line.codes))) for line in late]
    return [one for one in found if one.count > 0]


def by_delivery(groups: list[Group]) -> dict[Voucher, list[Group]]:
    found: dict[Voucher, list[Group]] = defaultdict(list)
    for group in groups:
        found[group.voucher].append(group)
    return found
