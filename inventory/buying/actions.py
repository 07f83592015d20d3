"""The verbs of invoices and credit notes: entered, revised, declared void. None of them moves stock, and none is
needed to post a delivery. What an invoice says a container cost becomes its price; its delivery's voucher stays."""

import json
import uuid
from collections.abc import Iterable
from decimal import Decimal

from django.utils import timezone
from django.utils.text import capfirst

from inventory.buying.billing import billed
from inventory.buying.models import Invoice, InvoiceLine, counting
from inventory.buying.questions import answered, twins
from inventory.buying.said import Billed, InvoiceSaid
from inventory.containers.arrivals import arrivals_of
from inventory.containers.models import Container
from inventory.ledger.actions import stated
from inventory.ledger.models import Voucher
from inventory.measures.days import said_day
from inventory.orders.matching import Sort
from inventory.shop.clock import today
from inventory.shop.once import made_by
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@stated
def enter_invoice(
    *, said: InvoiceSaid, by: str, key: uuid.UUID, revises: Invoice | None = None, why: str = ""
) -> Invoice:
    """Keep an invoice or a credit note; the same key keeps it once. revises: the one whose place it takes, why: the
    reason. Raises Refused; with what is asked about it (`questions.py`) once, for `sure` to be said."""
    if (known := made_by(Invoice, key)) is not None:
        return known
    why = clean(why, "why", 300)
    _check(said, revises, why)
    sure_of = answered(said, revises)
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
        sure_of=sure_of,
        shipment_id=said.shipment,
        credits=said.credits,
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
    _of_invoice(said)


def _no_twin(said: InvoiceSaid, revises: Invoice | None) -> None:
    twin = twins(said, revises).filter(day__year=said.day.year).first()
    if twin is not None:
        raise Refused(
            f"{capfirst(str(twin))} of {said.supplier.name} was entered before, of {said_day(twin.day)}. Within a "
            "year, that of the day on the paper, a number is given once: correct that one, or write the number and the "
            "day that this one has.",
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


def _of_invoice(said: InvoiceSaid) -> None:
    its = said.credits
    if its is None:
        return
    if said.kind != "credit":
        raise Refused("An invoice is credited by a credit note; choose that kind, or name none.", "credits")
    if its.kind != "invoice" or its.supplier_id != said.supplier.pk:
        raise Refused(f"{capfirst(str(its))} is no invoice of {said.supplier.name}.", "credits")


def _add(invoice: Invoice, place: int, line: Billed, taken: set[str]) -> None:
    sort = line.sort or Sort("", "", "", 0)
    bills = line.about == "goods" and invoice.kind == "invoice"  # a container is billed once; credited is what was
    codes = [code for code in line.codes if not bills or code not in taken][: line.count]
    if bills:
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
