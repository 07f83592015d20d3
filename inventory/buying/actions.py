"""The verbs of invoices and credit notes: entered, revised, declared void. None of them moves stock, and none is
needed to post a delivery. What an invoice says a container cost becomes its price; its delivery's voucher stays."""

import datetime as dt
import json
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.text import capfirst

from inventory.buying.amounts import difference
from inventory.buying.billing import billed
from inventory.buying.deposits import account
from inventory.buying.models import Invoice, InvoiceLine, counting
from inventory.containers.arrivals import arrivals_of
from inventory.containers.models import Container
from inventory.ledger.actions import stated
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.measures.money import show_money
from inventory.orders.matching import Sort
from inventory.parties.models import Party
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.shop.once import made_by
from inventory.text.clean import clean
from inventory.text.refusal import Refused

FIRST = dt.date.min


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
    """What a paper says; amounts in minor units. sure: that its total differs from its lines was seen. shipment: the
    number of the voucher of what was sent back, of a credit note."""

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
    note: str = ""
    sure: bool = False


@stated
def enter_invoice(
    *, said: InvoiceSaid, by: str, key: uuid.UUID, revises: Invoice | None = None, why: str = ""
) -> Invoice:
    """Keep an invoice or a credit note; the same key keeps it once. revises: the one whose place it takes, why: the
    reason. Raises Refused; where the total differs from the lines once, for `sure` to be said."""
    if (known := made_by(Invoice, key)) is not None:
        return known
    why = clean(why, "why", 300)
    _check(said, revises, why)
    taken = billed(said.supplier, "goods", but=revises)
    invoice = Invoice.objects.create(
        supplier=said.supplier,
        kind=said.kind,
        number=clean(said.number, "number", 60),
        day=said.day,
        shipping_minor=said.shipping_minor,
        tax_minor=said.tax_minor,
        tax_percent=None if said.tax_percent is None else said.tax_percent.quantize(Decimal("0.001")),
        total_minor=said.total_minor,
        difference_seen=bool(_off(said)),
        shipment_id=said.shipment,
        note=clean(said.note, "note", 2000),
        revises=revises,
        why=why,
        by=by,
        at=timezone.now(),
        key=key,
    )
    for place, line in enumerate(said.lines, 1):
        _add(invoice, place, line, taken)
    _follow(one for one in (invoice, revises) if one is not None)
    return invoice


def _check(said: InvoiceSaid, revises: Invoice | None, why: str) -> None:
    if not clean(said.number, "number", 60):
        raise Refused("Write the number on the paper, so that it is not entered twice.", "number")
    if said.day > today():
        raise Refused(f"{said_day(said.day)} has not come yet; write the day on the paper.", "day")
    if not said.lines and not (said.shipping_minor or said.tax_minor):
        raise Refused("Fill in at least one line, or shipping.")
    if revises is not None:
        if not why:
            raise Refused("Say why it is corrected, e.g. that a price was misread.", "why")
        if not Invoice.objects.filter(counting(), pk=revises.pk).exists():  # it is the writer's turn
            raise Refused("This revision counts no more; open the one that took its place.")
    _no_twin(said, revises)
    _of_shipment(said)
    off = _off(said)
    if off and not said.sure:
        currency = Shop.current().currency
        adds, total = (show_money(amount, currency) for amount in (said.total_minor - off, said.total_minor))
        refused = Refused(
            f"The lines, shipping and tax add up to {adds}, and the paper says {total}: a difference of "
            f"{show_money(off, currency)}. Check the lines; if the paper is so, tick the box.",
            "total",
        )
        refused.asks = True
        raise refused
    if not said.sure:
        _deposits_back(said, revises)


def _deposits_back(said: InvoiceSaid, revises: Invoice | None) -> None:
    """Asks about deposits that are credited beyond those of the cylinders that went back, e.g. a second time."""
    now = sum(line.count * line.price_minor for line in said.lines if line.about == "deposit")
    if said.kind != "credit" or not now:
        return
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__supplier=said.supplier, about="deposit")
    lines = lines.filter(invoice__kind="credit").exclude(invoice=revises)
    before = sum(count * price for count, price in lines.values_list("count", "price_minor"))
    whole = account(said.supplier, FIRST, today())
    if not whole.charged or before + now <= whole.back:  # where no deposit is known, there is nothing to compare
        return
    currency = Shop.current().currency
    credited, back = (show_money(amount, currency) for amount in (before + now, whole.back))
    refused = Refused(
        f"With this, {credited} of deposits are credited, and the cylinders that went back had {back}. Is it credited "
        "already, or was what went back not entered? If the paper is so, tick the box.",
        "total",
    )
    refused.asks = True
    raise refused


def _off(said: InvoiceSaid) -> int:
    lines = ((line.count, line.price_minor) for line in said.lines)
    return difference(lines, (said.shipping_minor, said.tax_minor), said.total_minor)


def _no_twin(said: InvoiceSaid, revises: Invoice | None) -> None:
    same = {"supplier": said.supplier, "kind": said.kind, "number": clean(said.number, "number", 60)}
    twin = Invoice.objects.filter(counting(), **same).exclude(pk=revises.pk if revises else None).first()
    if twin is not None:
        raise Refused(
            f"{capfirst(str(twin))} of {said.supplier.name} was entered before, of {said_day(twin.day)}; correct "
            "that one, or write the number that this one has.",
            "number",
        )


def _of_shipment(said: InvoiceSaid) -> None:
    if said.shipment is None:
        return
    if said.kind != "credit":
        raise Refused("What was sent back is credited by a credit note; choose that kind, or name none.", "shipment")
    sent = Voucher.objects.standing().filter(number=said.shipment, kind="shipment").first()
    if sent is None or json.loads(sent.detail).get("party") != said.supplier.code:
        raise Refused(f"Voucher {said.shipment} is no shipment to {said.supplier.name}.", "shipment")


def _add(invoice: Invoice, place: int, line: Billed, taken: set[str]) -> None:
    sort = line.sort or Sort("", "", "", 0)
    free = [code for code in line.codes if line.about != "goods" or code not in taken]
    codes = free[: line.count]
    if line.about == "goods" and invoice.kind == "invoice":
        taken.update(codes)
    InvoiceLine.objects.create(
        invoice=invoice,
        place=place,
        about=line.about,
        called=clean(line.called, "called", 200),
        is_oil=line.is_oil,
        count=line.count,
        price_minor=line.price_minor,
        codes=codes,
        **sort._asdict(),
    )


@stated
def declare_void(*, pk: int, why: str, by: str) -> Invoice:
    """An invoice that never was one, or that nothing takes the place of. Prices are again what they were without it."""
    invoice = Invoice.objects.select_for_update().get(pk=pk)
    why = clean(why, "why", 300)
    if not why:
        raise Refused("Say why it does not count, e.g. that it was another shop's.", "why")
    if not Invoice.objects.filter(counting(), pk=pk).exists():
        raise Refused("It counts no more already.", "why")
    invoice.void_on, invoice.void_by, invoice.void_why = today(), by, why
    invoice.save()
    _follow([invoice])
    return invoice


def _follow(invoices: Iterable[Invoice]) -> None:
    """Let prices and deposits of containers be those of the invoice that counts; where none does, of the delivery."""
    invoices = list(invoices)
    found = {code for invoice in invoices for line in invoice.lines.all() for code in line.codes}
    lines = InvoiceLine.objects.filter(counting("invoice__"), invoice__kind="invoice", about__in=["goods", "deposit"])
    lines = lines.filter(invoice__supplier__in={invoice.supplier_id for invoice in invoices})
    said: dict[tuple[str, str], int] = {}
    for line in lines.order_by("invoice__day", "invoice_id", "place"):
        said |= {(line.about, code): line.price_minor for code in found.intersection(line.codes)}
    rows = Container.objects.filter(code__in=found, void=False).select_related("arrival").order_by("code")
    delivered: dict[int | None, dict[str, dict]] = {None: {}}
    for row in rows:
        if row.arrival_id not in delivered:
            its = arrivals_of(json.loads(row.arrival.detail))
            delivered[row.arrival_id] = {one["container"]: one for one in its}
        before = delivered[row.arrival_id].get(row.code, {})
        price = said.get(("goods", row.code), before.get("price_minor"))
        deposit = said.get(("deposit", row.code), before.get("deposit_minor"))
        if (price, deposit) != (row.price_minor, row.deposit_minor):
            row.price_minor, row.deposit_minor = price, deposit
            row.save(update_fields=["price_minor", "deposit_minor"])
